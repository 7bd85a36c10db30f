"""How often an ordinary test calls a difference that is not there, when it is looked at again and again.

References
----------
.. [1] P. Armitage, C. K. McPherson, B. C. Rowe, Repeated significance tests on accumulating data, J. R. Statist. Soc. A
   132 (1969) 235-244.
.. [2] C. Jennison, B. W. Turnbull, Group Sequential Methods, Chapman & Hall/CRC 2000, chapter 19 (the integration).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

_NODES = 160


def false_alarm_chance(limits: ArrayLike) -> float:
    """Give the chance that a normal test ever passes its limit, though there is nothing to find [1]_.

    Parameters
    ----------
    limits : array_like, shape (looks,)
        Two-sided limit of the standardised statistic at each of equally spaced looks.

    Notes
    -----
    The density of the sum that has not yet passed is carried from look to look on Gauss-Legendre nodes [2]_.
    """
    bounds = np.asarray(limits, dtype=float) * np.sqrt(np.arange(1, np.size(limits) + 1))
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    still = 1.0
    at, density = np.zeros(1), np.ones(1)  # before the first look all mass stands at zero
    for bound in bounds:
        new = bound * nodes
        density = np.exp(-((new[:, None] - at[None, :]) ** 2) / 2) / np.sqrt(2 * np.pi) @ density
        at, density = new, density * bound * weights
        still = float(density.sum())
    return 1.0 - still


def ordinary_false_alarms(looks: int, *, level: float = 0.95) -> float:
    """Give that chance for a test at one nominal level, looked at so many times."""
    return false_alarm_chance(np.full(looks, float(special.ndtri((1 + level) / 2))))
