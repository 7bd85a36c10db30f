"""Whether a hub was chosen by what the store knows, or by more.

What is known of a gap rests on the readings in hand on the day of choice. If whoever chose knew more, a gap smaller
than the readings suggest was perhaps chosen for a reason, and the slope of the risk is off. On shafts that were
measured once more, without a hub in between, the other readings must not predict the hub sent once those in hand are
given: if they do, something else was known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.loosening.fit import ChoiceDoubt, LooseningFit
from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.analysis.remark import remark
from wearstats.domain.arrays import FloatArray

FEWEST = 15
_ALONE = 0.98


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceTest:
    """What another inspection says of the hub sent.

    Parameters
    ----------
    shafts : int
        Fittings whose shaft was measured once more.
    undersize_per_um : Estimate
        Change of the undersize sent, in um, for each um that the other inspection read narrower than predicted.
    p_value : float or None
        Probability of so great a change if the choice rested on the readings in hand alone; None where not told.
    """

    shafts: int
    undersize_per_um: Estimate
    p_value: float | None

    @property
    def ignorable(self) -> bool | None:
        """Whether the choice seems to rest on the readings in hand; None where not told."""
        return None if self.p_value is None else self.p_value > 0.05

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        names = ("shafts", "undersize_per_um", "p_value", "ignorable")
        return {name: getattr(self, name) for name in names}


def check_choice(
    undersize_um: FloatArray, in_hand_um: FloatArray, other_um: FloatArray, groups: FloatArray
) -> ChoiceTest:
    """Ask whether the other inspection predicts the hub.

    Parameters
    ----------
    undersize_um : ndarray, shape (n,)
        Undersize sent.
    in_hand_um : ndarray, shape (n,)
        Mean width below new as the readings in hand have it.
    other_um : ndarray, shape (n,)
        The same as the other inspection read it.
    groups : ndarray, shape (n, columns)
        Indicators of pattern, method and period, within which sizes are compared.

    Returns
    -------
    ChoiceTest
        Least squares with errors that allow for unequal scatter (HC3).
    """
    columns = [np.ones(undersize_um.size), groups, in_hand_um, other_um - in_hand_um]
    design, told = _without_lone_rows(np.column_stack(columns))
    undersize_um, n = undersize_um[told], int(told.sum())
    design = _without_repeated_groups(design)
    if n < max(FEWEST, design.shape[1] + 5) or np.linalg.matrix_rank(design) < design.shape[1]:
        why = remark(LooseningRemark.CHOICE_FEW, fittings=n, fewest=FEWEST)
        return ChoiceTest(shafts=n, undersize_per_um=no_estimate(why), p_value=None)
    # read only here, as it takes long
    from statsmodels.regression.linear_model import OLS

    found = OLS(undersize_um, design).fit(cov_type="HC3", use_t=True)
    low, high = found.conf_int()[-1]
    estimate = Estimate(
        value=float(found.params[-1]),
        low=float(low),
        high=float(high),
        method=remark(LooseningRemark.CHOICE),
    )
    return ChoiceTest(shafts=n, undersize_per_um=estimate, p_value=float(found.pvalues[-1]))


def with_choice_doubt(fit: LooseningFit, without: LooseningFit, *, worth: float, variance: float) -> LooseningFit:
    """Add to a law what is not known of how much senders knew, which moves all gaps alike and does not average out.

    Parameters
    ----------
    fit : LooseningFit
        With gaps weighed by the sizes sent, averaged over the worth of what senders knew.
    without : LooseningFit
        The same functions of the gap, the gaps not so weighed.
    worth, variance : float
        Expected worth, above 0, and how doubtful it is.

    Returns
    -------
    LooseningFit
        The parameters go nearly in a line with the worth, so their covariance grows by how far they went, squared, for
        each unit of it (variance of the conditional mean, added to the mean of the conditional variance).
    """
    moved = (fit.parameters - without.parameters) / worth
    added = np.outer(moved, moved) * variance
    return replace(
        fit, covariance=fit.covariance + added, choice=ChoiceDoubt(covariance=added, slope_without=without.slope)
    )


def _without_repeated_groups(design: FloatArray) -> FloatArray:
    """Leave out columns that those before them make up, as a method that was sent in one period only; not the last."""
    if not len(design):
        return design
    kept: list[int] = []
    for column in range(design.shape[1] - 1):
        if np.linalg.matrix_rank(design[:, [*kept, column]]) > len(kept):
            kept.append(column)
    return design[:, [*kept, design.shape[1] - 1]]


def _without_lone_rows(design: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Leave out fittings that are alone in a group, which fit themselves and tell nothing, and empty columns."""
    told = np.ones(len(design), dtype=bool)
    for _ in range(len(design)):
        part = design[told]
        varies = np.append(True, np.ptp(part[:, 1:-1], axis=0) > 0) if len(part) else np.ones(design.shape[1] - 1, bool)
        kept = part[:, np.append(varies, True)]
        leverage = np.einsum("ij,ji->i", kept, np.linalg.pinv(kept)) if len(part) else np.empty(0)
        if not (leverage > _ALONE).any():
            return kept, told
        told[np.flatnonzero(told)[leverage > _ALONE]] = False
    return design[told], told
