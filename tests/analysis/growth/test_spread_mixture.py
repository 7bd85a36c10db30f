"""The spread of own rates by its profile, and mixtures over it: against a criterion whose ends are known beforehand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from tests.analysis.growth.test_fit_reference import RATE, plain_blocks
from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.growth.fit import _spread
from wearstats.analysis.growth.likelihood import MixedFit, MixedLikelihood
from wearstats.analysis.growth.rate_averaging import SpreadMixture

BEST_SD, ERROR = 6.0, 1.5


@pytest.fixture(scope="module")
def sleep() -> MixedFit:
    table = reference_frame("sleepstudy.csv").sort_values(["Subject", "Days"])
    response, days = (table[name].to_numpy(dtype=float).reshape(18, 10) for name in ("Reaction", "Days"))
    return MixedLikelihood(plain_blocks(response, days, correlated=True)).fit(np.array([500.0, 30.0, 600.0, 1.0]))


def mixture(sleep: MixedFit, sd: np.ndarray) -> tuple[SpreadMixture, MixedFit]:
    """Fits whose criterion is a parabola in the spread: it rises by the square of the standard errors away."""

    def held(at: float) -> MixedFit:
        variances = sleep.variances.copy()
        variances[1] = at**2
        return replace(sleep, variances=variances, criterion=sleep.criterion + ((at - BEST_SD) / ERROR) ** 2)

    fits = tuple(held(at) for at in sd)
    weights = np.exp(-0.5 * ((sd - BEST_SD) / ERROR) ** 2)
    return SpreadMixture(fits=fits, sd=sd, weights=weights / weights.sum(), place=1), held(BEST_SD)


def test_the_interval_of_the_spread_is_where_its_profile_has_fallen_by_a_chi_square(sleep: MixedFit) -> None:
    found, best = mixture(sleep, np.linspace(0.0, 12.0, 401))
    spread = found.spread(best)
    assert spread.value == pytest.approx(BEST_SD)
    assert (spread.low, spread.high) == pytest.approx((BEST_SD - 1.96 * ERROR, BEST_SD + 1.96 * ERROR), abs=2e-3)
    assert spread.status == "ok"
    # where no spread tried is unlikely enough there is no upper end
    short, best = mixture(sleep, np.linspace(0.0, 8.0, 401))
    assert (short.spread(best).high, short.spread(best).status) == (None, "bounded")
    # and a spread that may be nought has nought for its lower end
    near, best = mixture(sleep, np.linspace(4.0, 12.0, 401))
    assert near.spread(best).low == pytest.approx(4.0)


def test_a_mixture_has_the_mean_of_its_parts_and_their_spread_and_how_they_differ(sleep: MixedFit) -> None:
    found, _ = mixture(sleep, np.linspace(2.0, 10.0, 9))
    shifted = [
        replace(fit, coefficients=fit.coefficients + np.array([0.0, 0.2 * number]))
        for number, fit in enumerate(found.fits)
    ]
    moved = replace(found, fits=tuple(shifted))
    values = np.array([fit.combine(RATE)[0] for fit in shifted])
    variances = np.array([fit.combine(RATE)[1] ** 2 for fit in shifted])
    mean = float(moved.weights @ values)
    variance = float(moved.weights @ (variances + (values - mean) ** 2))
    assert moved.combine(RATE)[:2] == pytest.approx((mean, variance**0.5))
    # one more shaft has an own rate besides, spread as each part has it
    own = moved.sd**2
    told = moved.predict_another(RATE)
    assert told == pytest.approx((mean, float(moved.weights @ (variances + own + (values - mean) ** 2))))
    # degrees of freedom: twice the square of the mean variance over how that varies (Satterthwaite)
    each = variances + own
    middle = float(moved.weights @ each)
    expected = 2 * middle**2 / float(moved.weights @ (each - middle) ** 2)
    assert moved.freedom(RATE) == pytest.approx(expected)


def test_a_spread_has_the_interval_of_a_chi_square_with_the_degrees_of_freedom_of_its_error(sleep: MixedFit) -> None:
    for component in (0, 1):
        variance, error = float(sleep.variances[component]), float(sleep.variance_covariance[component, component])
        # a chi-square with f degrees of freedom has twice its mean squared over f for a variance
        freedom = 2 * variance**2 / error
        found = _spread(sleep, component)
        assert found.value == pytest.approx(variance**0.5)
        assert found.low == pytest.approx((variance * freedom / chi2.isf(0.025, freedom)) ** 0.5)
        assert found.high == pytest.approx((variance * freedom / chi2.isf(0.975, freedom)) ** 0.5)
