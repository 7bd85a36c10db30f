"""Files written into a folder, and nowhere else."""

from __future__ import annotations

import hashlib
import os
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

from wearstats.errors import ReportError

# what no file may be called on some systems, whatever its ending
_RESERVED: Final = frozenset(
    {"CON", "PRN", "AUX", "NUL", *(f"{port}{at}" for port in ("COM", "LPT") for at in range(10))}
)


def is_there(place: Path) -> bool:
    """Whether a file or a link, even one that leads nowhere, has that name already."""
    return os.path.lexists(place)


def write_in(folder: Path, name: str, content: bytes) -> Path:
    """Write a file into a folder, whole or not at all.

    Parameters
    ----------
    folder : pathlib.Path
        It is there.
    name : str
        A bare file name. A link that bears it is replaced, never followed.
    content : bytes
        What to write.

    Returns
    -------
    pathlib.Path
        What was written.

    Raises
    ------
    ReportError
        When the name would lead out of the folder; our own fault, told rather than written.
    """
    place = folder / name
    if Path(name).name != name or place.parent != folder:
        raise ReportError(f"'{name}': would lead out of {folder}; a bare file name; name it otherwise")
    building = folder / f".{name}.{os.getpid()}.new"
    try:
        building.write_bytes(content)
        os.replace(building, place)
    finally:
        with suppress(OSError):
            building.unlink(missing_ok=True)
    return place


def make_room(folder: Path, files: Iterable[str], *, force: bool = False, option: str = "--out") -> None:
    """Make a folder where there is none, and see that files may be written to it: before what takes long.

    Parameters
    ----------
    folder : pathlib.Path
        Where they are to go.
    files : iterable of str
        Bare file names.
    force : bool
        Whether those that are there may be overwritten.
    option : str
        How the folder is named on the command line.

    Raises
    ------
    ReportError
        When one is there already and may not go, or the folder cannot be written to.
    """
    there = [str(folder / file) for file in files if is_there(folder / file)]
    if there and not force:
        may = ", or say --force to overwrite it" if option == "--out" else ""
        raise ReportError(f"{', '.join(there)}: is there already; choose another {option}{may}")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as refused:
        raise ReportError(f"{folder}: cannot be written to ({refused.strerror}); choose another {option}") from refused


def write_all(folder: Path, files: Mapping[str, bytes], *, force: bool = False, option: str = "--out") -> None:
    """Write files, bare name to content, into a folder, or none; parameters and errors as of `make_room`."""
    make_room(folder, files, force=force, option=option)
    try:
        for file, content in files.items():
            write_in(folder, file, content)
    except OSError as refused:
        raise ReportError(f"{folder}: cannot be written to ({refused.strerror}); choose another {option}") from refused


def file_stem(*parts: str | None) -> str:
    """Join names to a file's name that stays in its folder on every system, and is never one of a table."""
    joined = "-".join(part for part in parts if part)
    return re.sub(r"[^A-Za-z0-9]+", "-", joined).strip("-")[:80]


def safe_names(names: Iterable[str]) -> dict[str, str]:
    """Give each name one that a file may have on every system, all different even where case does not count.

    A name of plain letters, digits and single hyphens stays as it is. Any other gets eight digits of its own digest, so
    that names in other letters do not become one, and a name has the same file whatever others are there; but for names
    that differ by case alone, which all get theirs.

    Parameters
    ----------
    names : iterable of str
        Names; the same one twice counts once.

    Returns
    -------
    dict of str to str
        Name to safe name, in order.
    """
    found = {name: file_stem(name) for name in names}
    alike = Counter(stem.casefold() for stem in found.values())
    return {name: stem if _is_safe(name, stem, alike) else _with_digest(name, stem) for name, stem in found.items()}


def _is_safe(name: str, stem: str, alike: Counter[str]) -> bool:
    return stem == name != "" and alike[stem.casefold()] == 1 and stem.upper() not in _RESERVED


def _with_digest(name: str, stem: str) -> str:
    # an underline stands in no plain name, so the two kinds never meet
    digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{stem[:60].rstrip('-')}_{digest}"
