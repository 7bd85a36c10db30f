"""Watching a rare event: whether it is more, or less, than the model expected.

*Risk-adjusted cumulative sum* [1]_. Every hub has its own chance p of being reported loose in a quarter, predicted
before the quarter. For odds R times as high a hub that fails adds ``log R - log(1 + (R - 1) p)`` and one that does not
``- log(1 + (R - 1) p)``; the sum is never let under 0. Its limits are in
`wearstats.analysis.monitoring.risk_adjusted_cusum`, failures in all over failures predicted in
`wearstats.analysis.monitoring.observed_expected`.

*Time between failures.* Measured in failures expected, the wait for the next is exponential with mean 1 while nothing
has changed.

References
----------
.. [1] S. H. Steiner, R. J. Cook, V. T. Farewell, T. Treasure, Monitoring surgical performance using risk-adjusted
   cumulative sum charts, Biostatistics 1 (2000) 441-452.
.. [2] L. S. Nelson, A control chart for parts-per-million nonconforming items, J. Qual. Technol. 26 (1994) 239-240.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import FloatArray, IntArray

NELSON_POWER = 0.2777


_D2 = 1.128


def binary_scores(risk: FloatArray, odds_ratio: float) -> tuple[FloatArray, FloatArray]:
    """Give what a hub adds that does not fail, and one that does [1]_; shape of `risk`."""
    stays = -np.log1p((odds_ratio - 1.0) * np.asarray(risk, dtype=float))
    return np.asarray(stays), np.asarray(stays + np.log(odds_ratio))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WaitChart:
    """Waits between failures, made nearly normal.

    Parameters
    ----------
    value : ndarray, shape (waits,)
        Waits to the power 1 / 3.6 [2]_.
    centre, low, high : float
        Their mean and the limits of individual values.
    outside : ndarray of int
        Which lie outside.
    """

    value: FloatArray
    centre: float
    low: float
    high: float
    outside: IntArray


def wait_chart(waits: FloatArray) -> WaitChart:
    """Chart waits without a model: each against the limits that all of them set [2]_.

    Parameters
    ----------
    waits : ndarray, shape (waits,)
        At least two, above 0, in any unit.
    """
    value = np.power(np.asarray(waits, dtype=float), NELSON_POWER)
    centre, reach = float(value.mean()), 3.0 * float(np.abs(np.diff(value)).mean()) / _D2
    outside = np.flatnonzero(np.abs(value - centre) > reach)
    return WaitChart(value=value, centre=centre, low=centre - reach, high=centre + reach, outside=outside)
