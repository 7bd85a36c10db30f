"""How strong something unseen would have to be to explain a ratio of risks away.

References
----------
.. [1] T. J. VanderWeele, P. Ding, Sensitivity analysis in observational research: introducing the E-value, Ann. Intern.
   Med. 167 (2017) 268-274.
.. [2] P. Ding, T. J. VanderWeele, Sensitivity analysis without assumptions, Epidemiology 27 (2016) 368-377.
"""

from __future__ import annotations

import math

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.analysis.remark import remark


def e_value(ratio: float, *, true_ratio: float = 1.0) -> float:
    """Give the E-value of a risk ratio: the ratio by which an unseen cause must go with both method and failure [1]_.

    Parameters
    ----------
    ratio : float
        Risk ratio, above zero.
    true_ratio : float
        What it would be shifted to; 1 asks for explaining it away.

    Returns
    -------
    float
        At least 1.
    """
    shift = ratio / true_ratio
    larger = shift if shift >= 1.0 else 1.0 / shift
    return larger + math.sqrt(larger * (larger - 1.0))


def e_value_of(ratio: Estimate) -> Estimate:
    """Give the E-value of a ratio, and as the low end that of its limit nearest to 1; 1 where the interval holds 1."""
    if ratio.value is None:
        return no_estimate(ratio.method)
    if ratio.value <= 0:
        return no_estimate(remark(RateRemark.NO_E_VALUE))
    low, high = ratio.low or 0.0, math.inf if ratio.high is None else ratio.high
    nearest = 1.0 if low <= 1.0 <= high else low if low > 1.0 else high
    return Estimate(
        value=e_value(ratio.value),
        low=e_value(nearest),
        level=ratio.level,
        method=remark(RateRemark.E_VALUE),
        status=ratio.status,
    )
