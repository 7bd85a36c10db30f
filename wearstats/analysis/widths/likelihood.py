"""The restricted likelihood of the width model, exact for unbalanced and crossed readings.

A reading of place *p* of a unit (a shaft between two hubs) in inspection *t* by measurer *m* is::

    new width + station mean + group mean + shaft + spline + shaft_station + cell      (the width map)
        + class mean + measurer_m + inspection_t                                      (bias)
        + repeatability                                                               (with the rounding of the gauge)

Inspections are crossed with places, and measurers with shafts, so the sums needed go by inspection x place. Per unit
the places are integrated out (`wearstats.analysis.widths.absorption`), whatever components are zero; what couples the
units (station, group and class means, and measurers of several units) is a small system solved once.

References
----------
.. [1] S. R. Searle, G. Casella, C. E. McCulloch, Variance Components, Wiley 1992, chapter 6 (REML, unbalanced data).
.. [2] A. R. Gilmour, R. Thompson, B. R. Cullis, Biometrics 51 (1995) 1440-1450 (average information).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import numpy as np

from wearstats.analysis.numerics.reml import RemlPoint
from wearstats.analysis.widths.absorption import Absorbed, absorb, inner, map_products
from wearstats.analysis.widths.common_system import BlockTerms, Eliminated, Solution, add_up
from wearstats.analysis.widths.components import COMPONENTS, MAP_COMPONENTS, Coupling, OwnColumns
from wearstats.analysis.widths.data import CLASSES, WidthBlock, WidthData
from wearstats.domain.arrays import FloatArray

_MEASURER = len(MAP_COMPONENTS)
_INSPECTION = _MEASURER + len(CLASSES)
_REPEATABILITY = _INSPECTION + len(CLASSES)
_SHAFT, _SPLINE, _SHAFT_STATION, _CELL = range(len(MAP_COMPONENTS))


_BEYOND_OWN = (_SPLINE, _CELL, *range(_REPEATABILITY, _REPEATABILITY + len(CLASSES)))
"""Components whose columns are not sums of a unit's own (stations, inspections)."""


_THREADS = 2
"""Blocks worked on at once; their sums are taken in order, so the result does not hang on it."""


_WORTH_THREADS = 100_000
"""Slots of all units and inspections together below which threads cost more than they bring."""


_Given = TypeVar("_Given")
_Found = TypeVar("_Found")


class WidthLikelihood:
    """The restricted likelihood as a function of the variances.

    Parameters
    ----------
    data : WidthData
        The readings, reduced.
    coupling : Coupling
        From `couple`.
    """

    def __init__(self, data: WidthData, coupling: Coupling) -> None:
        self.data = data
        self.coupling = coupling
        self._classes = data.class_index
        self._steps = data.inspections["step_um"].to_numpy(dtype=float)
        within = data.within
        self._within = (
            np.array([CLASSES.index(name) for name in within["class"]], dtype=np.int64),
            within["step_um"].to_numpy(dtype=float),
            within["spare"].to_numpy(dtype=float),
            within["within_um2"].to_numpy(dtype=float),
        )
        codes = data.inspections["measurer"].astype("category")
        self.measurers = codes.cat.categories.astype(str)
        self._who = codes.cat.codes.to_numpy().astype(np.int64)
        people = len(codes.cat.categories)
        self.measurer_class = np.zeros(people, dtype=np.int64)
        self.measurer_class[self._who] = self._classes
        self.measurer_inspections = np.bincount(self._who, minlength=people)
        column = {name: k for k, name in enumerate(coupling.measurers)}
        self._column = np.array([column.get(str(name), -1) for name in codes.cat.categories], dtype=np.int64)
        self._last: tuple[FloatArray, RemlPoint, Solution] | None = None
        self._threads = _THREADS if sum(block.count.size for block in data.blocks) >= _WORTH_THREADS else 1
        # classes that nobody measured in have components without columns, which would only cost products of zeros
        self.active = [
            k
            for k in range(len(COMPONENTS))
            if k < _MEASURER or bool((self._classes == (k - _MEASURER) % len(CLASSES)).any())
        ]

    def reading_variance(self, variances: FloatArray) -> FloatArray:
        """Variance of one reading about its inspection's bias, um^2, shape (inspections,).

        Rounding to a step adds step^2 / 12 (JCGM 100:2008, F.2.2.1).
        """
        return variances[_REPEATABILITY + self._classes] + self._steps**2 / 12

    def _slot_variance(self, block: WidthBlock, variances: FloatArray) -> FloatArray:
        """Variance of one reading at each slot, um^2, shape (units, inspections, slots or 1)."""
        own = variances[_REPEATABILITY + self._classes][block.inspection][..., None]
        return own + block.besides_repeatability(self._steps)

    def _own_bias(self, block: WidthBlock, variances: FloatArray) -> FloatArray:
        """Covariance of the biases that no other unit shares, um^2, shape (units, inspections, inspections)."""
        classes, who = self._classes[block.inspection], self._who[block.inspection]
        own = variances[_MEASURER + classes] * self.coupling.local[block.inspection]
        bias = np.where(who[:, :, None] == who[:, None, :], own[:, :, None], 0.0)
        diagonal = np.arange(who.shape[1])
        bias[:, diagonal, diagonal] += variances[_INSPECTION + classes]
        return bias

    def evaluate(self, variances: FloatArray) -> RemlPoint:
        """Criterion, score and average information at the variances, shape (13,)."""
        return self._pass(variances)[0]

    def solve(self, variances: FloatArray) -> Solution:
        """Means and shared measurer biases at the variances."""
        return self._pass(variances)[1]

    def _pass(self, variances: FloatArray) -> tuple[RemlPoint, Solution]:
        """Work everything out, or give it again where it was asked for last."""
        if self._last is None or not np.array_equal(self._last[0], variances):
            self._last = (variances.copy(), *self._work_out(variances))
        return self._last[1:]

    def means(self, variances: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """Criterion, coefficients of the common system and their covariance: no slopes, at half of the cost."""
        found = self._eliminate(variances)
        return found.criterion, found.coefficients, found.inverse

    def _eliminate(self, variances: FloatArray) -> Eliminated:
        """Integrate all out but the slopes."""
        coupling = self.coupling
        scale = np.concatenate([np.ones(len(coupling.fixed)), np.sqrt(variances[_MEASURER + coupling.measurer_class])])
        parts = self._in_turn(lambda block: self._absorb(block, variances), self.data.blocks)
        own = [columns.scaled(scale) for columns in coupling.own]
        columns = scale.size
        pairs = [of.pairs(part.gram[:, :-1, :-1]) for part, of in zip(parts, own, strict=True)]
        system = add_up(columns**2, pairs).reshape(columns, columns)
        right = np.zeros(columns)
        for part, of in zip(parts, own, strict=True):
            right += of.collect(part.gram[:, :-1, -1:])[:, 0]
        shared = np.arange(len(coupling.fixed), columns)
        # columns are scaled by the measurers' SD: biases then have unit variance, and one of zero needs no inverse
        system[shared, shared] += 1.0
        factor = np.linalg.cholesky(system)
        inverse_factor = np.linalg.inv(factor)
        inverse = inverse_factor.T @ inverse_factor
        coefficients = inverse @ right
        classes, steps, spare, squares = self._within
        inner = variances[_REPEATABILITY + classes] + steps**2 / 12
        criterion = (
            sum(part.log_determinant + float(part.gram[:, -1, -1].sum()) for part in parts)
            + 2 * float(np.sum(np.log(np.diag(factor))))
            - float(right @ coefficients)
            + float(np.sum(spare * np.log(inner) + squares / inner))
            + (self.data.readings + self._check_readings() - len(coupling.fixed)) * np.log(2 * np.pi)
        )
        return Eliminated(parts=parts, own=own, inverse=inverse, coefficients=coefficients, criterion=float(criterion))

    def _work_out(self, variances: FloatArray) -> tuple[RemlPoint, Solution]:
        found = self._eliminate(variances)
        score, information, bias = self._derivatives(found)
        classes, steps, spare, squares = self._within
        inner = variances[_REPEATABILITY + classes] + steps**2 / 12
        for k in range(len(CLASSES)):
            mine = classes == k
            score[_REPEATABILITY + k] += 0.5 * float(
                np.sum(squares[mine] / inner[mine] ** 2 - spare[mine] / inner[mine])
            )
            information[_REPEATABILITY + k, _REPEATABILITY + k] += 0.5 * float(np.sum(squares[mine] / inner[mine] ** 3))
        return (
            RemlPoint(criterion=found.criterion, score=score, information=information),
            self._solution(variances, found.coefficients, found.inverse, bias),
        )

    def _solution(
        self,
        variances: FloatArray,
        coefficients: FloatArray,
        inverse: FloatArray,
        bias: tuple[FloatArray, FloatArray],
    ) -> Solution:
        """Predict the measurers' biases from the sums and traces of their residuals."""
        own = variances[_MEASURER + self.measurer_class]
        sums, traces = bias
        return Solution(
            coefficients=coefficients,
            covariance=inverse,
            measurer_bias_um=own * sums,
            measurer_sd_um=np.sqrt(np.maximum(own - own**2 * traces, 0.0)),
        )

    def _in_turn(self, work: Callable[[_Given], _Found], of: Sequence[_Given]) -> list[_Found]:
        """Work on blocks, several at a time where that pays; results in order."""
        if self._threads == 1:
            return [work(each) for each in of]
        with ThreadPoolExecutor(self._threads) as pool:
            return list(pool.map(work, of))

    def _check_readings(self) -> int:
        return sum(int(np.count_nonzero(block.count[..., -1])) for block in self.data.blocks)

    def _absorb(self, block: WidthBlock, variances: FloatArray) -> Absorbed:
        """Integrate a block's places and own biases out."""
        return absorb(block, variances, self._slot_variance(block, variances), self._own_bias(block, variances))

    def _derivatives(self, given: Eliminated) -> tuple[FloatArray, FloatArray, tuple[FloatArray, FloatArray]]:
        """Score and average information of all components, without the inner sums of squares; measurers' sums, traces.

        The common system's share of every trace is a sum over units of their own small matrices against the part of the
        system's inverse that concerns their own columns, so nothing of the common size is built per component.
        """
        count = len(COMPONENTS)
        classes = self._classes
        traces, squares = np.zeros(count), np.zeros(count)
        found = self._in_turn(
            lambda pair: self._of_block(pair[0], pair[1], given.inverse, given.coefficients),
            list(zip(given.parts, given.own, strict=True)),
        )
        sums = np.zeros(classes.size)
        people = np.zeros(self._column.size)
        for part, each in zip(given.parts, found, strict=True):
            traces += each.traces
            squares += each.squares
            sums[part.block.inspection.ravel()] = each.residual.sum(axis=2).ravel()
            people += each.measurers
        shape = (len(self.coupling.measurers), given.inverse.shape[0])
        rows = add_up(shape[0] * shape[1], (each.rows for each in found)).reshape(shape)
        # the diagonal of rows inverse rows' alone; measurers by measurers would be as large as the common system
        repeated = np.sum((rows @ given.inverse) * rows, axis=1)
        several = self._column >= 0
        people[several] -= repeated[self._column[several]]
        measurer_sums = np.bincount(self._who, sums, minlength=self._column.size).astype(float)
        squares[_INSPECTION:_REPEATABILITY] = np.bincount(classes, sums**2, minlength=len(CLASSES))
        squares[_MEASURER:_INSPECTION] = np.bincount(self.measurer_class, measurer_sums**2, minlength=len(CLASSES))
        traces[_MEASURER:_INSPECTION] = np.bincount(self.measurer_class, people, minlength=len(CLASSES))
        residuals = [each.residual for each in found]
        information = self._information(given, residuals, sums, measurer_sums)
        return 0.5 * (squares - traces), information, (measurer_sums, people)

    def _of_block(self, part: Absorbed, own: OwnColumns, inverse: FloatArray, coefficients: FloatArray) -> BlockTerms:
        """Give a block's terms of the score."""
        block = part.block
        count = len(COMPONENTS)
        traces, squares = np.zeros(count), np.zeros(count)
        stations = len(block.shape.stations)
        flat = part.solved.reshape(block.unit.size, -1, part.solved.shape[-1])
        residual = flat[..., -1] - (flat[..., :-1] @ own.spread(coefficients)[:, :, None])[..., 0]
        residual = residual.reshape(block.count.shape)
        shared = own.part_of(inverse)
        over_slots = residual.sum(axis=1)
        traces[:_MEASURER] = part.map_traces(shared)
        level = over_slots @ block.shape.station_design()
        spline, cell = map_products(block, over_slots)
        squares[_SHAFT] = float(np.sum(level.sum(axis=1) ** 2))
        squares[_SPLINE] = float(np.sum(over_slots * spline))
        squares[_SHAFT_STATION] = float(np.sum(level**2))
        squares[_CELL] = float(np.sum(over_slots * cell))
        classes = self._classes[block.inspection]
        bias_rows = part.gram[:, stations:-1, :-1]
        across = bias_rows[..., stations:] - bias_rows @ shared @ np.swapaxes(bias_rows, 1, 2)
        diagonal = np.diagonal(across, axis1=1, axis2=2)
        traces[_INSPECTION:_REPEATABILITY] = np.bincount(classes.ravel(), diagonal.ravel(), minlength=len(CLASSES))
        # pairs of inspections of one unit by one measurer, an inspection with itself among them; for those of several
        # units the common system's share is taken out over all of them together
        who = self._who[block.inspection]
        local = self.coupling.local[block.inspection]
        pairs = np.where(local[:, :, None], across, bias_rows[..., stations:])
        pairs = np.where(who[:, :, None] == who[:, None, :], pairs, 0.0).sum(axis=2)
        people: FloatArray = np.bincount(who.ravel(), pairs.ravel(), minlength=self._column.size).astype(float)
        per_reading = np.divide(1.0, block.count, out=np.zeros_like(block.count), where=block.count > 0)
        repeatability = slice(_REPEATABILITY, _REPEATABILITY + len(CLASSES))
        by_inspection = np.sum(per_reading * part.reading_diagonal(shared), axis=2)
        square = np.sum(per_reading * residual**2, axis=2)
        traces[repeatability] = np.bincount(classes.ravel(), by_inspection.ravel(), minlength=len(CLASSES))
        squares[repeatability] = np.bincount(classes.ravel(), square.ravel(), minlength=len(CLASSES))
        return BlockTerms(
            traces=traces,
            squares=squares,
            residual=residual,
            measurers=people,
            rows=own.rows_of(self._column[who], bias_rows),
        )

    def _information(
        self, given: Eliminated, residuals: list[FloatArray], sums: FloatArray, measurer_sums: FloatArray
    ) -> FloatArray:
        """Half the inner products of the working variates V_k P y under P."""
        active = self.active
        information = np.zeros((len(active), len(active)))
        right = np.zeros((given.inverse.shape[0], len(active)))
        shared = measurer_sums[self._who]

        def products(of: tuple[Absorbed, OwnColumns, FloatArray]) -> tuple[FloatArray, FloatArray]:
            part, own, residual = of
            square, across = self._of_working(part, residual, sums, shared)
            return square, own.collect(across)

        for square, across in self._in_turn(products, list(zip(given.parts, given.own, residuals, strict=True))):
            information += square
            right += across
        full = np.zeros((len(COMPONENTS), len(COMPONENTS)))
        full[np.ix_(active, active)] = 0.5 * (information - right.T @ given.inverse @ right)
        return full

    def _of_working(
        self, part: Absorbed, residual: FloatArray, sums: FloatArray, shared: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Inner products of a block's V_k P y under V^-1: among themselves, and with its own columns.

        Those of shaft, stations and biases are sums of a unit's own columns, of which all products are known; only
        the others need V^-1 applied.
        """
        block, active = part.block, self.active
        units, inspections, slots = residual.shape
        stations = len(block.shape.stations)
        classes = self._classes[block.inspection]
        over_slots = residual.sum(axis=1)
        level = over_slots @ block.shape.station_design()
        by_own = np.zeros((units, stations + inspections, len(active)))
        others = [at for at, k in enumerate(active) if k in _BEYOND_OWN]
        columns = np.zeros((units, inspections, slots, len(others)))
        spline, cell = map_products(block, over_slots)
        per_reading = np.divide(residual, block.count, out=np.zeros_like(residual), where=block.count > 0)
        for at, k in enumerate(active):
            mine = classes == (k - _MEASURER) % len(CLASSES)
            if k == _SHAFT:
                by_own[:, :stations, at] = level.sum(axis=1, keepdims=True)
            elif k == _SHAFT_STATION:
                by_own[:, :stations, at] = level
            elif _MEASURER <= k < _INSPECTION:
                by_own[:, stations:, at] = np.where(mine, shared[block.inspection], 0.0)
            elif _INSPECTION <= k < _REPEATABILITY:
                by_own[:, stations:, at] = np.where(mine, sums[block.inspection], 0.0)
            elif k < _MEASURER:
                columns[..., others.index(at)] = (spline if k == _SPLINE else cell)[:, None, :]
            else:
                columns[..., others.index(at)] = np.where(mine[..., None], per_reading, 0.0)
        solved = part.apply(columns)
        across = part.gram[:, :-1, :-1] @ by_own
        across[..., others] = inner(part.solved[..., :-1], columns)
        # own columns times what they meet; then what is beyond them, among itself
        square = np.tensordot(by_own, across, axes=([0, 1], [0, 1]))
        square[others] = square[:, others].T
        flat = columns.reshape(-1, len(others))
        square[np.ix_(others, others)] = flat.T @ solved.reshape(-1, len(others))
        return square, across
