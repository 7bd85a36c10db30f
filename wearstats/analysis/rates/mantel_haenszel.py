"""Two groups compared inside strata and pooled: Mantel and Haenszel's odds ratio and risk difference.

Inside a stratum both groups met the same kind of shaft in the same season, so what differs between strata is not laid
at the methods' door. Both estimates and their variances hold for a few large strata and for many small ones alike.

References
----------
.. [1] N. Mantel, W. Haenszel, Statistical aspects of the analysis of data from retrospective studies of disease, J.
   Natl Cancer Inst. 22 (1959) 719-748.
.. [2] J. Robins, N. Breslow, S. Greenland, Estimators of the Mantel-Haenszel variance consistent in both sparse data
   and large-strata limiting models, Biometrics 42 (1986) 311-323.
.. [3] T. Sato, On the variance estimator for the Mantel-Haenszel risk difference, Biometrics 45 (1989) 1323-1324.
.. [4] N. E. Breslow, N. E. Day, Statistical Methods in Cancer Research I, IARC 1980, section 4.4.
.. [5] W. G. Cochran, Some methods for strengthening the common chi-squared tests, Biometrics 10 (1954) 417-451 (from
   memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.equal_odds import exact_equal_odds
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.analysis.rates.two_by_two import FourfoldTable
from wearstats.analysis.remark import remark


@dataclass(frozen=True, slots=True, kw_only=True)
class MantelHaenszelResult:
    """One odds ratio and one risk difference over strata.

    Parameters
    ----------
    odds_ratio : Estimate
        Mantel-Haenszel estimate [1]_ with the interval of Robins, Breslow and Greenland [2]_.
    difference : Estimate
        Mantel-Haenszel difference of the shares failed, first minus second, with Sato's interval [3]_.
    statistic, p_value : float or None
        Test that it is one, continuity-corrected, one degree of freedom.
    homogeneity_p : float or None
        That the strata share one odds ratio: exact, or Breslow and Day's test [4]_ where strata are large; None where
        strata are too many to count and too small for that test.
    strata, fittings : int
        Strata that hold both groups and both outcomes, on which the odds ratio rests, and the fittings in all strata
        that hold both groups, on which the difference rests.
    """

    odds_ratio: Estimate
    difference: Estimate
    statistic: float | None = None
    p_value: float | None = None
    homogeneity_p: float | None = None
    strata: int = 0
    fittings: int


def mantel_haenszel(tables: Sequence[FourfoldTable], *, level: float = 0.95) -> MantelHaenszelResult:
    """Compare two groups inside strata and pool.

    Parameters
    ----------
    tables : sequence of FourfoldTable
        One a stratum; those that lack a group carry nothing, those that lack an outcome nothing for the odds ratio.
    level : float
        Coverage of the interval.

    Returns
    -------
    MantelHaenszelResult
    """
    paired = [t for t in tables if min(t.first_total, t.second_total) > 0]
    difference = _difference(paired, level)
    fittings = sum(t.first_total + t.second_total for t in paired)
    # without both outcomes a stratum adds nothing to the sums of the odds ratio [1]_, but its failures count in the
    # difference, so the two rest on different strata
    speaking = [t for t in paired if t.both_outcomes]
    up = sum(t.first_failed * t.second_tight for t in speaking)
    down = sum(t.first_tight * t.second_failed for t in speaking)
    if not speaking:
        none = no_estimate(remark(RateRemark.NO_STRATUM_SPEAKS))
        return MantelHaenszelResult(odds_ratio=none, difference=difference, fittings=fittings)
    # read only here, as it takes long
    from statsmodels.stats.contingency_tables import StratifiedTable

    pooled = StratifiedTable([np.array(t.to_rows(), dtype=float) for t in speaking])
    test = pooled.test_null_odds(correction=True)
    homogeneity = None
    if up == 0 or down == 0:
        ratio = no_estimate(remark(RateRemark.NEVER_ALONE))
    else:
        low, high = pooled.oddsratio_pooled_confint(alpha=1 - level)
        ratio = Estimate(
            value=float(pooled.oddsratio_pooled),
            low=float(low),
            high=float(high),
            level=level,
            method=remark(RateRemark.MANTEL_HAENSZEL, strata=len(speaking)),
        )
        if len(speaking) > 1:
            exact = exact_equal_odds(speaking)
            if exact is not None:
                homogeneity = exact
            elif _large_enough(speaking):
                homogeneity = float(pooled.test_equal_odds().pvalue)
    return MantelHaenszelResult(
        odds_ratio=ratio,
        difference=difference,
        statistic=float(test.statistic),
        p_value=float(test.pvalue),
        homogeneity_p=homogeneity,
        strata=len(speaking),
        fittings=fittings,
    )


def _large_enough(tables: Sequence[FourfoldTable]) -> bool:
    """Whether Breslow and Day's test holds: Cochran's rule [5]_, no number expected below 1 and few below 5."""
    first, failed, total = np.array(
        [(t.first_total, t.first_failed + t.second_failed, t.first_total + t.second_total) for t in tables], dtype=float
    ).T
    least = np.minimum(first, total - first) * np.minimum(failed, total - failed) / total
    return bool(least.min() >= 1.0 and np.mean(least < 5.0) <= 0.2)


def _difference(tables: Sequence[FourfoldTable], level: float) -> Estimate:
    """Risk difference with Sato's variance, which needs neither large strata nor equal risks in them [3]_."""
    if not tables:
        return no_estimate(remark(RateRemark.NO_STRATUM_HOLDS_BOTH))
    a, n, b, m = np.array(
        [(t.first_failed, t.first_total, t.second_failed, t.second_total) for t in tables], dtype=float
    ).T
    total = n + m
    weight = float((n * m / total).sum())
    value = float(((a * m - b * n) / total).sum()) / weight
    larger = float(((n**2 * b - m**2 * a + n * m * (m - n) / 2) / total**2).sum())
    spread = float(((a * (m - b) + b * (n - a)) / (2 * total)).sum())
    reach = float(special.ndtri((1 + level) / 2)) * math.sqrt(max(value * larger + spread, 0.0)) / weight
    if reach == 0.0:
        return no_estimate(remark(RateRemark.ALL_ALIKE))
    return Estimate(
        value=value,
        low=max(value - reach, -1.0),
        high=min(value + reach, 1.0),
        level=level,
        method=remark(RateRemark.MANTEL_HAENSZEL, strata=len(tables)),
    )
