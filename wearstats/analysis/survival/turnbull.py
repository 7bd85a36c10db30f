"""Curves still tight when each failure is known only to lie between two looks (Turnbull's estimate).

An interval is half-open, (left, right]: tight at ``left``, failed at or before ``right``; ``right`` infinite for a hub
still tight at its last look, ``left == right`` for a time known exactly. The likelihood fixes only how much mass lies
in each of a few *cells*; inside a cell every placement is as likely, and `share_failed` spreads it evenly.

A hub may also be *silent*: tight at ``silent_from``, no word until ``left``, and a failure in between would have gone
unreported with chance ``unreported``. It then adds ``unreported * mass(silent_from, left] + mass(left, inf)``.

References
----------
.. [1] B. W. Turnbull, The empirical distribution function with arbitrarily grouped, censored and truncated data,
   J. R. Statist. Soc. B 38 (1976) 290-295.
.. [2] A. Alioum, D. Commenges, A proportional hazards model for arbitrarily censored and truncated data, Biometrics 52
   (1996) 512-524 (which cells can hold mass under truncation).
.. [3] J. A. Wellner, Y. Zhan, A hybrid algorithm for computation of the nonparametric maximum likelihood estimator from
   censored data, JASA 92 (1997) 945-959.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse
from scipy.optimize import isotonic_regression

from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.errors import AnalysisError, counted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IntervalCells:
    """Where mass can lie, and which cells each fitting covers.

    Parameters
    ----------
    left, right : ndarray, shape (cells,)
        Ends of the cells in months, ascending, ``(left, right]``; the last right end may be infinite.
    first, stop : ndarray of int, shape (fittings,)
        The fitting covers the cells ``first <= j < stop``.
    soft_first : ndarray of int, shape (fittings,)
        A silent fitting covers ``soft_first <= j < first`` in part; equal to `first` for all others.
    entry_stop : ndarray of int, shape (fittings,)
        Cells before this one lie before the fitting was known.
    """

    left: FloatArray
    right: FloatArray
    first: IntArray
    stop: IntArray
    soft_first: IntArray
    entry_stop: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TurnbullCurve:
    """The nonparametric maximum likelihood estimate from intervals.

    Parameters
    ----------
    left, right : ndarray, shape (cells,)
        Ends of the cells in months, ``(left, right]``.
    mass : ndarray, shape (cells,)
        Share of hubs that fail in each; adds up to 1.
    log_likelihood : float
        At the maximum.
    gap : float
        Largest relative breach of the self-consistency (Kuhn-Tucker) condition; at most the tolerance asked for.
    """

    left: FloatArray
    right: FloatArray
    mass: FloatArray
    log_likelihood: float
    gap: float

    def share_failed(self, months: ArrayLike) -> FloatArray:
        """Give the share failed by the given times, shape as given; mass is spread evenly inside its cell."""
        times = np.asarray(months, dtype=float)
        return np.asarray(cell_fractions(self.left, self.right, times) @ self.mass, dtype=float)


def cell_fractions(left: FloatArray, right: FloatArray, months: FloatArray) -> FloatArray:
    """Give how much of each cell lies at or before each time, shape (..., cells); none of a cell without end."""
    width = right - left  # never zero: an exact time has a cell one float wide
    return np.asarray(np.clip(months[..., None] - left, 0.0, width) / width, dtype=float)


def find_cells(
    left: ArrayLike,
    right: ArrayLike,
    *,
    entry: ArrayLike | None = None,
    silent_from: ArrayLike | None = None,
) -> IntervalCells:
    """Find the cells that can hold mass.

    Parameters
    ----------
    left, right : array_like, shape (fittings,)
        Months last known tight and first known failed (infinite if not); equal where the time is exact.
    entry : array_like, shape (fittings,), optional
        Month from which the fitting is known, at most `left`; 0 (no condition) by default.
    silent_from : array_like, shape (fittings,), optional
        Month of the last word of a silent fitting, whose `left` is then now; NaN for the others.

    Returns
    -------
    IntervalCells

    Raises
    ------
    AnalysisError
        Without fittings, or with an interval turned round.

    Notes
    -----
    A cell reaches from an end after which some fitting likes mass better (a `left` or `silent_from`) to the next end
    after which some fitting likes it less (a `right`, or an `entry`, since mass before it escapes the condition). At
    equal values right ends come first, because the interval to the left includes them.
    """
    low = np.asarray(left, dtype=float)
    high = np.asarray(right, dtype=float)
    if low.size == 0 or bool(np.any(high < low)) or not bool(np.all(np.isfinite(low))):
        raise AnalysisError(
            f"{low.size} intervals, of which {int(np.sum(~(high >= low)))} end before they begin",
            needed="for each fitting when it was last tight and, where it failed, when that was first known",
        )
    # an exact time becomes an interval one float wide: its cell can then hold mass as any other, instead of a density
    low = np.where(low == high, np.nextafter(low, -np.inf), low)
    known = np.zeros_like(low) if entry is None else np.asarray(entry, dtype=float)
    soft = np.full_like(low, np.nan) if silent_from is None else np.asarray(silent_from, dtype=float)
    soft = np.where(np.isnan(soft), low, np.minimum(soft, low))
    late = (known > 0) & (known > soft)
    if bool(np.any(late)):
        raise AnalysisError(
            f"{counted(int(np.sum(late)), 'fitting was', 'fittings were')} last tight before it was known",
            needed="histories whose first known date is not after their last news",
        )
    opening = np.unique(np.concatenate([low, soft]))
    closing = np.unique(np.concatenate([high, known[known > 0], [np.inf]]))
    ends = np.concatenate([closing, opening])
    opens = np.concatenate([np.zeros(closing.size, dtype=bool), np.ones(opening.size, dtype=bool)])
    order = np.lexsort((opens, ends))
    ends, opens = ends[order], opens[order]
    starts = np.flatnonzero(opens[:-1] & ~opens[1:])
    cell_left, cell_right = ends[starts], ends[starts + 1]
    return IntervalCells(
        left=cell_left,
        right=cell_right,
        first=np.searchsorted(cell_left, low, side="left"),
        stop=np.searchsorted(cell_right, high, side="right"),
        soft_first=np.searchsorted(cell_left, soft, side="left"),
        entry_stop=np.where(known > 0, np.searchsorted(cell_right, known, side="right"), 0),
    )


def fit_cells(
    cells: IntervalCells,
    weight: FloatArray,
    *,
    unreported: float = 1.0,
    tolerance: float = 1e-8,
    start: FloatArray | None = None,
    most_steps: int = 5000,
) -> TurnbullCurve:
    """Estimate the distribution of the time to failure.

    Parameters
    ----------
    cells : IntervalCells
        As `find_cells` gives them.
    weight : ndarray, shape (fittings,)
        How many fittings each row stands for.
    unreported : float
        Chance that a failure of a silent fitting goes unreported, 0 to 1.
    tolerance : float
        Largest relative breach of self-consistency allowed.
    start : ndarray, shape (cells,), optional
        First guess of the masses.
    most_steps : int
        Give up after so many.

    Returns
    -------
    TurnbullCurve

    Raises
    ------
    AnalysisError
        When it does not settle.

    Notes
    -----
    Each round takes one step of expectation and maximisation [1]_, which always climbs but slowly, and one weighted
    isotonic step on the cumulated masses [3]_, which is quick near the maximum and can revive a cell at zero.
    """
    problem = _Likelihood(*merge_alike(cells, weight), unreported)
    mass = np.full(cells.left.size, 1.0 / cells.left.size) if start is None else start
    value, gap = -np.inf, np.inf
    parts = problem.parts(mass)
    for _ in range(most_steps):
        pull = problem.pull(parts)
        gap = float(pull.max()) - 1.0
        value = problem.value(parts)
        if gap <= tolerance:
            return TurnbullCurve(left=cells.left, right=cells.right, mass=mass, log_likelihood=value, gap=gap)
        mass = mass * pull
        mass, parts = problem.isotonic_step(mass / mass.sum())
    raise AnalysisError(
        f"the curve did not settle in {most_steps} rounds (self-consistency off by {gap:.1e})",
        needed="fewer fittings with a late first known date, or a coarser grid of dates",
    )


def merge_alike(cells: IntervalCells, weight: FloatArray) -> tuple[IntervalCells, FloatArray]:
    """Put fittings together of which the same is known: the likelihood is that of summed weights.

    Parameters
    ----------
    cells : IntervalCells
        Of all fittings.
    weight : ndarray, shape (..., fittings)
        How many each stands for.

    Returns
    -------
    cells : IntervalCells
        Of those that differ, the silent ones last.
    weight : ndarray, shape (..., differing)
    """
    nodes = cells.left.size + 1
    known = (cells.soft_first < cells.first).astype(np.int64)
    for ends in (cells.first, cells.stop, cells.soft_first, cells.entry_stop):
        known = np.unique(known * nodes + ends, return_inverse=True)[1]
    _, one, which = np.unique(known, return_index=True, return_inverse=True)
    merged = replace(
        cells,
        first=cells.first[one],
        stop=cells.stop[one],
        soft_first=cells.soft_first[one],
        entry_stop=cells.entry_stop[one],
    )
    of_alike = sparse.csr_matrix((np.ones(which.size), (which, np.arange(which.size))))
    return merged, np.ascontiguousarray((of_alike @ weight.T).T)


_Parts: TypeAlias = "tuple[FloatArray, FloatArray, FloatArray]"


class _Likelihood:
    """The log likelihood of the masses, its pull on each cell, and a step on the cumulated masses.

    With C the cumulated mass a fitting has probability C[stop] - (1 - k) C[first] - k C[soft_first] of what is known
    of it, k the chance of going unreported, over 1 - C[entry_stop].
    """

    def __init__(self, cells: IntervalCells, weight: FloatArray, unreported: float) -> None:
        if not weight.all():
            used = weight > 0
            cells = replace(
                cells,
                first=cells.first[used],
                stop=cells.stop[used],
                soft_first=cells.soft_first[used],
                entry_stop=cells.entry_stop[used],
            )
            weight = weight[used]
        self.cells = cells
        self.weight = weight
        self.nodes = cells.left.size + 1
        soft = cells.soft_first < cells.first
        self.at_first = np.where(soft, 1.0 - unreported, 1.0)
        self.at_soft = np.where(soft, unreported, 0.0)
        self.late = cells.entry_stop > 0
        self.truncated = bool(np.any(self.late))

    def parts(self, mass: FloatArray) -> _Parts:
        """Cumulated mass; probability of what is known of each fitting, and of being there to be known."""
        total = np.zeros(self.nodes)
        np.cumsum(mass, out=total[1:])
        cells = self.cells
        known = total[cells.stop] - self.at_first * total[cells.first] - self.at_soft * total[cells.soft_first]
        return total, known, total[-1] - total[cells.entry_stop]

    def value(self, parts: _Parts) -> float:
        _, known, there = parts
        if known.size and min(known.min(), there.min()) <= 0:
            return -np.inf
        return float(self.weight @ (np.log(known) - np.log(there)))

    def _spread(self, amount: FloatArray, node: IntArray) -> FloatArray:
        return np.asarray(np.bincount(node, weights=amount, minlength=self.nodes), dtype=float)

    def pull(self, parts: _Parts) -> FloatArray:
        """Factor by which the next expectation step multiplies each mass, shape (cells,); 1 where self-consistent."""
        _, known, there = parts
        cells = self.cells
        ratio = self.weight / np.maximum(known, 1e-300)
        edges = self._spread(self.at_first * ratio, cells.first) + self._spread(self.at_soft * ratio, cells.soft_first)
        edges -= self._spread(ratio, cells.stop)
        expected = np.cumsum(edges)[:-1]
        if not self.truncated:
            return np.asarray(expected / self.weight.sum(), dtype=float)
        ghost = self.weight / np.maximum(there, 1e-300)
        # fittings that failed before they could be known: expected in the cells before each entry [1]
        expected = expected + ghost.sum() - np.cumsum(self._spread(ghost, cells.entry_stop))[:-1]
        return np.asarray(expected / ghost.sum(), dtype=float)

    def isotonic_step(self, mass: FloatArray) -> tuple[FloatArray, _Parts]:
        """Step the cumulated masses by diagonal Newton and isotonic regression, halved until it climbs."""
        parts = self.parts(mass)
        if mass.size < 2:
            return mass, parts
        total, known, there = parts
        cells = self.cells
        first = self.weight / np.maximum(known, 1e-300)
        second = first / np.maximum(known, 1e-300)
        slope = self._spread(first, cells.stop)
        slope -= self._spread(self.at_first * first, cells.first) + self._spread(self.at_soft * first, cells.soft_first)
        curvature = self._spread(second, cells.stop)
        curvature += self._spread(self.at_first**2 * second, cells.first)
        curvature += self._spread(self.at_soft**2 * second, cells.soft_first)
        if self.truncated:
            slope += self._spread(self.weight / np.maximum(there, 1e-300) * self.late, cells.entry_stop)
        # of the second derivatives only the diagonal is kept: the best ascending masses are then a weighted isotonic
        # regression, and no matrix of the size of the data is solved [3]
        inner = slice(1, self.nodes - 1)
        steep = np.maximum(curvature[inner], 1e-10 * curvature.max())
        target = isotonic_regression(total[inner] + slope[inner] / steep, weights=steep).x
        goal = np.diff(np.concatenate([[0.0], np.clip(target, 0.0, 1.0), [1.0]]))
        best, length = self.value(parts), 1.0
        for _ in range(12):
            trial = np.maximum(mass + length * (goal - mass), 0.0)
            there_then = self.parts(trial)
            if self.value(there_then) >= best:
                return trial, there_then
            length /= 2
        return mass, parts
