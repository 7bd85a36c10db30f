"""Rates of rare events, and whether two differ by more than chance: exact, for the numbers are small.

Given the sum of two Poisson counts, the first is binomial with the share of the first's time under observation,
whatever the common rate is [1]_. Many comparisons made together are told with Holm's step-down p-values [2]_, which
keep the chance of even one false alarm under the level whatever the comparisons have in common.

References
----------
.. [1] J. Przyborowski, H. Wilenski, Homogeneity of results in testing samples from Poisson series, Biometrika 31 (1940)
   313-323.
.. [2] S. Holm, A simple sequentially rejective multiple test procedure, Scand. J. Stat. 6 (1979) 65-70.
.. [3] F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437-442.
"""

from __future__ import annotations

from dataclasses import dataclass

import scipy
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.analysis.rates.two_by_two import clopper_pearson
from wearstats.analysis.remark import Remark, remark


@dataclass(frozen=True, slots=True, kw_only=True)
class RateChange:
    """One rate against another.

    Parameters
    ----------
    ratio : Estimate
        First rate over second, exact interval.
    p_value : float
        Two-sided: all splits of the sum that are no likelier than the one seen; 1 where nothing happened.
    """

    ratio: Estimate
    p_value: float


def poisson_interval(events: int, *, level: float = 0.95) -> tuple[float, float]:
    """Give the exact interval of a Poisson mean [3]_."""
    tail = (1.0 - level) / 2
    low = float(special.gammaincinv(events, tail)) if events else 0.0
    return low, float(special.gammaincinv(events + 1, 1.0 - tail))


def rate_estimate(events: int, time: float, *, per: float = 1.0, level: float = 0.95) -> Estimate:
    """Give a rate with its exact interval.

    Parameters
    ----------
    events : int
        How many.
    time : float
        In how long, above 0 where there is a rate.
    per : float
        Time to which the rate refers: 100 for events in 100 hub-months.
    level : float
        Coverage, never less.
    """
    if time <= 0:
        return no_estimate(remark(RateRemark.NOT_IN_USE))
    low, high = poisson_interval(events, level=level)
    return Estimate(
        value=per * events / time,
        low=per * low / time,
        high=per * high / time,
        level=level,
        method=remark(RateRemark.POISSON, events=events, time=time),
        status="ok" if events else "bounded",
    )


def compare_rates(first: int, first_time: float, second: int, second_time: float, *, level: float = 0.95) -> RateChange:
    """Compare two rates, given the sum of the counts [1]_.

    Parameters
    ----------
    first, second : int
        Events.
    first_time, second_time : float
        Time under observation.
    level : float
        Coverage of the interval of the ratio.

    Returns
    -------
    RateChange
    """
    total = first + second
    if total == 0 or min(first_time, second_time) <= 0:
        why = RateRemark.NOTHING_HAPPENED if total == 0 else RateRemark.NOT_OBSERVED
        return RateChange(ratio=no_estimate(remark(why)), p_value=1.0)
    share = first_time / (first_time + second_time)
    p_value = float(scipy.stats.binomtest(first, total, share).pvalue)
    split = clopper_pearson(first, total, level=level)
    odds = [_odds(end) for end in (split.value, split.low, split.high)]
    value, low, high = (None if end is None else end * second_time / first_time for end in odds)
    return RateChange(
        ratio=Estimate(
            value=value,
            low=low,
            high=high,
            level=level,
            method=remark(
                RateRemark.GIVEN_SUM, first=first, first_time=first_time, second=second, second_time=second_time
            ),
            status="ok" if first and second else "bounded",
        ),
        p_value=p_value,
    )


def _odds(share: float | None) -> float | None:
    return None if share is None or share >= 1.0 else share / (1.0 - share)


def predicted_count(events: int, time: float, ahead: float, *, told: Remark | str, level: float = 0.90) -> Estimate:
    """Predict a count from a rate that is all that is known: the rate's own doubt and the count's chance together.

    Parameters
    ----------
    events : int
        Seen so far.
    time, ahead : float
        In how long they were seen, and how long is predicted, in one unit.
    told : Remark or str
        What is counted.
    level : float
        Coverage.

    Returns
    -------
    Estimate
        Of the gamma-Poisson mixture with half an event put to those seen (Jeffreys).
    """
    if time <= 0:
        return no_estimate(remark(RateRemark.NOTHING_TO_FORETELL, told=told))
    tail = (1.0 - level) / 2
    shape, odds = events + 0.5, time / (time + ahead)
    low, high = (float(scipy.stats.nbinom.ppf(end, shape, odds)) for end in (tail, 1.0 - tail))
    return Estimate(
        value=shape * ahead / time,
        low=low,
        high=high,
        level=level,
        method=remark(RateRemark.ONE_RATE, told=told, events=events, time=time),
        status="ok" if events else "bounded",
    )
