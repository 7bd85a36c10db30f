"""Hubs held by a compound, a shim or a sleeve: on record, in no comparison of fits, and compared by their rates."""

from __future__ import annotations

from pathlib import Path

import pytest
from statsmodels.stats.rates import confint_poisson_2indep

from tests.store.support.small_store import LATE, fitting, make_store, small_rows
from wearstats.store.database.connection import open_store
from wearstats.studies.counts.left_out import left_out
from wearstats.studies.gaps.records import choices_on_record
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.methods.held_otherwise import ENOUGH, held_otherwise
from wearstats.studies.review.calls import study_calls
from wearstats.studies.snapshot import Snapshot


def _snapshot(path: Path, *, bonded: int, failed: int) -> Snapshot:
    rows = small_rows()
    rows["patterns"][0]["stations"] = "middle"
    names = [f"B{number}" for number in range(bonded)]
    rows["shafts"] += [{"shaft": f"S{name}", "pattern": "D8"} for name in names]
    rows["hubs"] += [{"hub": f"H{name}", "pattern": "D8", "undersize_um": "0"} for name in names]
    rows["fittings"] += [
        {**fitting(f"F{name}", f"H{name}", "2026-01-10", method="compound", inspections=None), "shaft": f"S{name}"}
        for name in names
    ]
    rows["follow_ups"] += [
        {"fitting": f"F{name}", "seen_on": "2026-03-11", "state": "loose" if at < failed else "tight"}
        for at, name in enumerate(names)
    ]
    return Snapshot(store=open_store(make_store(path, rows)), known_on=LATE)


def test_they_are_in_use_and_in_no_law(tmp_path: Path) -> None:
    snapshot = _snapshot(tmp_path / "s.duckdb", bonded=2, failed=1)
    histories = histories_of(snapshot)
    bonded = {"FB0", "FB1"}
    # whoever has one is still asked, and warned of its batch
    assert bonded <= set(histories.ran["fitting"])
    assert set(study_calls(snapshot).calls["fitting"]) & bonded == {"FB1"}
    assert not set(histories.by_flanks["fitting"]) & bonded
    assert not set(choices_on_record(snapshot)["fitting"]) & bonded
    assert left_out(snapshot).contradicting == 0
    (few,) = held_otherwise(snapshot)
    assert (few.method, few.fittings, few.failures, few.ratio) == ("compound", 2, 1, None)


def test_enough_of_them_are_compared(tmp_path: Path) -> None:
    snapshot = _snapshot(tmp_path / "s.duckdb", bonded=ENOUGH, failed=4)
    (found,) = held_otherwise(snapshot)
    months = ENOUGH * 60 / 30.4375
    assert found.per_100_hub_months.value == pytest.approx(100 * 4 / months)
    # one of the small store's two hubs held by flanks came loose after 57 days; of the other nothing was heard
    assert found.ratio is not None
    assert found.ratio.value == pytest.approx((4 / months) / (1 / (57 / 30.4375)))
    # statsmodels' interval by the score lies within the exact one, which covers at least as often
    low, high = confint_poisson_2indep(4, months, 1, 57 / 30.4375, method="score", compare="ratio")
    assert found.ratio.low is not None
    assert found.ratio.low < low
    assert found.ratio.high is None or found.ratio.high > high
