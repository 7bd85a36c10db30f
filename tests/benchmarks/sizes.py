"""Time the best sets of sizes for a million shafts against clusters and against taking the best next size each time.

Run with ``python -m tests.benchmarks.sizes``. A million shafts, known to bins of mean need, hollow and doubt, 400 sizes
that can be made, 1 to 8 kept. Prints the times, what each way's sets cost, and how much more than the best that is.
"""

from __future__ import annotations

import time

import numpy as np
from scipy.stats import norm
from sklearn.cluster import KMeans

from wearstats.analysis.stock.sizes.best_sets import best_sets, cost_of_set, share_not_single_peaked

SHAFTS, MOST = 1_000_000, 8
SIZES_UM = np.arange(400) * 0.5
MINUTE, FAILURE, UNSERVED = 1.0, 400.0, 150.0


def invent(*, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Invent bins of what is known of the shafts, (bins, need mid hollow sd), and how many shafts lie in each."""
    need = np.minimum(rng.gamma(2.2, 22.0, SHAFTS), 190.0)
    hollow = rng.gamma(2.0, 2.0, SHAFTS)
    sd = rng.choice([2.0, 5.0, 8.0], SHAFTS, p=[0.2, 0.6, 0.2])
    binned = np.column_stack([np.round(need / 0.5) * 0.5, np.minimum(np.round(hollow / 3.0) * 3.0, 9.0), sd])
    return np.unique(binned, axis=0, return_counts=True)


def price(bins: np.ndarray) -> np.ndarray:
    """Price every pair: minutes of filing what is too tight, and failures by the gap left, both given the doubt."""
    need, hollow, sd = (bins[:, [column]] for column in range(3))
    tight = (SIZES_UM - need) / sd
    filing = sd * (tight * norm.cdf(tight) + norm.pdf(tight))
    left = sd * (norm.pdf(tight) - tight * norm.cdf(-tight)) + hollow
    failing = -np.expm1(-0.02 * np.exp(0.06 * np.minimum(left, 120.0)))
    cost = 3.0 * MINUTE * filing + FAILURE * failing
    return np.asarray(np.minimum(cost, UNSERVED + 0.01 * np.abs(tight)))


def greedy(cost: np.ndarray, weight: np.ndarray) -> list[tuple[int, ...]]:
    """Take the size that helps most, again and again."""
    floor, chosen, found = np.full(len(cost), np.inf), [], []
    for _ in range(MOST):
        chosen.append(int((weight @ np.minimum(floor[:, None], cost)).argmin()))
        floor = np.minimum(floor, cost[:, chosen[-1]])
        found.append(tuple(chosen))
    return found


def main() -> None:
    """Print the comparison."""
    bins, count = invent(rng=np.random.default_rng(1))
    cost, weight = price(bins), count.astype(float)
    print(
        f"{SHAFTS} shafts in {len(bins)} bins, {len(SIZES_UM)} sizes; not single-peaked:", share_not_single_peaked(cost)
    )
    began = time.perf_counter()
    best = best_sets(cost, most=MOST, weight=weight)
    print(f"best sets of 1 to {MOST}: {time.perf_counter() - began:.2f} s")
    began = time.perf_counter()
    grown = greedy(cost, weight)
    print(f"best next size each time: {time.perf_counter() - began:.2f} s")
    began = time.perf_counter()
    centres = [
        KMeans(k, n_init=1, random_state=1).fit(bins[:, :1], sample_weight=weight).cluster_centers_[:, 0]
        for k in range(1, MOST + 1)
    ]
    print(f"symmetric clusters: {time.perf_counter() - began:.2f} s")
    for k, found in enumerate(best):
        clustered = tuple(int(np.abs(SIZES_UM - um).argmin()) for um in np.sort(centres[k]))
        others = [cost_of_set(cost, sizes, weight=weight) for sizes in (grown[k], clustered)]
        print(
            f"{k + 1} sizes: {found.cost:.3f} a shaft, no set under {found.bound:.3f}; "
            f"one by one {others[0] / found.cost - 1:+.1%}, clusters {others[1] / found.cost - 1:+.1%}"
        )


if __name__ == "__main__":
    main()
