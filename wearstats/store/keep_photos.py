"""Photos into the store: the file into the folder beside it, and a row through intake as any other."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from wearstats.errors import InputError, Problem, UsageError, counted
from wearstats.store.database.connection import Store
from wearstats.store.intake.add import add_frames
from wearstats.store.intake.reports import IntakeReport
from wearstats.store.photos.folder import MOST_BYTES, keep_file, photos_folder, read_plain
from wearstats.store.photos.pictures import NoPictureError, bare

_ALLOWED = f"a JPEG, PNG or WebP picture of at most {MOST_BYTES // 1_000_000} MB"
_FACTS = ("shaft", "fitting", "inspection", "taken_on", "shows")


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotosKept:
    """What became of some photos.

    Parameters
    ----------
    photos : tuple of str
        Their names, in the order of the files.
    folder : pathlib.Path
        Where their files lie.
    report : IntakeReport
        What became of their rows.
    """

    photos: tuple[str, ...]
    folder: Path
    report: IntakeReport

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {"photos": self.photos, "folder": self.folder} | self.report.to_dict()


def keep_photos(
    store: Store,
    files: Sequence[Path],
    *,
    added_on: datetime.date,
    shaft: str,
    fitting: str | None = None,
    inspection: str | None = None,
    shows: str | None = None,
    taken_on: datetime.date | None = None,
    correct: bool = False,
) -> PhotosKept:
    """Keep photos of a shaft; all of them or, where one cannot be taken, none.

    Parameters
    ----------
    store : Store
        Open for writing.
    files : sequence of pathlib.Path
        The pictures.
    added_on : datetime.date
        The day from which they count as known.
    shaft, fitting, inspection : str
        What they belong to; a name that stands for another counts as that one.
    shows : str, optional
        One of the words of the column.
    taken_on : datetime.date, optional
        The day on which they were taken.
    correct : bool
        What is said now counts, where something else is on record of the same picture.

    Raises
    ------
    InputError
        When a file is no such picture, or too large; with all of them.
    UsageError
        When the shaft, fitting or inspection is not on record, or is of another shaft; when something else is on
        record of a picture, and `correct` is not asked for.
    StoreError
        When the folder cannot be written to.
    """
    shaft = _standing(store, "shaft", shaft)
    _refuse_unknown(store, "shaft", shaft, None)
    for column, name in (("fitting", fitting), ("inspection", inspection)):
        if name is not None:
            _refuse_unknown(store, column, name, shaft)
    pictures = _read(files)
    facts = {
        "shaft": shaft,
        "fitting": fitting,
        "inspection": inspection,
        "taken_on": None if taken_on is None else taken_on.isoformat(),
        "shows": shows,
    }
    rows = []
    for file, content in zip(files, pictures, strict=True):
        digest = hashlib.sha256(content).hexdigest()
        row = {
            "photo": f"P-{digest[:12]}",
            **facts,
            "file_name": file.name,
            "sha256": digest,
            "bytes": str(len(content)),
        }
        rows.append(_as_held(store, row, correct=correct))
    for content in pictures:
        keep_file(store.path, content)
    frame = pd.DataFrame(rows).drop_duplicates("photo")
    report = add_frames(store, {"photos": frame}, added_on=added_on, bulk=False, again=True, correct=correct)
    return PhotosKept(photos=tuple(str(row["photo"]) for row in rows), folder=photos_folder(store.path), report=report)


def _read(files: Sequence[Path]) -> list[bytes]:
    """Read the pictures, without what a camera writes beside them; all that is wrong is told."""
    pictures, problems = [], []
    for file in files:
        try:
            content = read_plain(file)
            if len(content) > MOST_BYTES:
                raise NoPictureError(f"has over {counted(MOST_BYTES, 'byte')}")
            pictures.append(bare(content))
        except NoPictureError as refused:
            found, step = str(refused), "send it as such a picture, smaller if need be; nothing was kept"
            problems.append(Problem(place=str(file), found=found, allowed=_ALLOWED, next_step=step))
        except OSError as refused:
            link = file.is_symlink()
            found = "is a link" if link else f"cannot be read ({refused.strerror or refused})"
            step = "name the picture itself; nothing was kept"
            problems.append(Problem(place=str(file), found=found, allowed=_ALLOWED, next_step=step))
    if problems:
        raise InputError(problems)
    return pictures


def _as_held(store: Store, row: dict[str, str | None], *, correct: bool) -> dict[str, str | None]:
    """Fill up the row of a picture that is there already; what is said against what is known is a correction."""
    held = store.rows(
        "select shaft, fitting, inspection, taken_on::varchar, shows, file_name from photos where photo = $photo",
        {"photo": row["photo"]},
    )
    if not held:
        return row
    known = dict(zip((*_FACTS, "file_name"), held[0], strict=True))
    against = {name: known[name] for name in _FACTS if known[name] and row[name] and row[name] != known[name]}
    if against and not correct:
        said = " and ".join(f"{name} {value}" for name, value in against.items())
        now = " and ".join(f"{name} {row[name]}" for name in against)
        raise UsageError(
            f"{row['file_name']}: {row['photo']} is on record with {said}; nothing was kept; "
            f"leave that out, or say --correct if {now} is right"
        )
    if "shaft" in against:  # a fitting or inspection of the other shaft goes with it
        return row | {name: row[name] or known[name] for name in ("taken_on", "shows", "file_name")}
    return row | {name: row[name] or known[name] for name in _FACTS} | {"file_name": known["file_name"]}


def _standing(store: Store, kind: str, name: str) -> str:
    found = store.value(
        "select stands_for from aliases where kind = $kind and name = $name and ended_by is null",
        {"kind": kind, "name": name},
    )
    return name if found is None else str(found)


def _refuse_unknown(store: Store, column: str, name: str, shaft: str | None) -> None:
    found = store.rows(f"select shaft from {column}s where {column} = $name", {"name": name})
    if not found:
        raise UsageError(f"--{column}: {name!r} is not on record; nothing was kept; add its row, or mend the name")
    if shaft is not None and found[0][0] != shaft:
        raise UsageError(f"--{column}: {name} is of shaft {found[0][0]}, not {shaft}; nothing was kept; mend one")
