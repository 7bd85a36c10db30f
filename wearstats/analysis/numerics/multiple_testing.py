"""Several comparisons made together.

References
----------
.. [1] S. Holm, A simple sequentially rejective multiple test procedure, Scandinavian Journal of Statistics 6 (1979)
   65-70.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wearstats.domain.arrays import FloatArray


def holm(p_values: ArrayLike) -> FloatArray:
    """Adjust probabilities for having looked at several comparisons [1]_.

    Parameters
    ----------
    p_values : array_like, shape (comparisons,)
        In any order.

    Returns
    -------
    ndarray, shape (comparisons,)
        In the same order: the chance that any comparison without a difference looks so different is at most this.
    """
    p = np.asarray(p_values, dtype=float)
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1))
    adjusted = np.empty(p.size)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted
