"""A gap that is not known but to a distribution, reduced to a few equally likely values.

A fitting's gap is drawn many times from what is known of its shaft and its hub. For the likelihood of its history some
thirty values serve as well: the draws are put in order and cut into groups of equal size, and each group is stood for
by its mean. Fittings of one shaft stay together draw by draw, for they share the measurer's bias: there the draws are
put in order by their common part first, and within that by their difference.

Now and then a record is wrong: the hub named is another, a date or a state is mistyped, a gauge was read a turn off.
Its gap is then that of any fitting. So with a small share every gap is drawn from the gaps of the fleet (a
contamination mixture [1]_ [2]_), and no single record carries what is fitted: one that fits nothing comes to be taken
for a wrong one.

References
----------
.. [1] G. E. P. Box, G. C. Tiao, A Bayesian approach to some outlier problems, Biometrika 55 (1968) 119-129.
.. [2] I. Verdinelli, L. Wasserman, Bayesian analysis of outlier problems using the Gibbs sampler, Statistics and
   Computing 1 (1991) 105-117.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearstats.domain.arrays import FloatArray, IntArray

NODES = 32
FLEET_NODES = 8
"""Values that stand for the gaps of the fleet."""
SPOILED_SHARE = 0.01
"""Share of fittings whose outcome or hub is on record wrongly, though nothing shows it before the fit; judgement."""
_COMMON = 8
"""Groups by the common part where a shaft has several fittings; the rest of the nodes splits each by the difference."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapNodes:
    """Equally likely values of every fitting's gap.

    Parameters
    ----------
    value_um : ndarray, shape (fittings, nodes)
        Node k of one fitting goes with node k of the other fittings of its shaft.
    shaft : ndarray of int, shape (fittings,)
        Shaft of each fitting, numbered from 0.
    spoiled : ndarray, shape (fittings,), optional
        Chance, before its outcome is looked at, that a fitting's records are wrong and its gap is any of the fleet's;
        none is, if not given.
    """

    value_um: FloatArray
    shaft: IntArray
    spoiled: FloatArray | None = None

    @property
    def mean_um(self) -> FloatArray:
        """What is expected of each gap, shape (fittings,)."""
        return np.asarray(self.value_um.mean(axis=1))

    def take(self, chosen: IntArray | NDArray[np.bool_]) -> GapNodes:
        """Keep some fittings."""
        spoiled = None if self.spoiled is None else self.spoiled[chosen]
        return GapNodes(value_um=self.value_um[chosen], shaft=self.shaft[chosen], spoiled=spoiled)

    @property
    def fleet_um(self) -> FloatArray:
        """Equally likely values of any fitting's gap, shape (fleet nodes,); empty where no record may be wrong."""
        if self.spoiled is None:
            return np.zeros(0)
        share = (np.arange(FLEET_NODES) + 0.5) / FLEET_NODES
        return np.asarray(np.quantile(self.value_um, share))


def as_single_values(value_um: FloatArray, shaft: IntArray) -> GapNodes:
    """Take the gaps as known, shape (fittings,)."""
    return GapNodes(value_um=np.asarray(value_um, dtype=float)[:, None], shaft=np.asarray(shaft))


def reduce_draws(draws_um: FloatArray, shaft: IntArray, *, nodes: int = NODES) -> GapNodes:
    """Reduce draws to nodes.

    Parameters
    ----------
    draws_um : ndarray, shape (fittings, draws)
        Draw d of one fitting goes with draw d of the other fittings of its shaft. The number of draws must be a
        multiple of `nodes`.
    shaft : ndarray of int, shape (fittings,)
        Shaft of each fitting.
    nodes : int
        How many values are to stand for the draws; a multiple of eight.

    Returns
    -------
    GapNodes
        Means are kept exactly; the spread of each fitting's nodes is that of its draws.
    """
    fittings, draws = draws_um.shape
    if draws % nodes or nodes % _COMMON:
        raise ValueError(f"{draws} draws cannot be cut into {nodes} equal groups of a multiple of {_COMMON}")
    value = np.empty((fittings, nodes))
    _, numbered, count = np.unique(shaft, return_inverse=True, return_counts=True)
    alone = count[numbered] == 1
    ordered = np.sort(draws_um[alone], axis=1)
    value[alone] = ordered.reshape(-1, nodes, draws // nodes).mean(axis=2)
    order = np.argsort(numbered, kind="stable")
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    for size in np.unique(count[count > 1]):
        rows = order[start[count == size][:, None] + np.arange(size)]
        value[rows] = _together(draws_um[rows], nodes)
    return GapNodes(
        value_um=_with_full_spread(value, draws_um), shaft=np.asarray(shaft), spoiled=np.full(fittings, SPOILED_SHARE)
    )


def _together(draws: FloatArray, nodes: int) -> FloatArray:
    """Reduce the draws of shafts with the same number of fittings; shape (shafts, fittings, draws) to (…, nodes)."""
    shafts, fittings, count = draws.shape
    common = np.argsort(draws.mean(axis=1), axis=1)
    first = np.take_along_axis(draws, common[:, None, :], axis=2)
    difference = (first[:, -1] - first[:, 0]).reshape(shafts, _COMMON, count // _COMMON)
    inner = np.argsort(difference, axis=2)[:, None]
    parted = first.reshape(shafts, fittings, _COMMON, count // _COMMON)
    second = np.take_along_axis(parted, np.broadcast_to(inner, parted.shape), axis=3)
    return np.asarray(second.reshape(shafts, fittings, nodes, count // nodes).mean(axis=3))


def _with_full_spread(value: FloatArray, draws: FloatArray) -> FloatArray:
    """Stretch the nodes about their mean to the spread of the draws, as far as no gap becomes negative."""
    mean = value.mean(axis=1, keepdims=True)
    spread = value.std(axis=1, keepdims=True)
    stretch = np.where(spread > 0, draws.std(axis=1, keepdims=True) / np.maximum(spread, 1e-12), 1.0)
    lowest = np.minimum(draws.min(axis=1, keepdims=True), value.min(axis=1, keepdims=True))
    room = (mean - lowest) / np.maximum(mean - value.min(axis=1, keepdims=True), 1e-12)
    return np.asarray(mean + np.minimum(stretch, np.maximum(room, 1.0)) * (value - mean))
