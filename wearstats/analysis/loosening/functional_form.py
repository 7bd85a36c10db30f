"""Whether the hazard goes with the gap in a straight line, from a threshold on, or along some smooth curve.

The straight line is fitted. A bend is then looked for in the directions that a threshold anywhere, and a natural cubic
spline, would add: the score of each direction, freed of what the line's own parameters take up, is compared with scores
whose shafts are given random signs and sizes (multipliers). That gives the greatest of many correlated scores its own
distribution, which no table has, for a threshold does not exist where there is none [1]_.

References
----------
.. [1] B. E. Hansen, Inference when a nuisance parameter is not identified under the null hypothesis, Econometrica 64
   (1996) 413-430.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.loosening.likelihood import LooseningData, shaft_scores
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import FloatArray

MULTIPLIERS = 2000
FEWEST_FAILURES = 10
_THRESHOLDS = 9
_PER_UM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FormAnswer:
    """Line, threshold or curve.

    Parameters
    ----------
    threshold_um : float
        Where a threshold, below which the gap does not matter, fits best.
    threshold_gain : float
        How much better it then fits than the line: difference of log likelihoods.
    threshold_p, curve_p : float
        Probability of so much bend if the truth were a line: towards a threshold, and along a curve.
    """

    threshold_um: float
    threshold_gain: float
    threshold_p: float
    curve_p: float

    @property
    def straight(self) -> bool:
        """Whether a line will do, at one in twenty and two questions asked."""
        return min(self.threshold_p, self.curve_p) > 0.025

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        return {**asdict(self), "straight": self.straight}


def compare_forms(
    histories: SilentHistories,
    gaps: GapNodes,
    line: LooseningFit,
    *,
    covariates: FloatArray,
    rng: np.random.Generator,
) -> FormAnswer | None:
    """Compare the line with thresholds and a curve.

    Parameters
    ----------
    histories, gaps, covariates
        As the line was fitted to.
    line : LooseningFit
        The fit with a straight term.
    rng : Generator
        For the multipliers.

    Returns
    -------
    FormAnswer or None
        None with fewer than `FEWEST_FAILURES` failures, or where the gaps hardly differ.
    """
    mean = gaps.mean_um
    at = np.unique(np.quantile(mean, np.linspace(0.1, 0.9, _THRESHOLDS)))
    if line.failures < FEWEST_FAILURES or at.size < 3:
        return None
    knots = np.quantile(mean, [0.05, 0.35, 0.65, 0.95])

    def bent_line(gap_um: FloatArray) -> FloatArray:
        return np.concatenate([line.term(gap_um), _hinges(gap_um, at), _spline(gap_um, knots)], axis=-1)

    data = LooseningData.of_gaps(histories, gaps, bent_line, covariates - covariates.mean(axis=0))
    bends = data.slopes - 1
    parameters = np.concatenate([line.parameters[:2], np.zeros(bends), line.parameters[2:]])
    # scores at the line, not fits of every bend: a threshold has no place where there is none, so that the usual
    # chi-square of a likelihood ratio does not hold [1]_
    score, curvature = _free_scores(data, parameters, np.arange(2, 2 + bends))
    hinge, curve = slice(0, at.size), slice(at.size, None)
    spread = np.sqrt(np.maximum(np.sum(score**2, axis=0), 1e-300))
    total = score.sum(axis=0)
    drawn = rng.standard_normal((MULTIPLIERS, score.shape[0])) @ (score - score.mean(axis=0))
    threshold = np.abs(total / spread)[hinge]
    greatest = np.abs(drawn / spread)[:, hinge].max(axis=1)
    inverse = np.linalg.pinv(score[:, curve].T @ score[:, curve])
    smooth = total[curve] @ inverse @ total[curve]
    smooth_drawn = np.einsum("ms,st,mt->m", drawn[:, curve], inverse, drawn[:, curve])
    best = float(at[int(np.argmax(total[hinge] ** 2 / np.maximum(curvature[hinge], 1e-300)))])
    bent = fit_loosening(histories, gaps, covariates=covariates, term=hinge_term(best), start=line.parameters)
    return FormAnswer(
        threshold_um=best,
        threshold_gain=bent.log_likelihood - line.log_likelihood,
        threshold_p=_share_above(greatest, float(threshold.max())),
        curve_p=_share_above(smooth_drawn, float(smooth)),
    )


def hinge_term(threshold_um: float) -> Callable[[FloatArray], FloatArray]:
    """Make the term of a gap that matters only beyond a threshold, in 10 um."""

    def term(gap_um: FloatArray) -> FloatArray:
        return _hinges(gap_um, np.array([threshold_um]))

    return term


def _hinges(gap_um: FloatArray, at: FloatArray) -> FloatArray:
    return np.asarray(np.maximum(gap_um[..., None] - at, 0.0) / _PER_UM)


def _spline(gap_um: FloatArray, knots: FloatArray) -> FloatArray:
    """Natural cubic spline beyond its line, shape (..., knots - 2) (Hastie et al. 2009, section 5.2.1)."""
    x, k = gap_um[..., None] / _PER_UM, knots / _PER_UM
    cubes = np.maximum(x - k, 0.0) ** 3
    slopes = (cubes[..., :-1] - cubes[..., -1:]) / (k[-1] - k[:-1])
    return np.asarray(slopes[..., :-1] - slopes[..., -1:])


def _free_scores(data: LooseningData, parameters: FloatArray, new: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Scores of the new directions by shaft, freed of the others, and their information."""
    _, score = shaft_scores(data, parameters)
    step = 1e-4
    rows = []
    for index in range(parameters.size):
        shift = np.zeros(parameters.size)
        shift[index] = step
        up, down = (shaft_scores(data, parameters + sign * shift)[1].sum(axis=0) for sign in (1.0, -1.0))
        rows.append((down - up) / (2 * step))
    information = (np.array(rows) + np.array(rows).T) / 2
    old = np.setdiff1d(np.arange(parameters.size), new)
    held = information[np.ix_(old, old)] + 1e-8 * np.eye(old.size)
    take = np.linalg.solve(held, information[np.ix_(old, new)])
    left = np.diag(information[np.ix_(new, new)] - information[np.ix_(new, old)] @ take)
    return score[:, new] - score[:, old] @ take, left


def _share_above(drawn: FloatArray, seen: float) -> float:
    return float((1 + np.sum(drawn >= seen)) / (1 + drawn.size))
