"""The fitting sheet's table follows from the shaft's map by the geometry, place by place."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import numpy as np
import pandas as pd
import pytest

from tests.studies.support.shop_store import make_shop, splines
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_frames
from wearstats.studies.shaft.fitting_sheet import (
    FittingSheet,
    doubt_between,
    marks_wanted,
    ranks_of,
    study_fitting_sheet,
)
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

LATE = datetime.date(2026, 12, 31)
OTHER = {
    "pattern": ["P9"],
    "splines": ["6"],
    "width_mm": ["6"],
    "space_width_mm": ["6.01"],
    "minor_mm": ["26"],
    "major_mm": ["30"],
    "engaged_mm": ["28"],
}
HUBS = {
    "hub": ["H1", "H7", "H8", "H9"],
    "pattern": ["P10", "P10", "P10", "P9"],
    "undersize_um": ["50", "0", "-200", "50"],
    "space_width_mm": [None, "4.3900", None, None],
}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    folder = tmp_path_factory.mktemp("fitting")
    shafts = {"S1": splines(4.38, 4.375, 4.385, scatter=0.004), "S2": splines(4.40, 4.395, 4.40)}
    path = make_shop(folder / "s.duckdb", shafts, folder=folder, gauge="shop")
    with open_store(path, write=True) as opened:
        add_frames(opened, {"patterns": pd.DataFrame(OTHER), "hubs": pd.DataFrame(HUBS)}, added_on=LATE)
        yield opened


def sheet(store: Store, hub: str) -> FittingSheet:
    return study_fitting_sheet(Snapshot(store=store, known_on=LATE), "S1", hub)


@pytest.mark.parametrize(("hub", "space_mm"), [("H1", 4.43 - 0.05), ("H7", 4.39)])
def test_each_place_is_judged_by_the_widest_that_passes_it(hub: str, space_mm: float, store: Store) -> None:
    made = sheet(store, hub)
    grid = study_shaft(Snapshot(store=store, known_on=LATE), "S1").map_frame()
    space_um = (space_mm - 4.41) * 1000
    for item in made.splines:
        mine = grid[grid["spline"] == item.spline].sort_values("station_index")
        widths = -mine["width_um_below_new"].to_numpy(dtype=float)
        # the shoulder end of the hub is its mouth: all places of the spline pass through it
        for at, off in enumerate(item.off_um):
            # the middle of 400 drawn maps against the map itself
            assert off.value == pytest.approx(max(widths[at:].max() - space_um, 0.0), abs=1.5)
            assert (off.low or 0.0) <= (off.value or 0.0) <= (off.high or 0.0)
        values = [off.value or 0.0 for off in item.off_um]
        assert values == sorted(values, reverse=True)
        # what binds has a rank, and what passes freely too where it is alike with one that binds
        assert item.rank is not None or values[0] == 0
    assert made.gauged == (hub == "H7")
    assert made.unit == "mm"
    assert made.pattern.splines <= made.marks <= made.pattern.flanks


def test_an_undersize_hub_jams_first_at_the_nut_end(store: Store) -> None:
    made = sheet(store, "H1")
    assert made.jams_at == made.pattern.stations[-1]
    assert made.jams_on


def test_a_hub_that_is_wide_everywhere_binds_nowhere(store: Store) -> None:
    made = sheet(store, "H8")
    assert all(item.rank is None for item in made.splines)
    assert made.mean_off_um.value == 0
    assert (made.jams_at, made.jams_on) == (None, ())
    # half of the sides at least, however few are expected
    assert made.marks == made.pattern.splines
    assert not made.as_advised


def test_splines_within_the_doubt_share_a_rank() -> None:
    # worked by hand: 30 and 26 are alike, 23 is not alike with 30, and what passes freely has none
    assert ranks_of(np.array([23.0, 30.0, -1.0, 26.0, 20.0, 0.0]), 5.0) == [2, 1, None, 1, 2, None]
    # one that is free by the middle map, but within the doubt of one that binds, is alike with it
    assert ranks_of(np.array([3.0, -1.0, -4.0]), 5.0) == [1, 1, None]
    assert ranks_of(np.array([-1.0, -2.0]), 5.0) == [None, None]


def test_what_all_splines_share_is_no_doubt_between_them() -> None:
    rng = np.random.default_rng(7)
    level, own = rng.normal(0, 50, (20_000, 1)), rng.normal(0, 3, (20_000, 6))
    # of a difference of two of them: 3 times the root of 2
    assert doubt_between(level + own) == pytest.approx(1.96 * 3 * 2**0.5, rel=0.02)


@pytest.mark.parametrize(
    ("shares", "marks"), [([0.9] * 10, 18), ([0.2] * 10, 10), (list(np.linspace(0.5, 1.0, 11)), 11)]
)
def test_as_many_sides_have_to_mark_as_nine_in_ten_would_reach(shares: list[float], marks: int) -> None:
    assert marks_wanted(np.array(shares), 10) == marks


@pytest.mark.parametrize(
    ("shaft", "hub", "words"),
    [("S1", "H0", "no hub H0"), ("S1", "H9", "hub H9 is of pattern P9"), ("S0", "H1", "no reading of shaft S0")],
)
def test_what_does_not_go_together_is_refused(shaft: str, hub: str, words: str, store: Store) -> None:
    with pytest.raises(AnalysisError, match=words):
        study_fitting_sheet(Snapshot(store=store, known_on=LATE), shaft, hub)
