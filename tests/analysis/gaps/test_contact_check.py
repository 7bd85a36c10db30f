"""Contact predicted against contact marked: known truth comes back, another reckoning agrees, intervals cover."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from wearstats.analysis.gaps.contact_check import FEWEST, compare_contact
from wearstats.errors import AnalysisError


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20260930)


def drawn_fittings(
    rng: np.random.Generator, *, shafts: int, more: float = 0.0, slope: float = 1.0, shared: float = 0.0
) -> pd.DataFrame:
    """Draw fittings whose true share is one more draw of what was predicted, then marked ``more`` and by a slope.

    Each shaft has one to three fittings; ``shared`` is the scatter of what its marks have in common.
    """
    each = rng.integers(1, 4, shafts)
    shaft = np.repeat(np.arange(shafts), each)
    middle = rng.uniform(0.15, 0.85, shaft.size)
    draws = rng.beta(12 * middle[:, None], 12 * (1 - middle)[:, None], (shaft.size, 400))
    true = rng.beta(12 * middle, 12 * (1 - middle))
    marked = 0.5 + slope * (true - 0.5) + more + shared * rng.standard_normal(shafts)[shaft]
    low, high = np.quantile(draws, [0.025, 0.975], axis=1)
    names = [f"S{number:04d}" for number in shaft]
    return pd.DataFrame({"shaft": names, "predicted": draws.mean(axis=1), "low": low, "high": high, "marked": marked})


def test_where_all_is_well_nothing_is_found(rng: np.random.Generator) -> None:
    seen = compare_contact(drawn_fittings(rng, shafts=400), rng=rng)
    assert seen.difference.value == pytest.approx(0.0, abs=0.02)
    assert seen.slope.value == pytest.approx(1.0, abs=0.08)
    assert seen.covered.low is not None
    assert seen.covered.high is not None
    assert seen.covered.low < 0.95 < seen.covered.high
    assert list(seen.bands["band"]) == [1, 2, 3, 4, 5]
    assert seen.bands["fittings"].sum() == seen.fittings
    assert seen.bands["predicted"].is_monotonic_increasing


def test_what_was_put_in_comes_back(rng: np.random.Generator) -> None:
    seen = compare_contact(drawn_fittings(rng, shafts=400, more=0.1, slope=0.8, shared=0.05), rng=rng)
    assert seen.difference.value == pytest.approx(0.1, abs=0.02)
    assert seen.slope.value == pytest.approx(0.8, abs=0.08)


def test_another_reckoning_agrees(rng: np.random.Generator) -> None:
    """Least squares of a general library with errors by clusters (Liang and Zeger 1986), no shaft drawn anew."""
    told = drawn_fittings(rng, shafts=120, more=0.05, shared=0.08)
    seen = compare_contact(told, rng=rng)
    numbers = pd.factorize(told["shaft"])[0]
    groups = {"cov_type": "cluster", "cov_kwds": {"groups": numbers}, "use_t": True}
    mean = sm.OLS(told["marked"] - told["predicted"], np.ones(len(told))).fit(**groups)
    line = sm.OLS(told["marked"], sm.add_constant(told["predicted"])).fit(**groups)
    for ours, theirs, at in ((seen.difference, mean, 0), (seen.slope, line, 1)):
        value, (low, high) = float(np.asarray(theirs.params)[at]), np.asarray(theirs.conf_int())[at]
        assert ours.value == pytest.approx(value, abs=1e-9)
        assert ours.low == pytest.approx(low, abs=0.15 * (high - low))
        assert ours.high == pytest.approx(high, abs=0.15 * (high - low))


@pytest.mark.parametrize("fleets", [60, pytest.param(200, marks=pytest.mark.slow)])
@pytest.mark.parametrize("shafts", [12, 60])
def test_intervals_cover_as_often_as_they_say(shafts: int, fleets: int, rng: np.random.Generator) -> None:
    """Of so many fleets; half-width of what chance allows is 2.6 standard errors of a share of 0.95."""
    covered = np.zeros(2)
    for _ in range(fleets):
        seen = compare_contact(drawn_fittings(rng, shafts=shafts, more=0.05, shared=0.08), rng=rng)
        for at, (estimate, true) in enumerate(((seen.difference, 0.05), (seen.slope, 1.0))):
            assert estimate.low is not None
            assert estimate.high is not None
            covered[at] += estimate.low <= true <= estimate.high
    chance = 2.6 * np.sqrt(0.95 * 0.05 / fleets)
    assert covered[0] / fleets == pytest.approx(0.95, abs=chance)
    assert covered[1] / fleets == pytest.approx(0.95, abs=chance + 0.015)


def test_too_few_shafts_are_refused_with_what_is_needed(rng: np.random.Generator) -> None:
    told = drawn_fittings(rng, shafts=FEWEST - 1)
    with pytest.raises(AnalysisError, match=r"marks and readings in hand for 9 shafts; 10 are needed") as refused:
        compare_contact(told, rng=rng)
    assert "drive_marked and coast_marked" in refused.value.needed
    with pytest.raises(AnalysisError, match="in hand for 0 shafts"):
        compare_contact(told.iloc[:0], rng=rng)


def test_every_fitting_predicted_alike_has_no_line(rng: np.random.Generator) -> None:
    told = drawn_fittings(rng, shafts=20).assign(predicted=1.0, low=1.0, high=1.0)
    assert compare_contact(told, rng=rng).slope.value is None


def test_a_mark_at_the_end_of_its_interval_lies_within_it(rng: np.random.Generator) -> None:
    # marks are in tenths, and so are the ends
    told = drawn_fittings(rng, shafts=50).assign(low=0.2, high=0.7)
    told["marked"] = np.resize([0.2, 0.7, 0.5, 0.1, 0.8], len(told))
    seen = compare_contact(told, rng=rng)
    within = int(np.isin(told["marked"], [0.2, 0.7, 0.5]).sum())
    assert seen.covered.value == pytest.approx(within / len(told))
