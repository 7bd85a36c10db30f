"""Normal numbers in opposite pairs."""

from __future__ import annotations

import numpy as np

from wearstats.domain.arrays import FloatArray


def opposite_pairs(rng: np.random.Generator, draws: int, size: int) -> FloatArray:
    """Draw standard normal numbers in opposite pairs, so that means are exact, shape (draws, size)."""
    half = rng.standard_normal(((draws + 1) // 2, size))
    return np.concatenate([half, -half])[:draws]
