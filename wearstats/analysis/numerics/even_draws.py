"""Normal numbers spread evenly, for averages over what is not known.

The points of a Sobol sequence, scrambled, fill the space of all doubts more evenly than numbers drawn one by one: as
many of them tell an average more closely [1]_. Each label's points are shifted by an amount of its own, round the edge:
labels then err independently, and a sum over many of them less than any one [2]_.

References
----------
.. [1] A. B. Owen, Scrambled net variance for integrals of smooth functions, Ann. Statist. 25 (1997) 1541-1562.
.. [2] R. Cranley, T. N. L. Patterson, Randomization of number theoretic methods for multiple integration, SIAM J.
   Numer. Anal. 13 (1976) 904-914.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
import scipy
from scipy.special import ndtri

from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.domain.arrays import FloatArray

_EDGE: Final = 2.0**-40


def even_normals(draws: NamedDraws, name: str, labels: Iterable[Any], *, log2_count: int, size: int) -> FloatArray:
    """Draw standard normal numbers for each label, evenly; the same for a label whatever the others are.

    Parameters
    ----------
    draws : NamedDraws
        Where they come from.
    name : str
        What is drawn.
    labels : iterable of n labels
        Whose draws they are.
    log2_count : int
        Binary logarithm of how many draws; only whole powers of 2 fill the space evenly.
    size : int
        Numbers a draw; the first should be those on which most hangs.

    Returns
    -------
    ndarray, shape (n, 2 ** log2_count, size)
    """
    scrambled = np.random.default_rng(draws.generator(name, "points").integers(2**63))
    points = scipy.stats.qmc.Sobol(size, scramble=True, rng=scrambled).random_base2(log2_count)
    shifts = np.stack([draws.generator(name, "shift", str(label)).random(size) for label in labels])
    moved = (points + shifts[:, None, :]) % 1.0
    return np.asarray(ndtri(np.clip(moved, _EDGE, 1.0 - _EDGE)))
