"""How batches came out, against a general library's analysis of variance and by simulation with known truth."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm

from wearstats.analysis.making.batch_spread import spread_of_gauged, spread_of_plugs
from wearstats.analysis.making.remarks import SpreadRemark


def _drawn(rng: np.random.Generator, *, batches: int, off: float, between: float, within: float) -> pd.DataFrame:
    hubs = rng.integers(2, 9, batches)
    batch = np.repeat(np.arange(batches), hubs)
    level = off + between * rng.standard_normal(batches)
    return pd.DataFrame({"batch": batch, "um": level[batch] + within * rng.standard_normal(batch.size)})


def _moments(rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    told = rows.groupby("batch")["um"].agg(["mean", "var", "count"])
    return told["mean"].to_numpy(), told["var"].to_numpy(), told["count"].to_numpy()


def test_the_spread_within_is_that_of_an_analysis_of_variance() -> None:
    rows = _drawn(np.random.default_rng(1), batches=12, off=2.0, between=1.5, within=3.0)
    table = anova_lm(smf.ols("um ~ C(batch)", rows).fit())
    within = spread_of_gauged(*_moments(rows)).within_um
    assert within.value == pytest.approx(table.loc["Residual", "mean_sq"] ** 0.5)
    assert within.code == SpreadRemark.OF_GAUGED


def test_nineteen_in_twenty_hubs_of_any_batch_lie_within_the_half() -> None:
    rng = np.random.default_rng(5)
    halves = [
        spread_of_gauged(*_moments(_drawn(rng, batches=25, off=1.0, between=3.0, within=2.5))).half_um or 0.0
        for _ in range(300)
    ]
    # 1.96 times the root of both variances
    assert np.mean(halves) == pytest.approx(1.96 * (3.0**2 + 2.5**2) ** 0.5, rel=0.03)


def test_intervals_hold_what_was_drawn() -> None:
    rng = np.random.default_rng(2)
    held = np.zeros(2)
    for _ in range(2000):
        found = spread_of_gauged(*_moments(_drawn(rng, batches=9, off=2.0, between=1.5, within=3.0)))
        for at, (estimate, truth) in enumerate(((found.off_um, 2.0), (found.within_um, 3.0))):
            assert estimate.low is not None
            assert estimate.high is not None
            held[at] += estimate.low <= truth <= estimate.high
    # Monte Carlo error 0.005
    assert np.all(np.abs(held / 2000 - 0.95) < 0.015), held / 2000


def test_too_few_say_so() -> None:
    one = spread_of_gauged(np.array([1.0]), np.array([4.0]), np.array([3]))
    assert (one.off_um.status, one.off_um.code) == ("none", SpreadRemark.ONE_BATCH)
    singly = spread_of_gauged(np.array([1.0, 2.0]), np.zeros(2), np.array([1, 1]))
    assert (singly.within_um.status, singly.within_um.code) == ("none", SpreadRemark.ONE_EACH)


def test_plugs_bound_the_spread_by_an_even_one() -> None:
    # JCGM 100:2008 (GUM) 4.3.7: half-width over the root of 3
    found = spread_of_plugs(np.array([-5.0, -3.0]), np.array([5.0, 7.0]))
    assert found.within_um.value == pytest.approx(5.0 / 3**0.5)
    assert found.within_um.status == "bounded"
    # gauges are made to a design: they say nothing of where hubs came out, and limits taken from them stay as they are
    assert found.off_um.status == "none"
    assert found.half_um == 5.0
