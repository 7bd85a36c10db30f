"""Chances off the table are those worked out gap by gap and law by law, and the law's doubt is averaged as drawn."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.loosening.predictor import LineTerm, LooseningLaw
from wearstats.analysis.stock.sizes.gap_chances import GapChances

ROOT = np.random.default_rng(2).normal(0.0, 0.12, (6, 6))
LAW = LooseningLaw(
    names=("heavy", "filed"),
    covariate_means=np.array([0.4, 0.5]),
    parameters=np.array([-3.0, 0.5, 0.3, -0.2, np.log(1.4), 0.0]),
    covariance=ROOT @ ROOT.T,
    term=LineTerm(centre_um=10.0),
)
BESIDE = np.array([[0.6, 0.5], [-0.4, 0.5], [0.6, 0.5]])
GAPS = np.random.default_rng(3).uniform(0.0, 70.0, (3, 40))
WEIGHT = np.random.default_rng(4).uniform(0.0, 1.0, (3, 40))


def by_hand(parameters: np.ndarray, shaft: int, gap: float, months: float) -> float:
    """Weibull by its cumulative hazard at a year, as the law is written down."""
    line = parameters[0] + parameters[1] * (gap - 10) / 10 + BESIDE[shaft] @ parameters[2:4]
    return float(1 - np.exp(-np.exp(line) * (months / 12) ** np.exp(parameters[4])))


@pytest.mark.parametrize("months", [6.0, 12.0])
def test_means_are_those_of_every_draw_by_every_law(months: float) -> None:
    normal = np.random.default_rng(5).standard_normal((2000, 6))
    table = GapChances.of(LAW, BESIDE, months, normal=normal)
    mean, laws = table.means(GAPS, WEIGHT)
    for shaft in range(3):
        truth = np.mean([w * by_hand(LAW.parameters, shaft, gap, months) for gap, w in
                         zip(GAPS[shaft], WEIGHT[shaft], strict=True)])  # fmt: skip
        assert laws[0, shaft] == pytest.approx(truth, rel=2e-3)
        # the drawn laws' average is the quadrature's, as far as 2000 of them tell
        spread = laws[1:, shaft].std() / 2000**0.5
        assert mean[shaft] == pytest.approx(laws[1:, shaft].mean(), abs=4 * spread)
    assert table.best(GAPS)[1, 7] == pytest.approx(by_hand(LAW.parameters, 1, GAPS[1, 7], months), rel=2e-3)


def test_without_a_law_nothing_works_loose() -> None:
    mean, laws = GapChances.of(None, BESIDE, 12.0, normal=np.empty((4, 1))).means(GAPS, WEIGHT)
    assert not mean.any()
    assert laws.shape == (5, 3)
