"""How batches came out: how far from what was meant on average, and how the hubs of one batch spread.

References
----------
.. [1] S. R. Searle, G. Casella, C. E. McCulloch, Variance Components, Wiley 1992, 3.6: one-way classification,
   unbalanced data, estimates by analysis of variance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Z95, Estimate, no_estimate
from wearstats.analysis.making.remarks import SpreadRemark
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray, IntArray

_EVENLY = 12.0**0.5
"""Standard deviations in the width of an even distribution."""
_TAILS = (0.025, 0.975)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSpread:
    """How batches of a pattern came out.

    Parameters
    ----------
    off_um : Estimate
        How much wider than meant a batch is on average, micrometres.
    within_um : Estimate
        Standard deviation of the hubs of one batch about its mean, micrometres.
    half_um : float or None
        How far from the middle nineteen in twenty hubs of any batch come out, micrometres; of plug gauges, half of how
        far these were apart. None where neither is known.
    batches, hubs : int
        What it is learnt from; no hubs where from plug gauges alone.
    """

    off_um: Estimate
    within_um: Estimate
    half_um: float | None
    batches: int
    hubs: int


def spread_of_gauged(off_um: FloatArray, within_um2: FloatArray, hubs: IntArray) -> BatchSpread:
    """Learn it from hubs that were gauged one by one [1]_.

    Parameters
    ----------
    off_um : ndarray, shape (batches,)
        Mean of each batch less what was meant.
    within_um2 : ndarray, shape (batches,)
        Sample variance of each; whatever, where a batch has one hub.
    hubs : ndarray of int, shape (batches,)
        Gauged hubs of each, 1 or more.

    Returns
    -------
    BatchSpread
        Estimates are ``none`` with fewer than two batches, or with no batch of two hubs. The interval of the average
        is Student's over batches, that of the spread by chi-squared.
    """
    freedom = int((hubs - 1).sum())
    off = _mean_off(off_um, remark(SpreadRemark.OF_GAUGED))
    if freedom < 1:
        within = no_estimate(remark(SpreadRemark.ONE_EACH))
    else:
        variance = float(((hubs - 1) * within_um2).sum()) / freedom
        low, high = np.sqrt(variance * freedom / special.chdtri(freedom, _TAILS))
        within = Estimate(value=variance**0.5, low=float(low), high=float(high), method=remark(SpreadRemark.OF_GAUGED))
    half = None
    if within.value is not None:
        half = Z95 * (within.value**2 + _between_um2(off_um, within.value**2, hubs)) ** 0.5
    return BatchSpread(off_um=off, within_um=within, half_um=half, batches=off_um.size, hubs=int(hubs.sum()))


def spread_of_plugs(go_um: FloatArray, no_go_um: FloatArray) -> BatchSpread:
    """Learn it from the plug gauges that batches were held between: a bound, hubs lying evenly between the two.

    Gauges are made to a design: of where batches came out on average they tell nothing.

    Parameters
    ----------
    go_um, no_go_um : ndarray, shape (batches,)
        Less what was meant; the second wider than the first.
    """
    half = float(np.mean(no_go_um - go_um)) / 2
    sd = 2 * half / _EVENLY
    within = Estimate(value=sd, low=0.0, high=sd, status="bounded", method=remark(SpreadRemark.OF_PLUGS))
    off = no_estimate(remark(SpreadRemark.OF_PLUGS))
    return BatchSpread(off_um=off, within_um=within, half_um=half, batches=go_um.size, hubs=0)


def _between_um2(off_um: FloatArray, within_um2: float, hubs: IntArray) -> float:
    """Give the variance of batches' true means, by analysis of variance [1]_; nothing where it comes out below."""
    if off_um.size < 2:
        return 0.0
    total = hubs.sum()
    mean = float((hubs * off_um).sum() / total)
    square = float((hubs * (off_um - mean) ** 2).sum()) / (off_um.size - 1)
    usual = float(total - (hubs**2).sum() / total) / (off_um.size - 1)
    return max((square - within_um2) / usual, 0.0)


def _mean_off(off_um: FloatArray, method: Remark) -> Estimate:
    if off_um.size < 2:
        return no_estimate(remark(SpreadRemark.ONE_BATCH))
    mean = float(off_um.mean())
    reach = float(special.stdtrit(off_um.size - 1, _TAILS[1])) * float(off_um.std(ddof=1)) / off_um.size**0.5
    return Estimate(value=mean, low=mean - reach, high=mean + reach, method=method)
