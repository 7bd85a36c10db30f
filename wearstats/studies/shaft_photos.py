"""The photos of some shafts, each with the file that it lies in."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from wearstats.store.nameless import NamelessStore
from wearstats.store.photos.folder import photo_path
from wearstats.studies.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftPhoto:
    """A photo of a shaft.

    Parameters
    ----------
    photo : str
        Its name.
    path : pathlib.Path or None
        Its file; None where that is missing or not what it was.
    shows : str or None
        One of the words of the column.
    fitting, inspection : str or None
        What it belongs to.
    taken_on : datetime.date or None
        The day on which it was taken.
    """

    photo: str
    path: Path | None
    shows: str | None
    fitting: str | None
    inspection: str | None
    taken_on: datetime.date | None


def shaft_photos(snapshot: Snapshot, shafts: Sequence[str]) -> dict[str, tuple[ShaftPhoto, ...]]:
    """Find the photos of some shafts, the newest first; none where names are hidden: a picture may tell whose it is.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    shafts : sequence of str
        Their names.
    """
    if isinstance(snapshot.store, NamelessStore):
        return {}
    found: dict[str, list[ShaftPhoto]] = {}
    for row in snapshot.query("shaft/photos", shafts=list(shafts)).to_dict("records"):
        found.setdefault(str(row["shaft"]), []).append(
            ShaftPhoto(
                photo=str(row["photo"]),
                path=photo_path(snapshot.store.path, str(row["sha256"])),
                shows=_text(row["shows"]),
                fitting=_text(row["fitting"]),
                inspection=_text(row["inspection"]),
                taken_on=None if pd.isna(row["taken_on"]) else pd.Timestamp(row["taken_on"]).date(),
            )
        )
    return {shaft: tuple(photos) for shaft, photos in found.items()}


def _text(value: Any) -> str | None:
    return None if pd.isna(value) else str(value)
