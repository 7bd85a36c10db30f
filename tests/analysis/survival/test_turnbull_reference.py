"""Curves from intervals against published masses, and against a general optimiser."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize

from tests.analysis.support.reference_frames import reference_frame
from tests.analysis.support.turnbull import fit_turnbull
from wearstats.analysis.survival.turnbull import IntervalCells, find_cells, fit_cells
from wearstats.errors import AnalysisError

# Finkelstein, Wolfe, Biometrics 41 (1985); masses in Fay, Shaw, J. Stat. Softw. 36(2) (2010). Intervals are half-open:
# taken as closed the last mass of the first group would be 0.4598
COSMESIS_MASSES = {
    "Rad": {
        (4, 5): 0.0463, (6, 7): 0.0334, (7, 8): 0.0887, (11, 12): 0.0708, (24, 25): 0.0926, (33, 34): 0.0818,
        (38, 40): 0.1209, (46, 48): 0.4656,
    },
    "RadChem": {
        (4, 5): 0.0433, (5, 8): 0.0433, (11, 12): 0.0692, (16, 17): 0.1454, (18, 19): 0.1411, (19, 20): 0.1157,
        (24, 25): 0.0999, (30, 31): 0.0709, (35, 36): 0.1608, (44, 48): 0.0552, (48, 60): 0.0552,
    },
}  # fmt: skip


@pytest.mark.parametrize("group", ["Rad", "RadChem"])
def test_cosmesis_masses(group: str) -> None:
    data = reference_frame("breast_cosmesis.csv")
    data = data[data["group"] == group]
    curve = fit_turnbull(data["after_months"], data["by_months"])
    assert curve.gap <= 1e-8
    held = curve.mass > 1e-6
    cells = list(zip(curve.left[held].tolist(), curve.right[held].tolist(), strict=True))
    assert cells == list(COSMESIS_MASSES[group])
    np.testing.assert_allclose(curve.mass[held], list(COSMESIS_MASSES[group].values()), atol=5.5e-5)


def test_cosmesis_share_at_five_months() -> None:
    # Fay, Shaw (2010): S(5) = .9537 in the group without chemotherapy
    data = reference_frame("breast_cosmesis.csv")
    data = data[data["group"] == "Rad"]
    curve = fit_turnbull(data["after_months"], data["by_months"])
    assert 1 - curve.share_failed(5.0).item() == pytest.approx(0.9537, abs=5e-5)


def test_heat_exchanger_tubes() -> None:
    # Meeker, Escobar (1998), chapter 3: pooled share failed after 1, 2 and 3 years
    data = reference_frame("heat_exchanger_tubes.csv")
    curve = fit_turnbull(data["after_years"], data["by_years"], weight=data["tubes"])
    np.testing.assert_allclose(curve.share_failed([1, 2, 3]), [0.0133, 0.0384, 0.0582], atol=5e-5)


def _best_by_general_optimiser(cells: IntervalCells, unreported: float) -> float:
    """Maximum of the log likelihood written out cell by cell, over softmax-transformed masses."""
    number = np.arange(cells.left.size)
    covered = (cells.first[:, None] <= number) & (number < cells.stop[:, None])
    partly = (cells.soft_first[:, None] <= number) & (number < cells.first[:, None])
    share = covered + unreported * partly
    there = number >= cells.entry_stop[:, None]

    def cost(logits: NDArray[np.float64]) -> float:
        mass = np.exp(logits - logits.max())
        mass = mass / mass.sum()
        return float(-np.sum(np.log(share @ mass) - np.log(there @ mass)))

    starts = [np.zeros(number.size), np.linspace(-1, 1, number.size), np.linspace(1, -1, number.size)]
    return max(-float(minimize(cost, start, method="BFGS", options={"gtol": 1e-7}).fun) for start in starts)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("late", [False, True])
def test_silent_and_late_known_reach_the_maximum(seed: int, late: bool) -> None:
    rng = np.random.default_rng(seed)
    n = 12
    entry = np.where(rng.random(n) < 0.3, rng.integers(1, 4, n), 0).astype(float) if late else np.zeros(n)
    last = entry + rng.integers(1, 8, n)
    failed = rng.random(n) < 0.5
    silent = ~failed & (rng.random(n) < 0.7)
    left = np.where(silent, last + rng.integers(1, 8, n), last)
    right = np.where(failed, last + rng.integers(1, 5, n), np.inf)
    cells = find_cells(left, right, entry=entry, silent_from=np.where(silent, last, np.nan))
    curve = fit_cells(cells, np.ones(n), unreported=0.4)
    assert curve.log_likelihood == pytest.approx(_best_by_general_optimiser(cells, 0.4), abs=2e-4)


def test_data_that_cannot_answer() -> None:
    with pytest.raises(AnalysisError, match="0 intervals"):
        fit_turnbull([], [])
    with pytest.raises(AnalysisError, match="end before they begin"):
        fit_turnbull([3.0], [2.0])
    with pytest.raises(AnalysisError, match="before it was known"):
        fit_turnbull([3.0], [np.inf], entry=[4.0])
