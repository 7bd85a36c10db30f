"""Files written into a folder, and nowhere else."""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path

from wearstats.errors import ReportError


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


def file_stem(*parts: str | None) -> str:
    """Join names to a file's name that stays in its folder on every system, and is never one of a table."""
    joined = "-".join(part for part in parts if part)
    return re.sub(r"[^A-Za-z0-9]+", "-", joined).strip("-")[:80]
