"""What returns teach of filing: how often it goes too far."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.store.support.small_store import LATE, fitting, make_store, small_rows
from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.outcomes import OWNER, FilingHand, outcomes_of
from wearstats.domain.contact import sum_up_fit, way_in
from wearstats.store.database.connection import open_store
from wearstats.studies.gaps.filing_hand import careless_chance
from wearstats.studies.snapshot import Snapshot


def test_from_five_returns_on_the_chance_is_learnt() -> None:
    assert careless_chance(300, 4) == 0.0
    # R's qbeta and scipy agree on Beta(5.5, 295.5); its mean
    assert careless_chance(300, 5) == pytest.approx(stats.beta(5.5, 295.5).mean())


def test_learnt_from_records_it_comes_back(tmp_path: Path) -> None:
    # 400 filed hubs of which each went too far with a chance of 0.03: five standard errors on either side
    spoiled = np.random.default_rng(3).random(400) < 0.03
    rows = small_rows()
    names = [f"N{number}" for number in range(400)]
    rows["hubs"] += [{"hub": name, "pattern": "D8", "undersize_um": "50"} for name in names]
    rows["fittings"] += [fitting(f"F{name}", name, "2026-04-01", inspections=None) for name in names[:200]]
    rows["returns"] += [
        {"hub": name, "returned_on": "2026-05-01", "reason": "filed-too-far"}
        for name, too_far in zip(names, spoiled, strict=True)
        if too_far
    ]
    with open_store(make_store(tmp_path / "s.duckdb", rows)) as store:
        found = Snapshot(store=store, known_on=LATE).query("fittings/filed_too_far").iloc[0]
    # those tried without a fitting on record count too where they came back; the two of the small store were filed
    assert found["too_far"] == spoiled.sum()
    assert found["filed"] == 2 + 200 + spoiled[200:].sum()


def test_it_counts_wherever_something_is_filed_and_nowhere_else() -> None:
    width = np.array([[[[0.0, 0.0]] * 8], [[[-40.0, -40.0]] * 8]]).reshape(2, 1, 8, 2)
    fit = sum_up_fit(way_in(width), width.mean(axis=(-2, -1)), np.full((2, 1), -20.0))
    facts = {"limits": AdviceLimits(), "stations": 2}
    usual = outcomes_of(fit, OWNER, hand=FilingHand(), **facts)  # type: ignore[arg-type]
    careless = outcomes_of(fit, OWNER, hand=FilingHand(careless=0.02), **facts)  # type: ignore[arg-type]
    assert careless.too_far[0, 0] == max(0.02, usual.too_far[0, 0])
    assert careless.too_far[1, 0] == usual.too_far[1, 0] == 0.0
