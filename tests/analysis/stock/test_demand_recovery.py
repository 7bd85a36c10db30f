"""How often the intervals of the next quarter hold what comes, on drawn orders, scattered by chance and more."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.stock.demand import DemandRecord, divide_demand, fit_demand, interval_of

REPLICATES, SLOW_REPLICATES = 200, 400


def coverage(shape: float, *, level: float, quarters: int, replicates: int, share: float, seed: int) -> float:
    """Share of drawn histories whose next quarter lies in the 90 % interval of a size, its ends counted in."""
    rng = np.random.default_rng(seed)
    factor = np.ones((replicates, quarters + 1))
    if np.isfinite(shape):
        factor = rng.gamma(shape, 1.0 / shape, size=factor.shape)
    counts = rng.poisson(level * factor)
    came = rng.binomial(counts[:, -1], share)
    held = 0
    for history, size in zip(counts[:, :-1], came, strict=True):
        if history.sum() == 0:
            held += 1
            continue
        fit = fit_demand(
            DemandRecord(
                counts=history.astype(float),
                exposure=np.ones(quarters),
                of_year=np.asarray((np.arange(quarters) * 0.25 + 0.125) % 1.0),
            )
        )
        totals = fit.draw(np.array([0.0, 1.0]), draws=1000, rng=rng)
        drawn = divide_demand(totals, np.array([share]), rng=rng)[:, 0, 0]
        told = interval_of(drawn, level=0.9, method=None)
        assert told.low is not None
        assert told.high is not None
        held += int(told.low <= size <= told.high)
    return held / replicates


@pytest.mark.parametrize(("shape", "share"), [(np.inf, 1.0), (4.0, 0.2)])
def test_intervals_of_the_next_quarter_hold_what_comes(shape: float, share: float) -> None:
    # counts are whole, so that an interval can hold more than its share; 0.9 less two standard errors of 200 is 0.858
    assert coverage(shape, level=25.0, quarters=7, replicates=REPLICATES, share=share, seed=11) >= 0.858


@pytest.mark.slow
@pytest.mark.parametrize("quarters", [7, 12])
@pytest.mark.parametrize("level", [6.0, 40.0])
@pytest.mark.parametrize("shape", [np.inf, 12.0, 4.0])
def test_intervals_hold_over_levels_scatter_and_length_of_record(shape: float, level: float, quarters: int) -> None:
    # from 8 quarters on a trend and a season are asked for too; 0.9 less two standard errors of 400 is 0.87
    held = coverage(shape, level=level, quarters=quarters, replicates=SLOW_REPLICATES, share=1.0, seed=12)
    assert held >= 0.87
