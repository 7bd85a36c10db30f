"""Spreads that are hardly known have no upper end, and say so without a library's warning."""

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gauging.quality import _after_check_piece, _mean_bias, _root, grr_percent, trade_figures
from wearstats.analysis.numerics.remarks import RemlRemark
from wearstats.analysis.remark import remark
from wearstats.analysis.widths.components import COMPONENTS, MAP_COMPONENTS
from wearstats.analysis.widths.fitted import WidthFit


@pytest.mark.parametrize(("variance", "se"), [(1e-6, 10.0), (1e-300, 1.0)])
def test_a_variance_hardly_known_is_bounded_below_alone(variance: float, se: float) -> None:
    found = _root(variance, se, method=remark(RemlRemark.PLAIN), status="ok")
    assert found.value == pytest.approx(variance**0.5)
    assert found.low == 0.0
    assert found.high is None


def spreads(seed: int = 1) -> WidthFit:
    """Variances known with errors that hang together; no more of a fit than is asked."""
    rng = np.random.default_rng(seed)
    variances = rng.uniform(4.0, 60.0, len(COMPONENTS))
    root = 0.2 * variances[:, None] * rng.standard_normal((len(COMPONENTS), len(COMPONENTS))) / 4
    told = {name: Estimate(value=variance**0.5) for name, variance in zip(COMPONENTS, variances, strict=True)}
    given = SimpleNamespace(variances=variances, variance_covariance=root @ root.T, components_um=told)
    return cast(WidthFit, given)


def named(*names: str) -> np.ndarray:
    return np.array([float(name in names) for name in COMPONENTS])


def by_differences(fit: WidthFit, weights: np.ndarray, step: float, at: int) -> tuple[float, float]:
    """Bias left once a pin was read, and its standard error by differences of the variances."""

    def left(variances: np.ndarray) -> float:
        # two readings of one thing: the pin's error is the bias and a reading's, the bias by itself is wanted
        bias, reading = float(weights @ variances), float(variances[at]) + step**2 / 12
        both = np.array([[bias, bias], [bias, bias + reading]])
        return float(both[0, 0] - both[0, 1] ** 2 / both[1, 1])

    moves = 1e-4 * np.eye(len(COMPONENTS))
    slope = np.array([(left(fit.variances + move) - left(fit.variances - move)) / 2e-4 for move in moves])
    return left(fit.variances), float(slope @ fit.variance_covariance @ slope) ** 0.5


@pytest.mark.parametrize("step", [0.0, 10.0])
def test_what_a_check_piece_leaves_of_the_bias(step: float) -> None:
    fit, weights = spreads(), named("measurer_home", "inspection_home")
    found = _after_check_piece(fit, "home", weights, step=step, status="ok")
    left, error = by_differences(fit, weights, step, COMPONENTS.index("repeatability_home"))
    assert found.value == pytest.approx(left**0.5)
    assert found.low is not None
    assert found.high is not None
    # even on the logarithm: of the variance by 1.96 standard errors over itself, of its root by half of that
    assert np.log(found.high / found.low) == pytest.approx(1.959964 * error / left, rel=1e-5)
    assert found.high * found.low == pytest.approx(left)


def test_six_standard_deviations_of_a_reading_in_percent_of_the_width_that_decides() -> None:
    fit = spreads()
    names = ("measurer_workshop", "inspection_workshop", "repeatability_workshop")
    weights = named(*names)
    found = grr_percent(fit, "workshop", width_um=25.0)
    variance = float(weights @ fit.variances)
    assert found.value == pytest.approx(100 * 6 * variance**0.5 / 25.0)
    assert found.low is not None
    assert found.high is not None
    error = float(weights @ fit.variance_covariance @ weights) ** 0.5
    assert found.value is not None
    assert np.log(found.high / found.low) == pytest.approx(1.959964 * error / variance, rel=1e-5)
    assert found.high * found.low == pytest.approx(found.value**2)
    assert found.status == "ok"


def test_the_share_of_a_gauge_study_has_its_interval_even_on_the_logit() -> None:
    fit = spreads()
    own, part = named("measurer_home", "inspection_home", "repeatability_home"), named(*MAP_COMPONENTS)
    error, spread = float(own @ fit.variances), float(part @ fit.variances)
    told = trade_figures(fit, "home")
    percent = told.grr_percent_of_study
    assert percent.value == pytest.approx(100 * (error / (error + spread)) ** 0.5)
    assert told.ndc == int(1.41 * (spread / error) ** 0.5)

    def logit(variances: np.ndarray) -> float:
        return float(np.log((own @ variances) / (part @ variances)))

    moves = 1e-4 * np.eye(len(COMPONENTS))
    slope = np.array([(logit(fit.variances + move) - logit(fit.variances - move)) / 2e-4 for move in moves])
    reach = 1.959964 * float(slope @ fit.variance_covariance @ slope) ** 0.5
    for end, side in ((percent.low, -1), (percent.high, 1)):
        assert end == pytest.approx(100 / (1 + np.exp(-logit(fit.variances) - side * reach)) ** 0.5, rel=1e-5)


def test_a_bias_that_nothing_ties_to_the_workshop_is_told_by_what_is_assumed() -> None:
    untied = cast(WidthFit, SimpleNamespace(mean_of=lambda _: None))
    # owners on the whole lie within 4 um of the workshop, SD
    assert (_mean_bias(untied, "home").low, _mean_bias(untied, "home").high) == pytest.approx((-7.84, 7.84), abs=0.01)
    assert _mean_bias(untied, "home").status == "assumed"
    assert _mean_bias(untied, "workshop").high == 0.0
    tied = cast(WidthFit, SimpleNamespace(mean_of=lambda _: (3.0, 0.5)))
    found = _mean_bias(tied, "home")
    assert (found.low, found.value, found.high) == pytest.approx((3 - 0.98, 3.0, 3 + 0.98), abs=1e-3)


def test_what_a_check_piece_leaves_of_a_stated_bias_is_told_without_an_interval() -> None:
    fit = spreads()
    stated = cast(
        WidthFit,
        SimpleNamespace(variances=fit.variances, variance_covariance=0 * fit.variance_covariance),
    )
    weights = named("measurer_home", "inspection_home")
    found = _after_check_piece(stated, "home", weights, step=10.0, status="assumed")
    left, _ = by_differences(stated, weights, 10.0, COMPONENTS.index("repeatability_home"))
    assert found.value == pytest.approx(left**0.5)
    assert (found.low, found.high, found.status) == (None, None, "assumed")
