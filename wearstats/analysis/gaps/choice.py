"""The hub that was sent as a reading of what its sender believed of the width.

What is known of a gap rests on the readings in hand. Whoever chose the hub may have known more: a reading never written
down, the hub that came off, the owner's way of measuring. Then the size sent tells of the width what no reading on
record does, and passing it over flattens the slope of the risk.

The undersize wanted is a line in what the readings in hand say, and in how far the true width lies from what they say::

    wanted = group + a expected + b (read - expected) + worth (true - expected) + scatter

``worth`` is the share of what the readings missed that the sender saw: 0 where the choice rests on the readings in
hand, 1 where he knew the width. The size sent tells of what was wanted only that it lay nearest among the sizes on
offer that day (an interval-censored line). The worth is learnt on shafts that were measured again before the hub ran,
where ``true - expected`` is told by the other reading; of the others only the line and the whole scatter are. That
some shafts' sizes scatter more than others' tells nothing of the worth, for habits differ as well. Half of what is
thought of it beforehand is that it is nothing (judgement); the rest is spread evenly up to `MOST_WORTH`. Draws of the
width are then weighed by how likely they make the size sent, averaged over what is known of the worth: a prior with a
lump at nothing and its average over models as in [1]_. Where the sizes sent do not speak for any knowledge, it is left.

References
----------
.. [1] J. A. Hoeting, D. Madigan, A. E. Raftery, C. T. Volinsky, Bayesian model averaging: a tutorial, Statistical
   Science 14 (1999) 382-417.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import ndtr

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

FEWEST_AGAIN = 10
"""Shafts measured again below which nothing is learnt of what senders knew."""
MOST_WORTH = 1.25
"""A little more than all there is to know, so that who knew all is not taken for less."""
WORTH = np.linspace(0.0, MOST_WORTH, 11)
NOTHING_SHARE = 0.5
WRONG_SHARE = 0.05
"""Share of hubs sent for another reason than the size: the right one was out, or it was mistyped (judgement)."""
MOST_NOTHING = 0.4
"""How likely it may still be that senders knew nothing where hubs are read as signs of the width: what was thought
beforehand must not move an answer by itself, so the sizes sent have to speak for it, three to two."""
_STEADY_UM = 100.0
"""Weak normal prior of the line's coefficients, so that groups which are one and the same do no harm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choices:
    """Hubs that were sent, and what was known of their shafts; arrays of shape (fittings,) unless said.

    Parameters
    ----------
    low_um, high_um : ndarray
        Undersizes wanted that lead to the size sent; infinite for the smallest and the largest on offer.
    expected_um, variance_um2 : ndarray
        Mean width below new as the readings in hand have it, and how doubtful that is.
    read_um : ndarray
        The same as read.
    again_um, again_variance_um2 : ndarray
        The same by all readings taken before the hub ran, those not in hand too; NaN where there is none besides.
    groups : ndarray, shape (fittings, columns)
        Indicators within which sizes are chosen alike: pattern, method, period.
    """

    low_um: FloatArray
    high_um: FloatArray
    expected_um: FloatArray
    variance_um2: FloatArray
    read_um: FloatArray
    again_um: FloatArray
    again_variance_um2: FloatArray
    groups: FloatArray

    def take(self, rows: IntArray) -> Choices:
        """Keep some."""
        return Choices(**{name: getattr(self, name)[rows] for name in self.__slots__})

    @property
    def again(self) -> BoolArray:
        """Which shafts were measured again."""
        return np.isfinite(self.again_um)

    @property
    def design(self) -> FloatArray:
        """Columns of the line, shape (fittings, columns)."""
        beside = self.read_um - self.expected_um
        return np.column_stack([np.ones_like(beside), self.expected_um, beside, self.groups])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrivateKnowledge:
    """What senders knew of the width beyond the readings in hand.

    Parameters
    ----------
    measured_again : int
        Shafts it was learnt from.
    worth : ndarray, shape (values,)
        Values that the worth may have, from 0.
    share : ndarray, shape (values,)
        How likely each is.
    line : ndarray, shape (values, columns)
        Coefficients of the line for each.
    scatter_um : ndarray, shape (values,)
        What is left of the scatter for each.
    """

    measured_again: int
    worth: FloatArray
    share: FloatArray
    line: FloatArray
    scatter_um: FloatArray

    @property
    def expected(self) -> float:
        """Expected worth, 0 to `MOST_WORTH`."""
        return float(self.share @ self.worth)

    @property
    def variance(self) -> float:
        """How doubtful the worth is, squared."""
        return float(self.share @ self.worth**2) - self.expected**2

    @property
    def used(self) -> bool:
        """Whether hubs are read as signs of the width."""
        return bool(self.share[0] < MOST_NOTHING)

    def ends(self, level: float = 0.95) -> tuple[float, float]:
        """Give the ends of the central interval of the worth."""
        below = np.cumsum(self.share)
        at = np.searchsorted(below, [0.5 - level / 2, 0.5 + level / 2])
        low, high = self.worth[np.minimum(at, self.worth.size - 1)]
        return float(low), float(high)

    def weigh(self, choices: Choices, below_um: FloatArray) -> FloatArray:
        """Weigh draws of the mean width below new by the size sent.

        Parameters
        ----------
        choices : Choices
            Of n fittings.
        below_um : ndarray, shape (n, draws)
            Draws by the readings in hand.

        Returns
        -------
        ndarray, shape (n, draws)
            Weights with mean 1 over each fitting's draws; 1 where the sizes on offer are not known.
        """
        weight = np.zeros_like(below_um)
        beside = below_um - choices.expected_um[:, None]
        for worth, share, line, scatter in zip(self.worth, self.share, self.line, self.scatter_um, strict=True):
            wanted = (choices.design @ line)[:, None] + worth * beside
            chance = _between(choices.low_um[:, None], choices.high_um[:, None], wanted, scatter)
            weight += share * chance / chance.mean(axis=1, keepdims=True)
        told = np.isfinite(choices.low_um) | np.isfinite(choices.high_um)
        return np.where(told[:, None], (1.0 - WRONG_SHARE) * weight + WRONG_SHARE, 1.0)


def sizes_between(sent_um: FloatArray, offered_um: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the undersizes to which the size sent is the nearest on offer.

    Parameters
    ----------
    sent_um : ndarray, shape (n,)
        Undersizes sent.
    offered_um : ndarray, shape (n, sizes)
        Sizes on offer on the day; NaN where there are fewer.

    Returns
    -------
    low, high : ndarray, shape (n,)
        Half way to the neighbours, infinite where there is none; both infinite where nothing else was on offer.
    """
    beside = offered_um - sent_um[:, None]
    tighter = np.where(beside > 0, beside, np.inf).min(axis=1, initial=np.inf)
    wider = np.where(beside < 0, beside, -np.inf).max(axis=1, initial=-np.inf)
    return sent_um + wider / 2, sent_um + tighter / 2


def learn_knowledge(choices: Choices) -> PrivateKnowledge | None:
    """Learn what senders knew beyond the readings in hand; None where too few shafts were measured again."""
    told = np.isfinite(choices.low_um) | np.isfinite(choices.high_um)
    again = choices.again & told
    if again.sum() < FEWEST_AGAIN:
        return None
    design = choices.design
    sent = np.where(np.isfinite(choices.low_um), choices.low_um, choices.high_um)
    start = np.append(np.linalg.lstsq(design[told], sent[told], rcond=None)[0], np.log(10.0))
    fits, found = [], []
    for worth in WORTH:
        fit = minimize(_surprise, start, args=(choices, design, told, again, worth), jac=True, method="BFGS")
        start = fit.x
        fits.append(-float(fit.fun))
        found.append(fit.x)
    prior = np.where(WORTH == 0, NOTHING_SHARE, (1.0 - NOTHING_SHARE) / (WORTH.size - 1))
    share = prior * np.exp(np.array(fits) - max(fits))
    parameters = np.array(found)
    return PrivateKnowledge(
        measured_again=int(again.sum()),
        worth=WORTH,
        share=share / share.sum(),
        line=parameters[:, :-1],
        scatter_um=np.exp(parameters[:, -1]),
    )


def _surprise(
    parameters: FloatArray, choices: Choices, design: FloatArray, told: BoolArray, again: BoolArray, worth: float
) -> tuple[float, FloatArray]:
    """Give the negative log likelihood of the sizes sent at a worth, steadied a little, and its derivative."""
    line, scatter2 = parameters[:-1], float(np.exp(2 * parameters[-1]))
    other = np.where(again, choices.again_um - choices.expected_um, 0.0)
    # of shafts not measured again all are given the same scatter
    doubt = np.where(again, choices.again_variance_um2, choices.variance_um2.mean())
    sd = np.sqrt(scatter2 + worth**2 * doubt)[told]
    wanted = (design @ line + worth * other)[told]
    low, high = (choices.low_um[told] - wanted) / sd, (choices.high_um[told] - wanted) / sd
    sizes = np.unique(choices.high_um[told]).size
    chance = (1.0 - WRONG_SHARE) * (ndtr(high) - ndtr(low)) + WRONG_SHARE / sizes
    at_low, at_high = _density(low), _density(high)
    by_wanted = (1.0 - WRONG_SHARE) * (at_low - at_high) / sd / chance
    by_sd = (1.0 - WRONG_SHARE) * (_times(low, at_low) - _times(high, at_high)) / sd / chance
    slope = np.append(design[told].T @ by_wanted, float((by_sd * scatter2 / sd).sum()))
    pull = np.append(line / _STEADY_UM**2, 0.0)
    return float(-np.log(chance).sum() + 0.5 * pull[:-1] @ line), pull - slope


def _between(low: FloatArray, high: FloatArray, mean: FloatArray, sd: float) -> FloatArray:
    return np.asarray(np.maximum(ndtr((high - mean) / sd) - ndtr((low - mean) / sd), 1e-12))


def _density(at: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * at**2) / np.sqrt(2 * np.pi))


def _times(at: FloatArray, density: FloatArray) -> NDArray[np.float64]:
    """Give ``at * density``, 0 where `at` is infinite."""
    return np.where(np.isfinite(at), at, 0.0) * density
