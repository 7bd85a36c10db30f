"""The likelihood against one written out fitting by fitting, and its derivative against differences."""

import numpy as np
import pytest

from wearstats.analysis.loosening.likelihood import LooseningData, log_likelihood
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


def written_out(h: SilentHistories, gap: np.ndarray, z: np.ndarray, x: np.ndarray) -> float:
    level, slope, effect, shape, p = x[0], x[1], x[2], np.exp(x[3]), 1 / (1 + np.exp(-x[4]))
    total = 0.0
    for shaft in np.unique(h.shaft):
        joint, entered = np.ones(NODES), np.ones(NODES)
        for i in np.flatnonzero(h.shaft == shaft):
            for k in range(NODES):

                def tight(month: float, i: int = int(i), k: int = k) -> float:
                    return float(np.exp(-np.exp(level + slope * gap[i, k] + effect * z[i, 0]) * (month / 12) ** shape))

                if h.failed[i]:
                    part = (tight(h.left[i]) - tight(h.right[i])) * (p if h.unasked[i] else 1 - p)
                elif np.isnan(h.silent_from[i]):
                    part = tight(h.left[i])
                else:
                    part = (1 - p) * tight(h.silent_from[i]) + p * tight(h.left[i])
                joint[k] *= part
                entered[k] *= tight(h.entry[i])
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
