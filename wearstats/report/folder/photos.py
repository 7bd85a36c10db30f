"""The photos on the page of a shaft: put into the page, so that it is read without any other file."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from wearstats.report.words.phrases import day
from wearstats.store.photos.folder import read_plain
from wearstats.store.photos.pictures import kind_of

if TYPE_CHECKING:
    from wearstats.studies.shaft_photos import ShaftPhoto

MOST_IN_A_PAGE: Final = 8_000_000
"""So many bytes of pictures a page holds, the newest first; what is beyond is named by its file."""

_SHOWS: Final = {"contact": "Contact marks", "damage": "Damage", "other": "Photo", None: "Photo"}
_TYPES: Final = {"jpg": "jpeg", "png": "png", "webp": "webp"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photo as it stands on a page.

    Parameters
    ----------
    caption : str
        What it shows, of what, and when it was taken.
    source : str
        The picture itself, as an address; empty where the page does not hold it.
    """

    caption: str
    source: str


def pictures_of(photos: Sequence[ShaftPhoto]) -> tuple[Picture, ...]:
    """Put photos into a page, as many as it holds."""
    pictures, left = [], MOST_IN_A_PAGE
    for photo in photos:
        of = [
            f"fitting {photo.fitting}" if photo.fitting else "",
            f"inspection {photo.inspection}" if photo.inspection else "",
        ]
        facts = [_SHOWS.get(photo.shows, "Photo"), *of, day(photo.taken_on) if photo.taken_on else "", photo.photo]
        caption = ", ".join(fact for fact in facts if fact)
        content = b"" if photo.path is None else read_plain(photo.path)
        if photo.path is None:
            lost = f"{caption}: its file is missing or was changed, see wearstats store check"
            pictures.append(Picture(caption=lost, source=""))
        elif len(content) > left:
            pictures.append(Picture(caption=f"{caption}: too much for this page, see {photo.path}", source=""))
        else:
            left -= len(content)
            kind = _TYPES[kind_of(content) or "jpg"]
            source = f"data:image/{kind};base64,{base64.b64encode(content).decode()}"
            pictures.append(Picture(caption=caption, source=source))
    return tuple(pictures)
