"""The fitting sheet's table follows from the shaft's map by the geometry, place by place."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import pandas as pd
import pytest

from tests.studies.support.shop_store import make_shop, splines
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_frames
from wearstats.studies.shaft.fitting_sheet import FittingSheet, study_fitting_sheet
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
def test_each_spline_is_judged_by_its_widest_place(hub: str, space_mm: float, store: Store) -> None:
    made = sheet(store, hub)
    grid = study_shaft(Snapshot(store=store, known_on=LATE), "S1").map_frame()
    space_um = (space_mm - 4.41) * 1000
    widest = {}
    for item in made.splines:
        mine = grid[grid["spline"] == item.spline]
        widths = dict(zip(mine["station"], -mine["width_um_below_new"], strict=True))
        widest[item.spline] = max(widths.values())
        assert widths[item.station] == widest[item.spline]
        assert item.off_um.value == pytest.approx(max(widest[item.spline] - space_um, 0.0), abs=1e-6)
        value, low, high = (getattr(item.off_um, name) for name in ("value", "low", "high"))
        assert low <= value <= high
        assert (item.order is None) == (widest[item.spline] <= space_um)
    bound = sorted((item for item in made.splines if item.order), key=lambda item: item.order or 0)
    assert [item.order for item in bound] == list(range(1, len(bound) + 1))
    assert [widest[item.spline] for item in bound] == sorted((widest[item.spline] for item in bound), reverse=True)
    assert made.gauged == (hub == "H7")


def test_a_hub_that_is_wide_everywhere_binds_nowhere(store: Store) -> None:
    made = sheet(store, "H8")
    assert all(item.order is None for item in made.splines)
    assert made.mean_off_um.value == 0
    assert not made.as_advised


@pytest.mark.parametrize(
    ("shaft", "hub", "words"),
    [("S1", "H0", "no hub H0"), ("S1", "H9", "hub H9 is of pattern P9"), ("S0", "H1", "no reading of shaft S0")],
)
def test_what_does_not_go_together_is_refused(shaft: str, hub: str, words: str, store: Store) -> None:
    with pytest.raises(AnalysisError, match=words):
        study_fitting_sheet(Snapshot(store=store, known_on=LATE), shaft, hub)
