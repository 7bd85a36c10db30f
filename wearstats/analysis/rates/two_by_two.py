"""Proportions and two-by-two tables: exact where exact is wanted, score intervals where they are kinder.

Counts of fittings are small, so nothing here leans on a normal curve round a proportion (Wald), which fails there.

References
----------
.. [1] C. J. Clopper, E. S. Pearson, The use of confidence or fiducial limits, Biometrika 26 (1934) 404-413.
.. [2] R. G. Newcombe, Two-sided confidence intervals for the single proportion, Stat. Med. 17 (1998) 857-872.
.. [3] R. G. Newcombe, Interval estimation for the difference between independent proportions, Stat. Med. 17 (1998)
   873-890, method 10.
.. [4] A. Agresti, Categorical Data Analysis, 3rd ed., Wiley 2013, section 3.5.
.. [5] E. L. Korn, B. I. Graubard, Confidence intervals for proportions with small expected number of positive counts
   estimated from survey data, Survey Methodology 24 (1998) 193-201.
.. [6] G. Y. Zou, A. Donner, Construction of confidence limits about effect measures: a general approach, Stat. Med. 27
   (2008) 1693-1702.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import scipy
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.analysis.remark import remark


@dataclass(frozen=True, slots=True, kw_only=True)
class FourfoldTable:
    """Failures and fittings still tight in two groups.

    Parameters
    ----------
    first_failed, first_tight, second_failed, second_tight : int
        Counts, none negative.
    """

    first_failed: int
    first_tight: int
    second_failed: int
    second_tight: int

    @property
    def first_total(self) -> int:
        """Number in the first group."""
        return self.first_failed + self.first_tight

    @property
    def second_total(self) -> int:
        """Number in the second group."""
        return self.second_failed + self.second_tight

    @property
    def both_outcomes(self) -> bool:
        """Whether some failed and some are tight."""
        return self.first_failed + self.second_failed > 0 and self.first_tight + self.second_tight > 0

    def to_rows(self) -> list[list[int]]:
        """Give the table as rows of groups, failed before tight."""
        return [[self.first_failed, self.first_tight], [self.second_failed, self.second_tight]]


@dataclass(frozen=True, slots=True, kw_only=True)
class FisherResult:
    """Fisher's exact test of a fourfold table.

    Parameters
    ----------
    p_two_sided : float
        Sum of the probabilities of all tables no likelier than the one seen.
    p_greater : float
        One-sided: the first group fails more often.
    mid_p_two_sided, mid_p_greater : float
        The same, counting the table seen by half: less conservative, no longer guaranteed (section 3.5 of [4]_).
    odds_ratio : Estimate
        Conditional maximum likelihood odds ratio, first against second, with its exact interval.
    """

    p_two_sided: float
    p_greater: float
    mid_p_two_sided: float
    mid_p_greater: float
    odds_ratio: Estimate


def clopper_pearson(failures: int, total: int, *, level: float = 0.95) -> Estimate:
    """Give a proportion with its exact interval [1]_, which never covers less than `level`."""
    if total == 0:
        return no_estimate(remark(RateRemark.NO_FITTINGS))
    tail = (1 - level) / 2
    low = float(special.betaincinv(failures, total - failures + 1, tail)) if failures > 0 else 0.0
    high = float(special.betaincinv(failures + 1, total - failures, 1 - tail)) if failures < total else 1.0
    method = remark(RateRemark.CLOPPER_PEARSON)
    return Estimate(value=failures / total, low=low, high=high, level=level, method=method)


def upper_bound(failures: int, total: int, *, level: float = 0.95) -> Estimate:
    """Give a proportion with its one-sided exact upper bound, for where failures are too few to say more."""
    if total == 0:
        return no_estimate(remark(RateRemark.NO_FITTINGS))
    high = float(special.betaincinv(failures + 1, total - failures, level)) if failures < total else 1.0
    return Estimate(
        value=failures / total,
        low=0.0,
        high=high,
        level=level,
        method=remark(RateRemark.UPPER_BOUND, failures=failures, total=total),
        status="bounded",
    )


def wilson(failures: float, total: float, *, level: float = 0.95) -> Estimate:
    """Give a proportion with its score interval [2]_.

    Parameters
    ----------
    failures, total : float
        Counts; fractions are allowed, so that an effective number of fittings [5]_ may stand for the plain one.
    level : float
        Coverage meant.

    Returns
    -------
    Estimate
    """
    if total <= 0:
        return no_estimate(remark(RateRemark.NO_FITTINGS))
    z2 = float(special.ndtri((1 + level) / 2)) ** 2
    share = failures / total
    centre = (failures + z2 / 2) / (total + z2)
    half = math.sqrt(z2 * (share * (1 - share) * total + z2 / 4)) / (total + z2)
    # at none and at all failed one end is exact; rounding would leave it at 1e-17
    low = 0.0 if failures <= 0 else max(0.0, centre - half)
    high = 1.0 if failures >= total else min(1.0, centre + half)
    return Estimate(value=share, low=low, high=high, level=level, method=remark(RateRemark.WILSON))


def hybrid_difference(first: Estimate, second: Estimate, *, correlation: float = 0.0) -> Estimate:
    """Combine two intervals into one for the difference, first minus second.

    Parameters
    ----------
    first, second : Estimate
        Both with ends, at one level.
    correlation : float
        Between the two estimates, zero where the groups share no shaft.

    Returns
    -------
    Estimate
        Status ``none`` when either has no value or no ends.

    Notes
    -----
    Square-and-add [3]_: each limit of the difference uses the distances of the facing limits of the parts.
    """
    if first.value is None or second.value is None:
        return no_estimate(remark(RateRemark.NO_ESTIMATE))
    if first.low is None or first.high is None or second.low is None or second.high is None:
        return no_estimate(remark(RateRemark.NO_INTERVAL))
    below = (first.value - first.low, second.high - second.value)
    above = (first.high - first.value, second.value - second.low)
    low, high = _added(*below, correlation), _added(*above, correlation)
    difference = first.value - second.value
    return Estimate(
        value=difference,
        low=max(difference - low, -1.0),
        high=min(difference + high, 1.0),
        level=first.level,
        method=remark(RateRemark.DIFFERENCE),
    )


def hybrid_ratio(first: Estimate, second: Estimate, *, correlation: float = 0.0) -> Estimate:
    """Combine two intervals into one for the ratio, first over second.

    Parameters
    ----------
    first, second : Estimate
        Proportions, both with ends, at one level.
    correlation : float
        Between the two estimates.

    Returns
    -------
    Estimate
        Status ``none`` when either has no value or no ends, or when the second is zero.

    Notes
    -----
    Square-and-add on the logarithm [6]_. An end that is zero or that rests on one is 0 below and None above.
    """
    if first.value is None or second.value is None:
        return no_estimate(remark(RateRemark.NO_ESTIMATE))
    if first.low is None or first.high is None or second.low is None or second.high is None:
        return no_estimate(remark(RateRemark.NO_INTERVAL))
    if second.value <= 0:
        return no_estimate(remark(RateRemark.NO_RATIO))
    ratio = first.value / second.value
    low, high = 0.0, math.inf
    if first.low > 0:
        below = (math.log(first.value / first.low), math.log(second.high / second.value))
        low = ratio * math.exp(-_added(*below, correlation))
    if second.low > 0 and first.value > 0:
        above = (math.log(first.high / first.value), math.log(second.value / second.low))
        high = ratio * math.exp(_added(*above, correlation))
    elif second.low > 0:  # nothing failed in the first group: only its upper end is left
        high = first.high / second.low
    return Estimate(value=ratio, low=low, high=high, level=first.level, method=remark(RateRemark.RATIO))


def newcombe_difference(table: FourfoldTable, *, level: float = 0.95) -> Estimate:
    """Give the difference of two proportions failed, first minus second, by the hybrid score interval [3]_."""
    return hybrid_difference(
        wilson(table.first_failed, table.first_total, level=level),
        wilson(table.second_failed, table.second_total, level=level),
    )


def fisher_test(table: FourfoldTable, *, level: float = 0.95) -> FisherResult:
    """Test a fourfold table exactly, all margins held.

    Parameters
    ----------
    table : FourfoldTable
        First group against second.
    level : float
        Coverage of the interval of the odds ratio.

    Returns
    -------
    FisherResult
        The odds ratio is ``none`` where a whole margin is empty, and has no upper end where it may be infinite.
    """
    rows = table.to_rows()
    total = table.first_total + table.second_total
    failed = table.first_failed + table.second_failed
    seen = float(scipy.stats.hypergeom.pmf(table.first_failed, total, failed, table.first_total))
    two_sided = float(scipy.stats.fisher_exact(rows).pvalue)
    greater = float(scipy.stats.fisher_exact(rows, alternative="greater").pvalue)
    return FisherResult(
        p_two_sided=two_sided,
        p_greater=greater,
        mid_p_two_sided=two_sided - seen / 2,
        mid_p_greater=greater - seen / 2,
        odds_ratio=_conditional_odds_ratio(table, level),
    )


def _added(first: float, second: float, correlation: float) -> float:
    """Square and add two distances, less what the two estimates share."""
    return math.sqrt(max(first**2 + second**2 - 2 * correlation * first * second, 0.0))


def _conditional_odds_ratio(table: FourfoldTable, level: float) -> Estimate:
    if min(table.first_total, table.second_total) == 0 or not table.both_outcomes:
        return no_estimate(remark(RateRemark.EMPTY_MARGIN))
    result = scipy.stats.contingency.odds_ratio(table.to_rows(), kind="conditional")
    interval = result.confidence_interval(level)
    return Estimate(
        value=float(result.statistic),
        low=float(interval.low),
        high=float(interval.high),
        level=level,
        method=remark(RateRemark.CONDITIONAL),
    )
