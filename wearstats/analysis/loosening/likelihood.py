"""The likelihood of histories when the gap behind each is known only to a distribution.

The time to working loose has the cumulative hazard ``H(t) = exp(level + terms . slopes + covariates . effects)
(t / 12 months) ** shape``, a Weibull law with proportional hazards. Given the gap a history adds

* failed after l and by r: ``S(l) - S(r)``, times p if it was reported unasked, times 1 - p if it was found by asking;
* silent since s until u: ``(1 - p) S(s) + p S(u)``; followed to t and no further: ``S(t)``;
* known only from month e: all that divided by ``S(e)``.

The terms in the gap take one value a node (`wearstats.analysis.gaps.nodes`); what the fittings of one shaft add is
multiplied node by node, for they share its nodes, and averaged over these. The derivative is that average's own: the
derivative at each node, weighed by how likely the node has become.

With a small chance a fitting's records are wrong, and its gap is any of the fleet's: node by node what it adds is mixed
with what it would add then.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

_SMALL = 1e-9

_BY_FITTING = (
    "terms", "covariates", "left", "right", "last_word", "entry", "failed", "unasked", "asked", "now", "spoiled"
)  # fmt: skip
"""What of the data has a row a fitting, or is left out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LooseningData:
    """What the likelihood reads, the fittings sorted by shaft.

    Parameters
    ----------
    terms : ndarray, shape (fittings, nodes, slopes)
        Functions of the gap, node by node.
    covariates : ndarray, shape (fittings, effects)
        What is known of each fitting beside its gap.
    left, right : ndarray, shape (fittings,)
        Months after which and by which it failed; for the others both are the month up to which it is followed, or up
        to which it has been silent.
    last_word : ndarray, shape (fittings,)
        Month of the last word of a silent one; `left` for the others.
    entry : ndarray, shape (fittings,)
        Month from which it is known.
    failed, unasked, asked : ndarray of bool, shape (fittings,)
        As in `wearstats.analysis.survival.reporting.SilentHistories`.
    first_row : ndarray of int, shape (shafts,)
        First fitting of each shaft.
    shaft : ndarray of int, shape (fittings,)
        Which shaft, in the order of `first_row`.
    logs : tuple of ndarray, shape (fittings,)
        Logarithms of the last word, `left`, `right` and `entry`, in years.
    now : ndarray, shape (fittings,)
        Month of the day asked about, past the end of the records of outcomes; `right` where not given.
    silent_hazard : float
        How many times as often the hubs of owners who went silent fail from then on.
    fleet_terms : ndarray, shape (fleet nodes, slopes)
        Functions of the gap at the gaps of the fleet; none where no record may be wrong.
    spoiled : ndarray, shape (fittings,)
        Chance that a fitting's records are wrong, before its outcome is looked at.
    """

    terms: FloatArray
    covariates: FloatArray
    left: FloatArray
    right: FloatArray
    last_word: FloatArray
    entry: FloatArray
    failed: BoolArray
    unasked: BoolArray
    asked: BoolArray
    first_row: IntArray
    shaft: IntArray
    logs: tuple[FloatArray, ...] = field(default=())
    silent_hazard: float = 1.0
    now: FloatArray = field(default_factory=lambda: np.empty(0))
    fleet_terms: FloatArray = field(default_factory=lambda: np.zeros((0, 1)))
    spoiled: FloatArray = field(default_factory=lambda: np.zeros(0))

    @classmethod
    def of_gaps(
        cls,
        histories: SilentHistories,
        gaps: GapNodes,
        term: Callable[[FloatArray], FloatArray],
        covariates: FloatArray,
    ) -> LooseningData:
        """Take the terms at the nodes, and at the gaps of the fleet where records may be wrong."""
        data = cls.of(histories, term(gaps.value_um), covariates)
        if gaps.spoiled is None:
            return data
        order = np.argsort(histories.shaft, kind="stable")
        return replace(data, fleet_terms=term(gaps.fleet_um), spoiled=gaps.spoiled[order])

    @classmethod
    def of(
        cls, histories: SilentHistories, terms: FloatArray, covariates: FloatArray, *, now: FloatArray | None = None
    ) -> LooseningData:
        """Sort by shaft and take the logarithms once; no record is taken to be wrong."""
        order = np.argsort(histories.shaft, kind="stable")
        shaft = histories.shaft[order]
        starts = np.flatnonzero(np.append(True, shaft[1:] != shaft[:-1]))
        failed = histories.failed[order]
        left = histories.left[order]
        silent_from = histories.silent_from[order]
        last_word = np.where(np.isnan(silent_from) | failed, left, silent_from)
        right = np.where(failed, histories.right[order], left)
        entry = histories.entry[order]
        logs = tuple(np.log(np.maximum(month, _SMALL) / REFERENCE_MONTHS) for month in (last_word, left, right, entry))
        return cls(
            terms=terms[order],
            covariates=covariates[order],
            left=left,
            right=right,
            last_word=last_word,
            entry=entry,
            failed=failed,
            unasked=histories.unasked[order],
            asked=histories.asked[order],
            first_row=starts.astype(np.int64),
            shaft=np.cumsum(np.append(True, shaft[1:] != shaft[:-1])).astype(np.int64) - 1,
            logs=logs,
            fleet_terms=np.zeros((0, terms.shape[2])),
            now=right if now is None else np.maximum(now[order], right),
        )

    def of_shafts(self, wanted: BoolArray) -> LooseningData:
        """Give the fittings of some shafts alone, shape (shafts,)."""
        rows = wanted[self.shaft]
        shaft = (np.cumsum(wanted) - 1)[self.shaft[rows]]
        return replace(
            self,
            **{name: of[rows] for name in _BY_FITTING if len(of := getattr(self, name))},
            logs=tuple(log[rows] for log in self.logs),
            shaft=shaft,
            first_row=np.searchsorted(shaft, np.arange(np.count_nonzero(wanted))),
        )

    @property
    def slopes(self) -> int:
        """How many functions of the gap."""
        return int(self.terms.shape[2])

    @property
    def effects(self) -> int:
        """How many covariates."""
        return int(self.covariates.shape[1])

    @property
    def size(self) -> int:
        """Length of the vector of parameters: level, slopes, effects, log shape, logit of the chance of a report."""
        return 3 + self.slopes + self.effects


def log_likelihood(data: LooseningData, parameters: FloatArray) -> tuple[float, FloatArray]:
    """Give the log likelihood and its derivative.

    Parameters
    ----------
    data : LooseningData
        Histories and gaps.
    parameters : ndarray, shape (size,)
        Level (log of the expected failures within a year where terms and covariates are 0), slopes, effects, log of
        the shape, logit of the chance that a failure is reported unasked.

    Returns
    -------
    float
        Log likelihood.
    ndarray, shape (size,)
        Its derivative.
    """
    value, score = shaft_scores(data, parameters)
    return float(value.sum()), score.sum(axis=0)


def shaft_scores(data: LooseningData, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give what every shaft adds, shape (shafts,), and its derivatives, shape (shafts, size)."""
    slopes, effects = data.slopes, data.effects
    beta, gamma = parameters[1 : 1 + slopes], parameters[1 + slopes : 1 + slopes + effects]
    shape = float(np.exp(parameters[-2]))
    chance = float(1.0 / (1.0 + np.exp(-parameters[-1])))
    level = _levels(data, parameters[0], beta, gamma)
    node, by_level, by_shape, by_chance = _given_gap(data, level, shape, chance)
    value, weight = _average(data, node)
    score = np.empty((data.first_row.size, data.size))
    _fill(score, data, weight, by_level, by_shape, by_chance)
    late = np.logical_or.reduceat(data.entry > 0, data.first_row)
    if late.any():
        some = data.of_shafts(late)
        known, entry_level, entry_shape = _surviving(level[late[data.shaft]], some.logs[3], some.entry > 0, shape)
        entered, weight = _average(some, known)
        less = np.empty((len(entered), data.size))
        _fill(less, some, weight, entry_level, entry_shape, np.zeros_like(known))
        value[late] -= entered
        score[late] -= less
    fixed = data.unasked * np.log(chance) + data.asked * np.log1p(-chance)
    heard = data.unasked * (1.0 - chance) - data.asked * chance
    score[:, -1] += np.add.reduceat(heard, data.first_row)
    return value + np.add.reduceat(fixed, data.first_row), score


def spoiled_chances(data: LooseningData, parameters: FloatArray) -> FloatArray:
    """Give the chance that each fitting's records are wrong, now that its outcome is known, shape (fittings,)."""
    slopes = data.slopes
    level = _levels(data, parameters[0], parameters[1 : 1 + slopes], parameters[1 + slopes : -2])
    shape, chance = float(np.exp(parameters[-2])), float(1.0 / (1.0 + np.exp(-parameters[-1])))
    _, weight = _average(data, _given_gap(data, level, shape, chance)[0])
    return np.asarray(weight[:, data.terms.shape[1] :].sum(axis=1))


def _levels(data: LooseningData, base: float, beta: FloatArray, gamma: FloatArray) -> FloatArray:
    """Log hazard at a fitting's own nodes, then at those of the fleet, shape (fittings, nodes and fleet nodes)."""
    own = base + data.terms @ beta
    fleet = np.broadcast_to(base + data.fleet_terms @ beta, (len(own), len(data.fleet_terms)))
    return np.asarray(np.concatenate([own, fleet], axis=1) + (data.covariates @ gamma)[:, None])


def _given_gap(
    data: LooseningData, level: FloatArray, shape: float, chance: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Log contribution at every node, shape (fittings, nodes), and its derivatives by level, log shape and logit."""
    word, left, right = data.logs[:3]
    failed = data.failed
    start = np.where(failed, left, word)
    stop = np.where(failed, right, left)
    first = np.exp(np.minimum(level + (shape * start)[:, None], 50.0))
    last = np.exp(np.minimum(level + (shape * stop)[:, None], 50.0))
    between = np.maximum(last - first, 1e-300)
    first_shape = first * (shape * start)[:, None]
    # where both hazards are cut off above nothing changes with the shape, and the slope below is beyond all bounds
    between_shape = np.where(last > first, last * (shape * stop)[:, None] - first_shape, 0.0)
    value, slope = -first, np.empty_like(first)
    by_chance = np.zeros_like(first)
    gone = between[failed]
    value[failed] += np.log(-np.expm1(-gone))
    slope[failed] = 1.0 / np.expm1(np.minimum(gone, 700.0))
    quiet = ~failed
    fade = np.exp(-data.silent_hazard * np.where(start < stop, 1.0, 0.0)[quiet, None] * between[quiet])
    total = (1.0 - chance) + chance * fade
    value[quiet] += np.log(total)
    slope[quiet] = -data.silent_hazard * chance * fade / total
    by_chance[quiet] = chance * (1.0 - chance) * (fade - 1.0) / total
    return value, -first + slope * between, -first_shape + slope * between_shape, by_chance


def _surviving(
    level: FloatArray, log_month: FloatArray, late: BoolArray, shape: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Log of the chance to be tight at the month of entry, and its derivatives by level and log shape."""
    hazard = np.where(late[:, None], np.exp(np.minimum(level + (shape * log_month)[:, None], 50.0)), 0.0)
    return -hazard, -hazard, -hazard * (shape * log_month)[:, None]


def _average(data: LooseningData, node: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Average over each shaft's nodes: the logarithm, shape (shafts,), and the weights of all nodes, as `_levels`."""
    own = data.terms.shape[1]
    mixed, node_weight = node[:, :own], None
    if len(data.fleet_terms):
        any_gap, of_fleet = _sums(node[:, own:])
        with np.errstate(divide="ignore"):
            wrong = np.log(data.spoiled)[:, None] + any_gap - np.log(len(data.fleet_terms))
        right = np.log1p(-data.spoiled)[:, None] + mixed
        larger = np.maximum(right, wrong)
        share = np.exp(wrong - larger)
        total = share + np.exp(right - larger)
        mixed = larger + np.log(total)
        node_weight = share / total, of_fleet
    joint = np.add.reduceat(mixed, data.first_row, axis=0)
    total, weight = _sums(joint)
    value = total[:, 0] - np.log(own)
    weight = weight[data.shaft]
    if node_weight is None:
        return value, weight
    spoiled, of_fleet = node_weight
    lost = weight * spoiled
    return value, np.concatenate([weight - lost, lost.sum(axis=1, keepdims=True) * of_fleet], axis=1)


def _sums(logs: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Add up along rows what is given by its logarithms: the logarithm of the sum, shape (rows, 1), and the shares."""
    top = logs.max(axis=1, keepdims=True)
    parts = np.exp(logs - top)
    total = parts.sum(axis=1, keepdims=True)
    return top + np.log(total), parts / total


def _fill(
    score: FloatArray,
    data: LooseningData,
    weight: FloatArray,
    by_level: FloatArray,
    by_shape: FloatArray,
    by_chance: FloatArray,
) -> None:
    """Write the weighed derivatives, summed over each shaft's fittings."""
    weighed = weight * by_level
    level = weighed.sum(axis=1)
    own = data.terms.shape[1]
    slopes = np.einsum("ik,iks->is", weighed[:, :own], data.terms) + weighed[:, own:] @ data.fleet_terms
    columns = [level[:, None], slopes, level[:, None] * data.covariates]
    columns += [(weight * by_shape).sum(axis=1)[:, None], (weight * by_chance).sum(axis=1)[:, None]]
    score[:] = np.add.reduceat(np.concatenate(columns, axis=1), data.first_row, axis=0)
