"""A shaft place by place: what must come off the hub as rings and as a map in the same shades, and what gap stays."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wearstats.report.forms.drawing import SHADES, hub_rings, shade
from wearstats.report.forms.wording import Wording, read_wording
from wearstats.report.rendering.theme import letters_on
from wearstats.studies.shaft.answer import ShaftStudy

STEPS: Final = 10
"""Shades of a map's cells."""
_FULL_UM: Final = 40.0
"""What the darkest shade stands for at least, so that a map of nearly nothing does not look alarming."""
_FULL_LOST_UM: Final = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """One number of every place.

    Parameters
    ----------
    caption : str
        Which number, with its unit.
    stations : tuple of str
        Headings, shoulder to nut end.
    rows : tuple of (str, tuple of (str, int or None))
        A row a spline: its number, and each place's number with its shade, None where it has none.
    """

    caption: str
    stations: tuple[str, ...]
    rows: tuple[tuple[str, tuple[tuple[str, int | None], ...]], ...]


def grids_of(study: ShaftStudy) -> tuple[Grid, ...]:
    """Give the grids: what must come off, coloured, the gap left, and what was lost; that alone where no hub is named.

    Where no hub is named what was lost is coloured.
    """
    shaft_map = study.map_frame()
    if not names_filing(study):
        return (_grid(shaft_map, "width_um_below_new", "lost, µm", full_um=_FULL_LOST_UM),)
    return (
        _grid(shaft_map, "filing_um", "comes off the hub, µm", full_um=_FULL_UM),
        _grid(shaft_map, "gap_left_um", "gap left then, µm"),
        _grid(shaft_map, "width_um_below_new", "lost by the shaft, µm"),
    )


def names_filing(study: ShaftStudy) -> bool:
    """Whether a hub is spoken of and it is known what must come off it."""
    return study.advice.hub is not None and bool(study.map_frame()["filing_um"].notna().all())


def rings_of(study: ShaftStudy) -> str:
    """Draw the hub's spaces in the shades of the map, the most that must come off each in micrometres; or nothing."""
    if not names_filing(study):
        return ""
    most = study.map_frame().groupby("spline", sort=True)["filing_um"].max().astype(float)
    top = _top(most, _FULL_UM)
    shares = [_share(um, top) for um in most]
    numbers = [None if share is None else round(um) for um, share in zip(most, shares, strict=True)]
    return hub_rings(len(most), shares, numbers, _english())


def shade_colours() -> list[tuple[str, str]]:
    """Give the shades of cells with the letters that are read on them, from light to dark."""
    shares = [step / (STEPS - 1) for step in range(STEPS)]
    return [(shade(share), letters_on(share, SHADES)) for share in shares]


@functools.cache
def _english() -> Wording:
    return read_wording("en")


def _grid(shaft_map: pd.DataFrame, column: str, caption: str, *, full_um: float | None = None) -> Grid:
    rows = shaft_map.sort_values(["spline", "station_index"])
    stations = tuple(rows.drop_duplicates("station_index")["station"].astype(str))
    splines = rows["spline"].unique()
    numbers = rows[column].to_numpy(dtype=float).reshape(len(splines), len(stations))
    top = 0.0 if full_um is None else _top(rows[column].astype(float), full_um)
    return Grid(
        caption=caption,
        stations=stations,
        rows=tuple(
            (str(spline), tuple((_whole(um), _step(um, top)) for um in row))
            for spline, row in zip(splines, numbers, strict=True)
        ),
    )


def _top(numbers: pd.Series[float], full_um: float) -> float:
    return max(float(numbers.max()), full_um)


def _share(um: float, top: float) -> float | None:
    """Give how dark a place is; nothing where nothing that could be printed has to come off."""
    return None if round(um) <= 0 else min(um / top, 1.0)


def _step(um: float, top: float) -> int | None:
    share = _share(um, top) if top else None
    return None if share is None else round(share * (STEPS - 1))


def _whole(um: float) -> str:
    return "" if np.isnan(um) else f"{round(um) + 0:d}".replace("-", "\u2212")
