"""How hollows go with wear: the line is that of a published example, and its interval covers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.wear.profile import shape_with_depth
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray


def test_known_error_regression_as_published() -> None:
    # W. A. Fuller, Measurement Error Models, Wiley 1987, example 1.2.1: the error variance of nitrogen is 57, the least
    # squares slope 0.34404, the corrected one 0.4232, the mean yield 97.4545
    corn = reference_frame("corn_nitrogen.csv")
    yields, nitrogen = (corn[name].to_numpy(dtype=float) for name in ("yield_", "nitrogen"))
    line = shape_with_depth(yields, np.zeros(11), nitrogen, np.full(11, 57**0.5))
    assert line.per_10_um.value == pytest.approx(4.232, abs=5e-4)
    assert line.at_mean_um.value == pytest.approx(97.4545, abs=5e-5)
    plain = shape_with_depth(yields, np.zeros(11), nitrogen, np.zeros(11))
    assert plain.per_10_um.value == pytest.approx(3.4404, abs=5e-4)


def test_error_of_the_slope_as_published() -> None:
    # W. A. Fuller, Measurement Error Models, Wiley 1987, example 1.2.1: standard error 0.174 of the slope, by the
    # formula for equal error variances (equation 1.2.16, from memory); here each residual counts for itself
    corn = reference_frame("corn_nitrogen.csv")
    yields, nitrogen = (corn[name].to_numpy(dtype=float) for name in ("yield_", "nitrogen"))
    slope = shape_with_depth(yields, np.zeros(11), nitrogen, np.full(11, 57**0.5)).per_10_um
    assert slope.high is not None
    assert slope.low is not None
    assert (slope.high - slope.low) / 2 / stats.t.ppf(0.975, 9) / 10 == pytest.approx(0.174, rel=0.25)


def _draw(
    shafts: int, per_um: float, *, reliability: float | None = None, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    wear = rng.gamma(2.0, 18.0, shafts)
    wear_sd = rng.uniform(4.0, 8.0, shafts)
    if reliability is not None:  # the variance of the true wear is 648
        wear_sd = np.sqrt(648.0 * (1 / reliability - 1)) * rng.uniform(0.7, 1.3, shafts)
    shape_sd = rng.uniform(1.0, 4.0, shafts)
    shape = 6.0 + per_um * (wear - 36.0) + rng.normal(0.0, 5.0, shafts)
    return shape + rng.normal(0.0, shape_sd), shape_sd, wear + rng.normal(0.0, wear_sd), wear_sd


@pytest.mark.parametrize("per_um", [0.0, 0.15])
def test_the_interval_covers(per_um: float) -> None:
    rng = np.random.default_rng(1)
    lines = [shape_with_depth(*_draw(80, per_um, rng=rng)).per_10_um for _ in range(600)]
    inside = [line.low <= 10 * per_um <= line.high for line in lines if line.low is not None and line.high is not None]
    assert np.mean(inside) > 0.93 - 2 * 0.0104
    assert np.mean([line.value for line in lines if line.value is not None]) == pytest.approx(10 * per_um, abs=0.05)


@pytest.mark.parametrize("shafts", [12, 40])
def test_the_interval_covers_where_wear_is_badly_read(shafts: int) -> None:
    rng = np.random.default_rng(2)
    lines = [shape_with_depth(*_draw(shafts, 0.5, reliability=0.7, rng=rng)).per_10_um for _ in range(600)]
    inside = [line.low <= 5.0 <= line.high for line in lines if line.low is not None and line.high is not None]
    # without the doubt of the reliability 0.86 and 0.90
    assert np.mean(inside) > 0.93 - 2 * 0.0104


def test_few_or_alike_shafts_tell_nothing() -> None:
    few = shape_with_depth(np.ones(5), np.ones(5), np.arange(5.0), np.ones(5))
    assert few.per_10_um.status == "none"
    alike = shape_with_depth(np.ones(20), np.ones(20), np.full(20, 30.0), np.ones(20))
    assert alike.per_10_um.status == "none"
    assert alike.per_10_um.code == WearRemark.SHAPE_ALIKE
