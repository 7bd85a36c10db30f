"""How many more fittings would tell two methods apart.

What the fittings on record tell of a difference is one over its squared standard error. More of the same mixture, as
well followed, tell in proportion; to find a difference d in 80 of 100 cases with a two-sided test at 5 % the standard
error must be d / (1.96 + 0.84).

References
----------
.. [1] J. L. Fleiss, B. Levin, M. C. Paik, Statistical Methods for Rates and Proportions, 3rd ed., Wiley 2003,
   chapter 4.
"""

from __future__ import annotations

import math

from scipy import stats

from wearstats.analysis.estimate import Estimate, no_estimate

POWER = 0.8


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
    reach = float(stats.norm.ppf((1 + level) / 2) + stats.norm.ppf(power))
    return fittings * (reach * std_error / difference) ** 2


def more_fittings_needed(
    difference: Estimate, std_error: float | None, fittings: int, *, power: float = POWER
) -> Estimate:
    """Say how many fittings more would settle which of two methods fails more.

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
        return no_estimate(f"the difference is not told: {difference.method}")
    told = f"at {100 * power:g} % power, two-sided {100 * (1 - level):.2g} %, followed like those on record"
    if difference.low > 0 or difference.high < 0:
        why = "the interval of the difference leaves out zero already"
        return Estimate(value=0.0, low=0.0, high=0.0, level=level, method=why, status="bounded")

    def more(size: float) -> float:
        needed = fittings_needed(size, std_error, fittings, power=power, level=level) if size else math.inf
        return max(math.ceil(needed - fittings), 0) if math.isfinite(needed) else math.inf

    value = more(difference.value)
    largest = max(abs(difference.low), abs(difference.high))
    if not math.isfinite(value):
        why = f"no difference is seen; low if it is as large as its interval allows, {told}"
        return Estimate(value=None, low=more(largest), level=level, method=why, status="bounded")
    return Estimate(
        value=value,
        low=more(largest),
        level=level,
        method=f"if the difference is as now estimated; low if as large as its interval allows, {told}",
    )
