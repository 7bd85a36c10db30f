"""How many more fittings, or shafts, would tell two methods apart.

*Looked at every quarter*: the evidence (`wearstats.analysis.methods.evidence`), into which the first hub of each shaft
enters, is carried on from where it stands, in invented futures in which quarters like the last ones go on coming in
with given risks, until four futures in five have settled.

*Looked at once, at the end*: what the fittings on record tell of a difference is one over its squared standard error.
More of the same mixture, as well followed, tell in proportion; to find a difference d in 80 of 100 cases with a
two-sided test at 5 % the standard error must be d / (1.96 + 0.84) [1]_.

References
----------
.. [1] J. L. Fleiss, B. Levin, M. C. Paik, Statistical Methods for Rates and Proportions, 3rd ed., Wiley 2003,
   chapter 4.
"""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.methods.evidence import MethodEvidence
from wearstats.analysis.methods.remarks import MethodsRemark
from wearstats.analysis.monitoring.confidence_sequences import evidence_of_no_difference, mix_evidence
from wearstats.analysis.rates.two_by_two import FourfoldTable, newcombe_difference
from wearstats.analysis.remark import Remark, remark

POWER = 0.8
_FUTURES = 250
_MOST_QUARTERS = 80
_LAST_QUARTERS = 4


def fittings_needed(difference: float, std_error: float, fittings: int, *, power: float, level: float) -> float:
    """Give the number of fittings, those on record among them, that would show a difference.

    Parameters
    ----------
    difference : float
        The true one, not zero.
    std_error : float
        Standard error that the fittings on record give.
    fittings : int
        How many these are.
    power : float
        Chance of finding it.
    level : float
        One minus the size of the two-sided test.

    Returns
    -------
    float
    """
    reach = float(special.ndtri((1 + level) / 2) + special.ndtri(power))
    return fittings * (reach * std_error / difference) ** 2


def more_fittings_once(
    difference: Estimate, std_error: float | None, fittings: int, *, power: float = POWER
) -> Estimate:
    """Say how many fittings more would show the difference to whoever looks once, when all are in.

    Parameters
    ----------
    difference : Estimate
        As now known.
    std_error : float or None
        Its standard error.
    fittings : int
        How many it rests on.
    power : float
        Chance of settling it, should the difference be as now estimated.

    Returns
    -------
    Estimate
        Low where the difference is as large as its interval allows; no high end where it may be nothing. Status
        ``bounded`` with 0 where the interval leaves out zero already.
    """
    level = difference.level
    if difference.value is None or difference.low is None or difference.high is None or not std_error:
        return no_estimate(remark(MethodsRemark.DIFFERENCE_NOT_TOLD, why=difference.method))
    if difference.low > 0 or difference.high < 0:
        return _no_more(MethodsRemark.ZERO_LEFT_OUT, level)

    def more(size: float) -> float:
        needed = fittings_needed(size, std_error, fittings, power=power, level=level) if size else math.inf
        return max(math.ceil(needed - fittings), 0) if math.isfinite(needed) else math.inf

    value = more(difference.value)
    largest = max(abs(difference.low), abs(difference.high))
    told = {"power_percent": 100 * power, "size_percent": 100 * (1 - level)}
    if not math.isfinite(value):
        why = Remark(MethodsRemark.NO_DIFFERENCE_SEEN, told)
        return Estimate(value=None, low=more(largest), level=level, method=why, status="bounded")
    method = Remark(MethodsRemark.LOOKED_AT_ONCE, told)
    return Estimate(value=value, low=more(largest), level=level, method=method)


def more_fittings_needed(evidence: MethodEvidence, *, power: float = POWER, rng: np.random.Generator) -> Estimate:
    """Say how many fittings more would settle it for whoever looks every quarter.

    Parameters
    ----------
    evidence : MethodEvidence
        As it stands.
    power : float
        Chance of having settled it by then.
    rng : numpy.random.Generator

    Returns
    -------
    Estimate
        Value if the shares known to have worked loose stay what they are, low if they differ by as much as their
        ordinary interval allows. No value where more than eighty quarters would be needed; status ``bounded`` with 0
        where it is settled already.
    """
    level = evidence.level
    if evidence.settled:
        return _no_more(MethodsRemark.SETTLED, level)
    last = None if evidence.quarters.empty else evidence.quarters.iloc[-1]
    if last is None or min(last["supplied"], last["hand"]) == 0:
        return no_estimate(remark(MethodsRemark.NONE_OF_BOTH))
    table = FourfoldTable(
        first_failed=int(last["supplied_failed"]),
        first_tight=int(last["supplied"] - last["supplied_failed"]),
        second_failed=int(last["hand_failed"]),
        second_tight=int(last["hand"] - last["hand_failed"]),
    )
    seen = newcombe_difference(table, level=level)
    common = (table.first_failed + table.second_failed) / (table.first_total + table.second_total)
    size = _a_quarter(evidence)
    ends = [end for end in (seen.low, seen.high) if end is not None]
    # at given shares, not at shares drawn from what is known of them: of those some are alike, and such futures never
    # settle, so that four in five might not either
    value = _settling(evidence, _apart(common, seen.value or 0.0), size, power, rng)
    low = _settling(evidence, _apart(common, max(ends, key=abs)), size, power, rng)
    told = {"power_percent": 100 * power, "a_quarter": sum(size)}
    if value is None:
        many = Remark(MethodsRemark.TOO_MANY_QUARTERS, {**told, "fittings": _MOST_QUARTERS * sum(size)})
        return Estimate(value=None, low=low, level=level, method=many, status="bounded")
    method = Remark(MethodsRemark.LOOKED_AT_EVERY_QUARTER, told)
    return Estimate(value=value, low=low, level=level, method=method)


def _no_more(why: MethodsRemark, level: float) -> Estimate:
    return Estimate(value=0.0, low=0.0, high=0.0, level=level, method=remark(why), status="bounded")


def _a_quarter(evidence: MethodEvidence) -> tuple[int, int]:
    """Fittings of both ways that entered in a quarter of late, at least one of each."""
    counts = evidence.quarters[["supplied", "hand"]].to_numpy(dtype=float)
    before = counts[-_LAST_QUARTERS - 1] if len(counts) > _LAST_QUARTERS else np.zeros(2)
    late = (counts[-1] - before) / min(len(counts), _LAST_QUARTERS)
    return max(round(float(late[0])), 1), max(round(float(late[1])), 1)


def _apart(common: float, difference: float) -> tuple[float, float]:
    """Two risks with a difference round a common one, neither below a tenth of it."""
    first, second = common + difference / 2, common - difference / 2
    least = common / 10
    if min(first, second) < least:
        first, second = (least + difference, least) if difference > 0 else (least, least - difference)
    return min(first, 1.0), min(second, 1.0)


def _settling(
    evidence: MethodEvidence, risks: tuple[float, float], size: tuple[int, int], power: float, rng: np.random.Generator
) -> float | None:
    """Fittings until enough futures have settled; None where the quarters tried are too few."""
    shape = (_FUTURES, _MOST_QUARTERS)
    first, second = (rng.binomial(number, risk, shape) for number, risk in zip(size, risks, strict=True))
    # a quarter's evidence hangs on the two counts alone: look it up
    counts = np.indices((size[0] + 1, size[1] + 1))
    steps = evidence_of_no_difference(counts[0], size[0], counts[1], size[1])[first, second]
    course = mix_evidence(evidence.by_alternative + np.cumsum(steps, axis=1))
    settled = np.maximum.accumulate(course >= -math.log1p(-evidence.level), axis=1).mean(axis=0)
    enough = np.flatnonzero(settled >= power)
    return None if enough.size == 0 else float((enough[0] + 1) * sum(size))
