"""Compare two groups as if they had been alike in what was known when each was chosen.

Three ways, side by side:

* *weights*: each counts by one over the chance of being in the group it is in, given the covariates (a logistic line),
  so that both groups look like all together;
* *outcome line*: the outcome is drawn as a straight line in the covariates, apart in each group, and both lines are
  read off for everybody;
* *both*: the weighted mean, corrected by the lines for what the weights leave unlike. It is right if either the
  chances or the lines are [2]_.

All draws of a bootstrap are fitted at once, by Newton's steps on stacks of small matrices: two hundred logistic lines
take a few hundredths of a second. Lines are drawn in slightly (a ridge worth one observation on each standardised
covariate), so that a covariate that occurs in one group only cannot run away.

References
----------
.. [1] M. A. Hernan, J. M. Robins, Causal Inference: What If, Chapman & Hall/CRC 2020, chapters 12 and 13.
.. [2] J. M. Robins, A. Rotnitzky, L. P. Zhao, Estimation of regression coefficients when some regressors are not always
   observed, JASA 89 (1994) 846-866.
.. [3] L. Kish, Survey Sampling, Wiley 1965, section 11.7 (effective number under unequal weights).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import BoolArray, FloatArray

PENALTY = 1.0
_STEPS = 25
_LARGEST_LOGIT = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """First group minus second, three ways; arrays have a value for each draw.

    Parameters
    ----------
    first, second : ndarray, shape (draws,)
        Doubly robust means of the two groups.
    weighted, outcome_line : ndarray, shape (draws,)
        Difference by the weights alone and by the outcome lines alone.
    """

    first: FloatArray
    second: FloatArray
    weighted: FloatArray
    outcome_line: FloatArray

    @property
    def difference(self) -> FloatArray:
        """Doubly robust difference, shape (draws,)."""
        return self.first - self.second


def standardise(covariates: FloatArray) -> FloatArray:
    """Centre and scale each column; one that does not vary becomes zero.

    Parameters
    ----------
    covariates : ndarray, shape (n, covariates)

    Returns
    -------
    ndarray, same shape
    """
    centred = covariates - covariates.mean(axis=0)
    spread = centred.std(axis=0)
    return np.asarray(centred / np.where(spread > 1e-12, spread, 1.0), dtype=float)


def fit_chances(
    covariates: FloatArray, first: BoolArray, *, weight: FloatArray | None = None, penalty: float = PENALTY
) -> FloatArray:
    """Estimate each one's chance of being in the first group.

    Parameters
    ----------
    covariates : ndarray, shape (n, covariates)
        Standardised; a constant is added.
    first : ndarray of bool, shape (n,)
        Who is in the first group.
    weight : ndarray, shape (draws, n), optional
        How often each is in each draw; one draw of everybody by default.
    penalty : float
        Half the square of each slope counts so much against the log likelihood (the inverse of scikit-learn's ``C``);
        the constant is free.

    Returns
    -------
    ndarray, shape (draws, n)
        Strictly between 0 and 1.
    """
    design = _with_constant(covariates)
    drawn = np.ones((1, len(design))) if weight is None else weight
    ridge = _ridge(design, penalty)
    slope = np.zeros((len(drawn), design.shape[1]))
    outcome = first.astype(float)
    for _ in range(_STEPS):
        chance = _logistic(slope @ design.T)
        pull = (drawn * (outcome - chance)) @ design - slope @ ridge
        curvature = _squares(design, drawn * chance * (1.0 - chance)) + ridge
        step = np.linalg.solve(curvature, pull[..., None])[..., 0]
        # a step of more than one logit's worth is cut, which keeps Newton from leaping over a flat end
        length = np.abs(step @ design.T).max(axis=1, keepdims=True)
        slope = slope + step * np.minimum(1.0, 3.0 / np.maximum(length, 1e-12))
        if float(length.max()) < 1e-9:
            break
    return _logistic(slope @ design.T)


def inverse_weights(chance: FloatArray, first: BoolArray) -> FloatArray:
    """Give one over the chance of the group that each is in, shape as `chance`."""
    return np.asarray(1.0 / np.where(first, chance, 1.0 - chance), dtype=float)


def effective_number(weight: FloatArray) -> float:
    """Give the number of equally weighted observations that would say as much [3]_; 0 without any."""
    squares = float((weight**2).sum())
    return float(weight.sum()) ** 2 / squares if squares > 0 else 0.0


def imbalance(covariates: FloatArray, first: BoolArray, weight: FloatArray) -> FloatArray:
    """Give how far the two groups' weighted means lie apart, in the covariates' own standard deviations.

    Parameters
    ----------
    covariates : ndarray, shape (n, covariates)
        Standardised.
    first : ndarray of bool, shape (n,)
    weight : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (covariates,)
    """
    one, other = (np.where(group, weight, 0.0) for group in (first, ~first))
    return np.asarray(one @ covariates / one.sum() - other @ covariates / other.sum(), dtype=float)


def fit_lines(
    covariates: FloatArray, outcome: FloatArray, weight: FloatArray, *, penalty: float = PENALTY
) -> FloatArray:
    """Draw the outcome as a line in the covariates, and read it off for everybody.

    Parameters
    ----------
    covariates : ndarray, shape (n, covariates)
        Standardised; a constant is added.
    outcome : ndarray, shape (n,)
    weight : ndarray, shape (draws, n)
        Zero for those who do not belong to the group.
    penalty : float
        The square of each slope counts so much against the squares of the residuals; the constant is free.

    Returns
    -------
    ndarray, shape (draws, n)
    """
    design = _with_constant(covariates)
    squares = _squares(design, weight) + _ridge(design, penalty)
    slope = np.linalg.solve(squares, ((weight * outcome) @ design)[..., None])[..., 0]
    return np.asarray(slope @ design.T, dtype=float)


def compare_means(
    outcome: FloatArray,
    covariates: FloatArray,
    first: BoolArray,
    chance: FloatArray,
    *,
    drawn: FloatArray | None = None,
    penalty: float = PENALTY,
) -> Contrast:
    """Compare the means of two groups on like terms.

    Parameters
    ----------
    outcome : ndarray, shape (n,)
    covariates : ndarray, shape (n, covariates)
        Standardised.
    first : ndarray of bool, shape (n,)
    chance : ndarray, shape (draws, n)
        Of being in the first group, from `fit_chances`.
    drawn : ndarray, shape (draws, n), optional
        How often each is in each draw; once by default.
    penalty : float
        Of the outcome lines.

    Returns
    -------
    Contrast
    """
    times = np.ones_like(chance) if drawn is None else drawn
    weight = times * inverse_weights(chance, first)
    mean, line, both = [], [], []
    for group in (first, ~first):
        own = np.where(group, weight, 0.0)
        total = own.sum(axis=1)
        fitted = fit_lines(covariates, outcome, np.where(group, times, 0.0), penalty=penalty)
        mean.append(own @ outcome / total)
        line.append((times * fitted).sum(axis=1) / times.sum(axis=1))
        both.append(mean[-1] + line[-1] - (own * fitted).sum(axis=1) / total)
    return Contrast(first=both[0], second=both[1], weighted=mean[0] - mean[1], outcome_line=line[0] - line[1])


def _with_constant(covariates: FloatArray) -> FloatArray:
    return np.column_stack([np.ones(len(covariates)), covariates])


def _ridge(design: FloatArray, penalty: float) -> FloatArray:
    ridge = penalty * np.eye(design.shape[1])
    ridge[0, 0] = 1e-9  # the constant is free; a draw that holds none of a group still has an answer, and is left out
    return ridge


def _squares(design: FloatArray, weight: FloatArray) -> FloatArray:
    """Weighted squares and products of the design, shape (draws, columns, columns), as one plain matrix product."""
    rows, columns = design.shape
    products = (design[:, :, None] * design[:, None, :]).reshape(rows, columns * columns)
    return np.asarray((weight @ products).reshape(-1, columns, columns), dtype=float)


def _logistic(logit: FloatArray) -> FloatArray:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(logit, -_LARGEST_LOGIT, _LARGEST_LOGIT))), dtype=float)
