"""The likelihood against one written out fitting by fitting, and its derivative against differences."""

from collections.abc import Callable

import numpy as np
import pytest

from wearstats.analysis.gaps.nodes import FLEET_NODES, GapNodes
from wearstats.analysis.loosening.likelihood import LooseningData, log_likelihood, spoiled_chances
from wearstats.analysis.survival.reporting import SilentHistories

N, NODES = 40, 5


def some_histories(rng: np.random.Generator) -> SilentHistories:
    """Histories of every kind, up to three on a shaft, some known late."""
    kind = rng.integers(4, size=N)  # failed unasked, failed asked, silent, followed
    failed = kind < 2
    entry = np.where(rng.random(N) < 0.3, 2.0, 0.0)
    left = entry + rng.uniform(0, 12, N)
    return SilentHistories(
        left=left + np.where(kind == 2, 8.0, 0.0),
        right=np.where(failed, left + rng.uniform(0.5, 6, N), np.inf),
        entry=entry,
        silent_from=np.where(kind == 2, left, np.nan),
        last_word=left,
        failed=failed,
        unasked=kind == 0,
        asked=kind == 1,
        shaft=rng.integers(20, size=N),
    )


def written_out(
    h: SilentHistories,
    gap: np.ndarray,
    z: np.ndarray,
    x: np.ndarray,
    fleet: np.ndarray | None = None,
    spoiled: np.ndarray | None = None,
) -> float:
    level, slope, effect, shape, p = x[0], x[1], x[2], np.exp(x[3]), 1 / (1 + np.exp(-x[4]))
    any_gap = np.zeros(0) if fleet is None else fleet
    wrong = np.zeros(N) if spoiled is None else spoiled
    total = 0.0
    for shaft in np.unique(h.shaft):
        joint, entered = np.ones(NODES), np.ones(NODES)
        for i in np.flatnonzero(h.shaft == shaft):

            def tight(month: float, um: float, i: int = int(i)) -> float:
                return float(np.exp(-np.exp(level + slope * um + effect * z[i, 0]) * (month / 12) ** shape))

            def adds(um: float, i: int = int(i), tight: Callable[[float, float], float] = tight) -> float:
                if h.failed[i]:
                    told = p if h.unasked[i] else 1 - p
                    return float((tight(h.left[i], um) - tight(h.right[i], um)) * told)
                if np.isnan(h.silent_from[i]):
                    return tight(h.left[i], um)
                return float((1 - p) * tight(h.silent_from[i], um) + p * tight(h.left[i], um))

            def enters(um: float, i: int = int(i), tight: Callable[[float, float], float] = tight) -> float:
                return tight(h.entry[i], um)

            def mixed(of: Callable[[float], float], k: int, i: int = int(i)) -> float:
                if not wrong[i]:
                    return of(gap[i, k])
                any_of = float(np.mean([of(um) for um in any_gap]))
                return float((1 - wrong[i]) * of(gap[i, k]) + wrong[i] * any_of)

            for k in range(NODES):
                joint[k] *= mixed(adds, k)
                entered[k] *= mixed(enters, k)
        total += float(np.log(joint.mean()) - np.log(entered.mean()))
    return total


@pytest.mark.parametrize("seed", range(3))
def test_value_is_the_one_written_out(seed: int) -> None:
    rng = np.random.default_rng(seed)
    histories, gap, beside = some_histories(rng), rng.uniform(0, 3, (N, NODES)), rng.random((N, 1))
    x = np.array([-1.5, 0.4, -0.3, 0.2, 0.5])
    data = LooseningData.of(histories, gap[..., None], beside)
    value, score = log_likelihood(data, x)
    assert value == pytest.approx(written_out(histories, gap, beside, x), abs=1e-9)
    differences = [(log_likelihood(data, x + s)[0] - log_likelihood(data, x - s)[0]) / 2e-5 for s in 1e-5 * np.eye(5)]
    assert score == pytest.approx(differences, abs=1e-5)


@pytest.mark.parametrize("seed", range(3))
def test_records_that_may_be_wrong_are_mixed_fitting_by_fitting(seed: int) -> None:
    rng = np.random.default_rng(seed)
    histories, gap, beside = some_histories(rng), rng.uniform(0, 3, (N, NODES)), rng.random((N, 1))
    spoiled = np.where(rng.random(N) < 0.3, 0.0, rng.uniform(0, 0.5, N))
    gaps = GapNodes(value_um=gap, shaft=histories.shaft, spoiled=spoiled)
    data = LooseningData.of_gaps(histories, gaps, lambda um: um[..., None], beside)
    assert gaps.fleet_um.size == FLEET_NODES
    x = np.array([-1.5, 0.4, -0.3, 0.2, 0.5])
    value, score = log_likelihood(data, x)
    assert value == pytest.approx(written_out(histories, gap, beside, x, gaps.fleet_um, spoiled), abs=1e-9)
    differences = [(log_likelihood(data, x + s)[0] - log_likelihood(data, x - s)[0]) / 2e-5 for s in 1e-5 * np.eye(5)]
    assert score == pytest.approx(differences, abs=1e-5)


def test_a_gap_that_does_not_fit_is_taken_for_a_wrong_record() -> None:
    rng = np.random.default_rng(4)
    histories, beside = some_histories(rng), rng.random((N, 1))
    gap = rng.uniform(0, 3, (N, NODES))
    watched = int(np.argmax(np.where(histories.failed, 0.0, histories.last_word)))
    gap[watched] = 5400.0  # a slipped decimal, in 10 um
    gaps = GapNodes(value_um=gap, shaft=np.arange(N), spoiled=np.full(N, 0.01))
    data = LooseningData.of_gaps(histories, gaps, lambda um: um[..., None], beside)
    x = np.array([-1.5, 0.4, -0.3, 0.2, 0.5])
    chance = spoiled_chances(data, x)[np.argsort(np.argsort(histories.shaft, kind="stable"))]
    assert chance[watched] == pytest.approx(1.0)
    assert np.median(chance) < 0.03
