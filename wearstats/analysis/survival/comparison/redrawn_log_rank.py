"""The log-rank test when times lie between looks, groups are small, and fittings of one shaft fail together.

The statistic is failures seen less expected, by group. Its null is redrawn, for large-sample formulas call far too many
small groups different: every fitting fails by the common curve, on its own entry, looks and silence, with its shaft's
factor, and what would then be known is counted as the records are.
Permuting fittings between groups would need equal follow-up, which groups seldom have [1]_.

Each redraw is studentised: the shape of the spread is that over all redraws, its size follows from the failures that
the redraw has [2]_. Where too few redraws reach the statistic, more are made; in large groups the tail then goes on as
that of a chi-squared.

References
----------
.. [1] G. Neuhaus, Conditional rank tests for the two-sample problem under random censorship, Ann. Stat. 21 (1993)
   1760-1779.
.. [2] R. Wang, S. W. Lagakos, R. J. Gray, Testing and interval estimation for two-sample survival comparisons with
   small sample sizes and unequal censoring, Biostatistics 11 (2010) 676-692.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import scipy
from numpy.typing import ArrayLike
from scipy import sparse

from wearstats.analysis.survival.comparison.counts import BANDS, Bands
from wearstats.analysis.survival.comparison.schedules import Schedules, find_schedules
from wearstats.analysis.survival.comparison.shaft_effects import SPREADS, cumulated, share_tight, spread_weights
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.analysis.survival.turnbull import fit_cells
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.errors import AnalysisError

REDRAWS = 999
_TOGETHER = 2_000_000
"""Fittings times redraws worked on at once."""
_BUDGET = 10_000_000
"""Fittings times redraws where the first redraws do not reach the statistic."""
_ENOUGH = 10  # redraws that must reach the statistic for their share to be given as it is
_SMOOTH = 10.0  # failures expected in the smallest group from which the tail of the redraws is smooth; judgement


_Excess: TypeAlias = "tuple[FloatArray, FloatArray]"
"""Failures seen less expected (redraws, groups - 1), and their variance (redraws, groups - 1, groups - 1)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RedrawnLogRank:
    """Whether groups fail at the same rate.

    Parameters
    ----------
    groups : tuple
        Labels, sorted.
    observed, expected : ndarray, shape (groups,)
        Failures seen, and expected if all groups failed alike.
    statistic, p_value : float
        Studentised statistic, and the share of redraws that reach it.
    shaft_spread : float
        Mean of the standard deviation of a shaft's factor over the redraws; 0 where no shaft has two fittings.
    """

    groups: tuple[object, ...]
    observed: FloatArray
    expected: FloatArray
    statistic: float
    p_value: float
    shaft_spread: float


def compare_groups(
    told: SilentHistories,
    age: ArrayLike,
    group: ArrayLike,
    *,
    reported: float = 0.0,
    redraws: int = REDRAWS,
    rng: np.random.Generator,
) -> RedrawnLogRank:
    """Test whether groups fail alike.

    Parameters
    ----------
    told : SilentHistories
        Of all fittings compared.
    age : array_like, shape (fittings,)
        Months from the fitting to the end of the records, whatever became of it.
    group : array_like, shape (fittings,)
        Which group each belongs to.
    reported : float
        Chance that a failure is reported unasked, the same in all groups.
    redraws : int
        How many.
    rng : Generator
        For the redraws.

    Returns
    -------
    RedrawnLogRank

    Raises
    ------
    AnalysisError
        With fewer than two groups, without a failure, or where the common curve stays at nothing all the time seen.
    """
    labels, index = np.unique(np.asarray(group), return_inverse=True)
    if labels.size < 2:
        raise AnalysisError("one group cannot be compared with itself", needed="fittings in at least two groups")
    if not told.failed.any():
        raise AnalysisError("0 failures do not tell groups apart", needed="at least one failure")
    schedules = find_schedules(told, np.asarray(age, dtype=float), index, rng=rng)
    curve = fit_cells(told.cells(), np.ones(len(told)), unreported=1.0 - reported, tolerance=1e-6)
    bands = Bands.of(curve, float(schedules.end.max()))
    if bands.cuts[-1] <= 0.0:
        raise AnalysisError("no time is known within which any of them failed", needed="follow_ups before the failures")
    counter = _Counter(bands, schedules, index, 1.0 - reported)
    seen, exposed = counter.count_records(told)
    expected = _expected(seen[None], exposed[None])[0].sum(axis=1)
    records = _excess(seen[None], exposed[None])
    for tried in (redraws, max(redraws, min(10 * redraws, _BUDGET // len(told)))):
        statistic, drawn = _studentise(records, counter.redraw(told, reported, tried, rng))
        reached = int(np.sum(drawn >= statistic * (1 - 1e-9)))
        if reached >= _ENOUGH:
            break
    return RedrawnLogRank(
        groups=tuple(labels.tolist()),
        observed=seen.sum(axis=1),
        expected=expected,
        statistic=statistic,
        p_value=_p_value(statistic, drawn, reached, smooth=expected.min() >= _SMOOTH),
        shaft_spread=counter.shaft_spread,
    )


class _Counter:
    """Counts failures and exposure by group and band, of the records and of redraws."""

    def __init__(self, bands: Bands, schedules: Schedules, group: IntArray, unreported: float) -> None:
        self.bands = bands
        self.schedules = schedules
        self.group = group
        self.groups = int(group.max()) + 1
        self.unreported = unreported
        self.shaft_spread = 0.0
        # a band that the entry cuts counts from its nearer end
        self.known = np.arange(BANDS) >= bands.cut_near(bands.failed_by(schedules.entry))[:, None]

    def count_records(self, told: SilentHistories) -> tuple[FloatArray, FloatArray]:
        """Count what is on record, two arrays of shape (groups, bands)."""
        failed = told.failed
        failures, exposure = self.bands.tight(told.last_word, np.maximum(told.left, told.last_word), self.unreported)
        first, stop = self.bands.between(told.left[failed], told.right[failed])
        failures[failed], exposure[failed] = self.bands.failures[first, stop], self.bands.exposure[first, stop]
        return self._by_group(failures), self._by_group(exposure)

    def redraw(self, told: SilentHistories, reported: float, redraws: int, rng: np.random.Generator) -> _Excess:
        """Redraw the records so many times."""
        schedules, bands = self.schedules, self.bands
        silent_from = np.where(np.isnan(told.silent_from), told.left, told.silent_from)
        ends = {"entry": told.entry, "left": told.left, "right": told.right, "silent_from": silent_from}
        tight = {name: 1.0 - bands.failed_by(months) for name, months in ends.items()}
        # of a failure known to lie in a moment too short for the curve to have mass there
        tight["right"] = np.where(told.failed, np.minimum(tight["right"], tight["left"] - 1e-12), 0.0)
        weight = spread_weights(told, tight, self.unreported)
        spread = np.sort(rng.choice(SPREADS, size=redraws, p=weight))
        self.shaft_spread = float(spread.mean())
        base = bands.tight(schedules.last_look, schedules.end, self.unreported)
        together = max(_TOGETHER // len(told), 1)
        found = []
        for value in np.unique(spread):
            left = int(np.sum(spread == value))
            while left > 0:
                some = min(left, together)
                left -= some
                found.append(self._redraw(some, float(value) ** 2, told.shaft, base, reported, rng))
        return np.concatenate([excess for excess, _ in found]), np.concatenate([spread for _, spread in found])

    def _redraw(
        self,
        redraws: int,
        variance: float,
        shaft: IntArray,
        base: tuple[FloatArray, FloatArray],
        reported: float,
        rng: np.random.Generator,
    ) -> _Excess:
        schedules, bands = self.schedules, self.bands
        start = cumulated(1.0 - bands.failed_by(schedules.entry), variance)
        room = cumulated(1.0 - bands.failed_by(schedules.end), variance) - start
        if variance > 0:
            # of shafts whose fittings were known late, those of a small factor are left
            rate = 1 / variance + np.bincount(shaft, weights=start)
            factor = (rng.standard_gamma(1 / variance, (redraws, rate.size)) / rate)[:, shaft]
        else:
            factor = np.ones((1, shaft.size))
        wait = rng.standard_exponential((redraws, shaft.size))
        draw, row = np.nonzero(wait < factor * room)
        hazard = start[row] + wait[draw, row] / np.broadcast_to(factor, wait.shape)[draw, row]
        share = 1.0 - share_tight(hazard, variance)
        left, right = schedules.found(row, np.interp(share, bands.share, bands.months), rng.random(row.size) < reported)
        learnt = np.isfinite(right)
        draw, row = draw[learnt], row[learnt]
        first, stop = bands.between(left[learnt], right[learnt])
        cell = draw * self.groups + self.group[row]
        into = sparse.csr_matrix((np.ones(row.size), (cell, np.arange(row.size))), (redraws * self.groups, row.size))
        failures, exposure = (
            self._by_group(kept)
            + (into @ ((failing[first, stop] - kept[row]) * self.known[row])).reshape(redraws, self.groups, BANDS)
            for failing, kept in zip((bands.failures, bands.exposure), base, strict=True)
        )
        return _excess(failures, exposure)

    def _by_group(self, of_each: FloatArray) -> FloatArray:
        member = sparse.csr_matrix((np.ones(self.group.size), (self.group, np.arange(self.group.size))))
        return np.asarray(member @ (of_each * self.known), dtype=float)


def _expected(failures: FloatArray, exposure: FloatArray) -> FloatArray:
    """Share the failures of each band among the groups by their exposure, shape (redraws, groups, bands)."""
    all_exposure = exposure.sum(axis=1, keepdims=True)
    share = np.divide(exposure, all_exposure, out=np.zeros_like(exposure), where=all_exposure > 1e-12)
    return np.asarray(share * failures.sum(axis=1, keepdims=True), dtype=float)


def _excess(failures: FloatArray, exposure: FloatArray) -> _Excess:
    """Give failures seen less expected, and their variance given how many fail in each band; without the last group."""
    expected = _expected(failures, exposure)
    excess = (failures - expected).sum(axis=2)[:, :-1]
    deaths = failures.sum(axis=1)
    share = np.divide(expected, deaths[:, None], out=np.zeros_like(expected), where=deaths[:, None] > 0)[:, :-1]
    variance = -np.einsum("rgb,rhb,rb->rgh", share, share, deaths, optimize=True)
    diagonal = np.arange(share.shape[1])
    variance[:, diagonal, diagonal] += expected[:, :-1].sum(axis=2)
    return excess, variance


def _studentise(records: _Excess, redraws: _Excess) -> tuple[float, FloatArray]:
    """Give the statistic of the records, and those of the redraws, shape (redraws,)."""
    usual = redraws[0].mean(axis=0)
    excess = np.concatenate([records[0], redraws[0]]) - usual
    inverse = np.linalg.pinv(excess[1:].T @ excess[1:] / (len(excess) - 1), hermitian=True)
    size = np.einsum("gh,rgh->r", inverse, np.concatenate([records[1], redraws[1]]))
    distance = np.einsum("rg,gh,rh->r", excess, inverse, excess)
    statistic = np.divide(distance, size, out=np.zeros_like(distance), where=size > 1e-9 * size.mean())
    statistic = statistic * size[1:].mean()
    return float(statistic[0]), statistic[1:]


def _p_value(statistic: float, drawn: FloatArray, reached: int, *, smooth: bool) -> float:
    """Give the share of redraws that reach the statistic, the records counted as one of them."""
    share = (reached + 1) / (drawn.size + 1)
    if reached >= _ENOUGH or not smooth or drawn.size < 10 * _ENOUGH:
        return share
    bound = float(np.sort(drawn)[-_ENOUGH])
    # above the tenth highest redraw the tail goes on as that of a chi-squared of the redraws' own mean and variance
    mean, variance = float(drawn.mean()), float(drawn.var())
    tail = scipy.stats.gamma(mean**2 / variance, scale=variance / mean)
    return min(share, _ENOUGH / drawn.size * float(np.exp(tail.logsf(statistic) - tail.logsf(bound))))
