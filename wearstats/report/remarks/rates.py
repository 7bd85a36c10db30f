"""What is remarked of rates, proportions and fourfold tables."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.rates.remarks import RateRemark

RATES: Final[Mapping[str, str | Callable[..., str]]] = {
    RateRemark.NOT_IN_USE: "nothing was in use",
    RateRemark.POISSON: "exact Poisson interval; {events} in {time:.0f}",
    RateRemark.NOTHING_HAPPENED: "nothing happened",
    RateRemark.NOT_OBSERVED: "one of the two was not under observation",
    RateRemark.GIVEN_SUM: "exact, given the sum; {first} in {first_time:.0f} against {second} in {second_time:.0f}",
    RateRemark.NOTHING_TO_FORETELL: "{told}: nothing on record to predict from",
    RateRemark.ONE_RATE: "{told}; one rate for all, {events} in {time:.0f}, its doubt included",
    RateRemark.ONE_RATE_OF_HUBS: (
        "{told} of {hubs:hub/hubs}; one rate for all, {events} in {time:.0f}, its doubt included"
    ),
    RateRemark.NO_FITTINGS: "no fittings to count",
    RateRemark.CLOPPER_PEARSON: "exact (Clopper-Pearson)",
    RateRemark.UPPER_BOUND: "exact one-sided upper bound, {failures} of {total}",
    RateRemark.WILSON: "score (Wilson)",
    RateRemark.NO_ESTIMATE: "one of the two groups has no estimate",
    RateRemark.NO_INTERVAL: "one of the two groups has no interval",
    RateRemark.DIFFERENCE: "difference, hybrid of the two intervals",
    RateRemark.NO_RATIO: "nothing failed in the second group, so that there is no ratio",
    RateRemark.RATIO: "ratio, hybrid of the two intervals",
    RateRemark.EMPTY_MARGIN: "a whole row or column of the table is empty",
    RateRemark.CONDITIONAL: "conditional maximum likelihood, exact interval",
    RateRemark.NO_STRATUM_SPEAKS: "no stratum holds both groups and both outcomes",
    RateRemark.NO_STRATUM_HOLDS_BOTH: "no stratum holds both groups",
    RateRemark.NEVER_ALONE: (
        "within the strata one of the groups never failed alone; the odds ratio is zero or infinite"
    ),
    RateRemark.ALL_ALIKE: "nothing failed, or everything, in the strata that hold both groups",
    RateRemark.MANTEL_HAENSZEL: "Mantel-Haenszel over {strata} strata",
    RateRemark.E_VALUE: "E-value of the risk ratio on the same shafts; low: of its limit nearest to one",
    RateRemark.NO_E_VALUE: "nothing failed in the first group",
}
