"""What each fitting contributes to a curve, against outcomes that are known and against leaving one out."""

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.silent_fleet import SilentFleet
from wearstats.analysis.survival.pseudo_values import pseudo_values
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.analysis.survival.turnbull import find_cells, fit_cells


def test_known_outcomes_are_their_own_pseudo_values() -> None:
    left = np.array([3.0, 8.0, 20.0, 20.0, 15.0])
    right = np.array([3.0, 8.0, np.inf, np.inf, 15.0])
    weight = np.array([1.0, 2.0, 1.0, 1.0, 3.0])
    cells = find_cells(left, right)
    curve = fit_cells(cells, weight)
    found = pseudo_values(cells, curve, weight, 12.0, unreported=1.0)
    assert found == pytest.approx([1, 1, 0, 0, 0], abs=1e-6)


@pytest.fixture(scope="module")
def frame() -> pd.DataFrame:
    return SilentFleet(fittings=120).draw(np.random.default_rng(21))


def test_mean_is_the_curve_and_each_is_near_the_one_left_out(frame: pd.DataFrame) -> None:
    told = SilentHistories.from_frame(frame)
    cells, weight = told.cells(), np.ones(len(told))
    curve = fit_cells(cells, weight, unreported=0.4, tolerance=1e-10)
    found = pseudo_values(cells, curve, weight, 12.0, unreported=0.4)
    share = float(curve.share_failed(12.0))
    assert found.mean() == pytest.approx(share, abs=1e-6)
    without = np.empty(len(told))
    for row in range(len(told)):
        kept = weight.copy()
        kept[row] = 0.0
        without[row] = fit_cells(
            cells, kept, unreported=0.4, start=0.99 * curve.mass + 0.01 / curve.mass.size
        ).share_failed(12.0)
    jackknife = len(told) * share - (len(told) - 1) * without
    assert np.corrcoef(found, jackknife)[0, 1] > 0.99
    assert found.std() == pytest.approx(jackknife.std(), rel=0.1)


def test_failures_lie_high_and_what_is_followed_through_lies_at_zero(frame: pd.DataFrame) -> None:
    told = SilentHistories.from_frame(frame)
    cells, weight = told.cells(), np.ones(len(told))
    curve = fit_cells(cells, weight, unreported=0.4)
    found = pseudo_values(cells, curve, weight, 12.0, unreported=0.4)
    early = frame["first_bad_months"].le(12).to_numpy()
    through = (frame["observed_months"].ge(12) & frame["outcome"].ne("failed")).to_numpy()
    assert found[early].min() > 0.5
    assert np.abs(found[through]).max() < 0.3
    assert np.median(found[through]) < found.mean()


def test_means_by_a_covariate_are_its_own_risks() -> None:
    # 9000 fittings in three kinds with risks 5, 10 and 20 in 100, followed alike; standard errors about 0.007 to 0.01
    rng = np.random.default_rng(22)
    kind = rng.integers(3, size=9000)
    risk = np.array([0.05, 0.10, 0.20])
    nobody = np.zeros(kind.size, dtype=bool)
    frame = SilentFleet().follow(risk[kind], np.ones(kind.size), nobody, np.arange(kind.size), rng=rng)
    told = SilentHistories.from_frame(frame)
    cells, weight = told.cells(), np.ones(len(told))
    curve = fit_cells(cells, weight, unreported=0.4, tolerance=1e-6)
    found = pseudo_values(cells, curve, weight, 12.0, unreported=0.4)
    means = [found[kind == number].mean() for number in range(3)]
    assert means == pytest.approx(risk.tolist(), abs=0.03)
