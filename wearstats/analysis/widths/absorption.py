"""A block of units with its places and own biases integrated out, two ways that give the same.

*By spline*: places are eliminated one by one, then each spline, and what is left of a unit is a matrix as small as its
stations and inspections. The work grows with the number of readings alone. *By places*: one matrix as large as the map
a unit; needed where readings enter as averages over splines, which tie all splines together.

References
----------
.. [1] S. R. Searle, G. Casella, C. E. McCulloch, Variance Components, Wiley 1992, appendix M.5 (inverses of patterned
   matrices).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from wearstats.analysis.widths.components import COMPONENTS, MAP_COMPONENTS, map_covariances, map_factor
from wearstats.analysis.widths.data import WidthBlock
from wearstats.domain.arrays import FloatArray


class Absorbed(Protocol):
    """What the likelihood asks of a block.

    A unit's own columns are its stations and its inspections, `own` of them; the last column of `gram` and `solved` is
    the readings themselves.
    """

    @property
    def block(self) -> WidthBlock:
        """The block."""

    @property
    def gram(self) -> FloatArray:
        """Inner products of own columns and readings under V^-1, shape (units, own + 1, own + 1)."""

    @property
    def solved(self) -> FloatArray:
        """V^-1 times own columns and readings, shape (units, inspections, slots, own + 1)."""

    @property
    def log_determinant(self) -> float:
        """Logarithm of the units' determinants, of single readings."""

    def apply(self, columns: FloatArray) -> FloatArray:
        """Apply V^-1 to columns, shape (units, inspections, slots, k)."""

    def map_traces(self, shared: FloatArray) -> FloatArray:
        """Traces of the map's components under P, shape (4,); `shared` as `own_part` gives it."""

    def reading_diagonal(self, shared: FloatArray) -> FloatArray:
        """Diagonal of P at each slot, shape (units, inspections, slots)."""


def absorb(block: WidthBlock, variances: FloatArray, reading: FloatArray, bias: FloatArray) -> Absorbed:
    """Integrate a block's places and own biases out.

    Parameters
    ----------
    block : WidthBlock
        The units.
    variances : ndarray, shape (13,)
        Components, um^2.
    reading : ndarray, shape (units, inspections, slots or 1)
        Variance of one reading, um^2.
    bias : ndarray, shape (units, inspections, inspections)
        Covariance of the biases that no other unit shares, um^2.
    """
    if block.has_averages:
        return _by_places(block, variances, reading, bias)
    return _by_splines(block, variances, reading, bias)


def map_products(block: WidthBlock, over_slots: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Multiply a vector of the slots by the covariance that splines make, and that places make, per unit variance.

    Parameters
    ----------
    block : WidthBlock
        The units.
    over_slots : ndarray, shape (units, slots)
        The vector.

    Returns
    -------
    tuple of ndarray, shape (units, slots)
        By splines, by places. (Shafts and stations are sums of a unit's own columns.)
    """
    shape = block.shape
    if block.has_averages:
        _, spline, _, cell = map_covariances(shape)
        return over_slots @ spline, over_slots @ cell
    units = over_slots.shape[0]
    by_spline, by_place = np.zeros_like(over_slots), np.zeros_like(over_slots)
    places = slice(0, shape.places)
    by_place[:, places] = over_slots[:, places]
    sums = over_slots[:, places].reshape(units, shape.splines, -1).sum(axis=2)
    by_spline[:, places] = np.repeat(sums, len(shape.stations), axis=1)
    return by_spline, by_place


def own_columns(block: WidthBlock) -> FloatArray:
    """Stations, inspections and readings as columns, shape (units, inspections, slots, own + 1)."""
    units, inspections, slots = block.count.shape
    stations = len(block.shape.stations)
    columns = np.zeros((units, inspections, slots, stations + inspections + 1))
    columns[..., :stations] = block.shape.station_design()
    for t in range(inspections):
        columns[:, t, :, stations + t] = 1.0
    columns[..., -1] = block.mean
    return columns


def inner(left: FloatArray, right: FloatArray) -> FloatArray:
    """Inner products of columns over a unit's inspections and slots, shape (units, left columns, right columns)."""
    units = left.shape[0]
    flat_left = left.reshape(units, -1, left.shape[-1])
    return np.swapaxes(flat_left, 1, 2) @ right.reshape(units, -1, right.shape[-1])


def _log_readings(block: WidthBlock, reading: FloatArray) -> float:
    # readings of one place share their mean's variance: log n belongs to the criterion of the single readings
    return float(np.sum(np.where(block.count > 0, np.log(reading), 0.0)))


def _by_splines(block: WidthBlock, variances: FloatArray, reading: FloatArray, bias: FloatArray) -> _BySplines:
    shape = block.shape
    units, inspections, _ = block.count.shape
    stations = len(shape.stations)
    shaft, spline, station, cell = (float(value) for value in variances[: len(MAP_COMPONENTS)])
    weight = block.count / reading
    grid = weight[..., : shape.places].reshape(units, inspections, shape.splines, stations)
    precision = grid.sum(axis=1)
    kept = 1 / (1 + cell * precision)
    told = precision * kept
    of_spline = told.sum(axis=2)
    left = 1 / (1 + spline * of_spline)
    part = _BySplines(
        block=block, weight=weight, kept=kept, told=told, left=left, cell=cell, spline=spline,
        solved_own=np.empty(0), pull=np.empty(0), solved=np.empty(0), gram=np.empty(0), plain=np.empty(0),
        log_determinant=0.0,
    )  # fmt: skip
    columns = own_columns(block)
    alone = part.without_own(columns)
    plain = inner(columns, alone)
    own = stations + inspections
    prior = np.zeros((units, own, own))
    prior[:, :stations, :stations] = shaft + station * np.eye(stations)
    prior[:, stations:, stations:] = bias
    system = np.eye(own) + plain[:, :own, :own] @ prior
    pull = prior @ np.linalg.inv(system)
    pull = 0.5 * (pull + np.swapaxes(pull, 1, 2))
    taken = pull @ plain[:, :own, :]
    gram = plain - plain[:, :, :own] @ taken
    solved_own = np.ascontiguousarray(alone[..., :own])
    flat = solved_own.reshape(units, -1, own)
    solved = alone - (flat @ taken).reshape(alone.shape)
    log_determinant = (
        float(np.sum(np.linalg.slogdet(system)[1])) - float(np.log(kept).sum()) - float(np.log(left).sum())
        + _log_readings(block, reading)
    )  # fmt: skip
    return _BySplines(
        block=block, weight=weight, kept=kept, told=told, left=left, cell=cell, spline=spline,
        solved_own=solved_own, pull=pull, solved=solved, gram=gram, plain=plain[:, :own, :own],
        log_determinant=log_determinant,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _BySplines:
    """Places and splines eliminated in turn, then stations, shaft and biases together."""

    block: WidthBlock
    weight: FloatArray  # (units, inspections, slots)
    kept: FloatArray  # (units, splines, stations): what a place's own difference leaves of its precision
    told: FloatArray  # (units, splines, stations): precision of a place once its own difference is out
    left: FloatArray  # (units, splines): the same for a spline
    cell: float
    spline: float
    solved_own: FloatArray  # own columns with places and splines out
    pull: FloatArray  # (units, own, own)
    solved: FloatArray
    gram: FloatArray
    plain: FloatArray  # (units, own, own): gram before stations, shaft and biases are out
    log_determinant: float

    def without_own(self, columns: FloatArray) -> FloatArray:
        """Apply the inverse of what readings of a spline alone share."""
        shape = self.block.shape
        units, inspections, _, k = columns.shape
        solved = self.weight[..., None] * columns
        at_place = solved[:, 0, : shape.places].copy()
        for t in range(1, inspections):
            at_place += solved[:, t, : shape.places]
        grid = at_place.reshape(units, shape.splines, -1, k)
        grid *= self.kept[..., None]
        of_spline = (self.spline * self.left)[..., None] * grid.sum(axis=2)
        pulled = self.cell * grid
        pulled += self.kept[..., None] * of_spline[:, :, None, :]
        pulled = pulled.reshape(units, shape.places, k)
        for t in range(inspections):
            solved[:, t, : shape.places] -= self.weight[:, t, : shape.places, None] * pulled
        return solved

    def apply(self, columns: FloatArray) -> FloatArray:
        units = columns.shape[0]
        solved = self.without_own(columns)
        flat = self.solved_own.reshape(units, -1, self.solved_own.shape[-1])
        across = np.swapaxes(flat, 1, 2) @ columns.reshape(units, -1, columns.shape[-1])
        solved -= (flat @ (self.pull @ across)).reshape(solved.shape)
        return solved

    def _shared_pull(self, shared: FloatArray) -> FloatArray:
        """How much of the own columns comes out, the common system's share with it, shape (units, own, own)."""
        through = np.eye(self.pull.shape[1]) - self.pull @ self.plain
        return np.asarray(self.pull + through @ shared @ np.swapaxes(through, 1, 2))

    def map_traces(self, shared: FloatArray) -> FloatArray:
        shape = self.block.shape
        stations = len(shape.stations)
        units = self.pull.shape[0]
        pull = self._shared_pull(shared)
        own = self.plain[:, :stations, :stations] - self.plain[:, :stations] @ pull @ self.plain[:, :, :stations]
        by_place = self.solved_own[:, :, : shape.places].sum(axis=1)
        by_spline = by_place.reshape(units, shape.splines, stations, -1).sum(axis=2)
        of_spline = self.told.sum(axis=2)
        return np.array(
            [
                float(own.sum()),
                float(np.sum(self.left * of_spline)) - float(np.sum((by_spline @ pull) * by_spline)),
                float(np.trace(own, axis1=1, axis2=2).sum()),
                float(np.sum(self.told - self.spline * self.left[..., None] * self.told**2))
                - float(np.sum((by_place @ pull) * by_place)),
            ]
        )

    def reading_diagonal(self, shared: FloatArray) -> FloatArray:
        shape = self.block.shape
        units = self.weight.shape[0]
        shrink = self.kept * (self.cell + self.spline * self.left[..., None] * self.kept)
        diagonal = self.weight.copy()
        places = self.weight[..., : shape.places]
        diagonal[..., : shape.places] -= places**2 * shrink.reshape(units, 1, shape.places)
        flat = self.solved_own.reshape(units, -1, self.pull.shape[1])
        taken = np.sum((flat @ self._shared_pull(shared)) * flat, axis=2)
        return np.asarray(diagonal - taken.reshape(diagonal.shape))


def _by_places(block: WidthBlock, variances: FloatArray, reading: FloatArray, bias: FloatArray) -> _ByPlaces:
    inspections, slots = block.count.shape[1:]
    weight = block.count / reading
    total = weight.sum(axis=2)
    system = np.eye(inspections) + total[:, :, None] * bias
    middle = bias @ np.linalg.inv(system)
    middle = 0.5 * (middle + np.swapaxes(middle, 1, 2))
    factor = map_factor(block.shape, variances)
    precision = -(np.swapaxes(weight, 1, 2) @ (middle @ weight))
    slot = np.arange(slots)
    precision[:, slot, slot] += weight.sum(axis=1)
    core = factor.T @ precision @ factor
    place = np.arange(core.shape[1])
    core[:, place, place] += 1.0
    cholesky = np.linalg.cholesky(core)
    root = np.linalg.inv(cholesky) @ factor.T
    posterior = np.swapaxes(root, 1, 2) @ root
    part = _ByPlaces(
        block=block, weight=weight, middle=middle, precision=precision, posterior=posterior,
        solved=np.empty(0), gram=np.empty(0), log_determinant=0.0,
    )  # fmt: skip
    columns = own_columns(block)
    solved = part.apply(columns)
    log_determinant = (
        2 * float(np.sum(np.log(np.diagonal(cholesky, axis1=1, axis2=2))))
        + float(np.sum(np.linalg.slogdet(system)[1]))
        + _log_readings(block, reading)
    )
    return _ByPlaces(
        block=block, weight=weight, middle=middle, precision=precision, posterior=posterior,
        solved=solved, gram=inner(columns, solved), log_determinant=log_determinant,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ByPlaces:
    """Biases eliminated, then all places together."""

    block: WidthBlock
    weight: FloatArray
    middle: FloatArray  # (units, inspections, inspections)
    precision: FloatArray  # (units, slots, slots)
    posterior: FloatArray
    solved: FloatArray
    gram: FloatArray
    log_determinant: float

    def apply(self, columns: FloatArray) -> FloatArray:
        own = self._without_map(columns)
        pulled = self.posterior @ own.sum(axis=1)
        return own - self._without_map(np.broadcast_to(pulled[:, None], columns.shape))

    def _without_map(self, columns: FloatArray) -> FloatArray:
        weighted = self.weight[..., None] * columns
        weighted -= self.weight[..., None] * (self.middle @ weighted.sum(axis=2))[:, :, None, :]
        return weighted

    def map_traces(self, shared: FloatArray) -> FloatArray:
        local = self.solved[..., :-1].sum(axis=1)
        collapsed = self.precision - self.precision @ self.posterior @ self.precision
        collapsed -= local @ shared @ np.swapaxes(local, 1, 2)
        return np.array([float(np.sum(collapsed * covariance)) for covariance in map_covariances(self.block.shape)])

    def reading_diagonal(self, shared: FloatArray) -> FloatArray:
        # V^-1 = B - B Z posterior Z' B with B the inverse without the map, all at one slot
        weight, middle = self.weight, self.middle
        own = np.diagonal(middle, axis1=1, axis2=2)[..., None]
        # row of B Z for slot c of inspection t: weight there, less what the biases take from every inspection
        taken = middle @ weight
        pulled = taken @ self.posterior
        spread = np.diagonal(self.posterior, axis1=1, axis2=2)[:, None, :]
        seen = spread - 2 * pulled + np.sum(pulled * taken, axis=2)[..., None]
        local = self.solved[..., :-1]
        return np.asarray(
            weight - own * weight**2 - weight**2 * seen - np.sum((local @ shared[:, None]) * local, axis=3)
        )


def plain_gram(block: WidthBlock, variances: FloatArray, reading: FloatArray) -> FloatArray:
    """Give the products of own columns and readings with only splines and places integrated out.

    Parameters
    ----------
    block, variances, reading
        As for `absorb`; shaft, stations and biases are not looked at.

    Returns
    -------
    ndarray, shape (units, own, own + 1)
        Own columns by own columns, the readings last: all that sums over whole stations need, at a small part of the
        work of `absorb`.
    """
    shape = block.shape
    units, inspections, _ = block.count.shape
    stations = len(shape.stations)
    own = stations + inspections
    if block.has_averages:
        none = variances.copy()
        none[[COMPONENTS.index("shaft"), COMPONENTS.index("shaft_station")]] = 0.0
        way = _by_places(block, none, reading, np.zeros((units, inspections, inspections)))
        return np.asarray(way.gram[:, :own])
    spline, cell = (float(variances[COMPONENTS.index(name)]) for name in ("spline", "cell"))
    weight = block.count / reading
    weighted = weight * block.mean
    places = slice(0, shape.places)
    of_station = np.tile(np.eye(stations), (shape.splines, 1))
    of_spline = np.repeat(np.eye(shape.splines), stations, axis=0)
    # columns at the places, summed over inspections: every inspection's weights, and the readings
    columns = [weight[:, t, places] for t in range(inspections)]
    precision = sum(columns[1:], start=columns[0])
    kept = 1 / (1 + cell * precision)
    told = kept * precision
    left = 1 / (1 + spline * (told @ of_spline))
    read = sum((weighted[:, t, places] for t in range(1, inspections)), start=weighted[:, 0, places])
    columns.append(read)
    scaled = [kept * column for column in columns]
    by_spline = [each @ of_spline for each in scaled]
    drawn = [spline * left * each for each in by_spline]
    gram = np.zeros((units, own, own + 1))
    for j in range(stations):
        here = told[:, j::stations]
        gram[:, j, j] = here.sum(axis=1)
        for k in range(j, stations):
            taken = np.einsum("us,us,us->u", spline * left, here, told[:, k::stations])
            gram[:, j, k] -= taken
            if k != j:
                gram[:, k, j] -= taken
        for q in range(inspections + 1):
            gram[:, j, stations + q] = -np.einsum("us,us->u", drawn[q], here)
    for q in range(inspections + 1):
        gram[:, :stations, stations + q] += scaled[q] @ of_station
    gram[:, stations:, :stations] = np.swapaxes(gram[:, :stations, stations:own], 1, 2)
    for t in range(inspections):
        for q in range(inspections + 1):
            gram[:, stations + t, stations + q] = -cell * np.einsum("up,up->u", scaled[t], columns[q]) - np.einsum(
                "us,us->u", drawn[t], by_spline[q]
            )
        gram[:, stations + t, stations + t] += weight[:, t].sum(axis=1)
        gram[:, stations + t, own] += weighted[:, t].sum(axis=1)
    return gram
