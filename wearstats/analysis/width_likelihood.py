"""The restricted likelihood of the width model, exact for unbalanced and crossed readings.

A reading of place *p* of a unit (a shaft between two hubs) in inspection *t* by measurer *m* is::

    new width + station mean + group mean + shaft + spline + shaft_station + cell      (the width map)
        + class mean + measurer_m + inspection_t                                      (bias)
        + repeatability                                                               (with the rounding of the gauge)

Inspections are crossed with places, and measurers with shafts, so the sums needed go by inspection x place. Per unit
the places are integrated out by a small Cholesky factor that is never singular, whatever components are zero; what
couples the units (station, group and class means, and measurers seen more than once) is a small system solved once.

References
----------
.. [1] S. R. Searle, G. Casella, C. E. McCulloch, Variance Components, Wiley 1992, chapter 6 (REML, unbalanced data).
.. [2] A. R. Gilmour, R. Thompson, B. R. Cullis, Biometrics 51 (1995) 1440-1450 (average information).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from wearstats.analysis.reml import FloatArray, RemlPoint
from wearstats.analysis.width_data import CLASSES, WidthBlock, WidthData
from wearstats.analysis.width_system import COMPONENTS, MAP_COMPONENTS, Coupling, map_covariances, map_factor

_MEASURER = len(MAP_COMPONENTS)
_INSPECTION = _MEASURER + len(CLASSES)
_REPEATABILITY = _INSPECTION + len(CLASSES)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """The common system solved at one set of variances.

    Parameters
    ----------
    coefficients : ndarray, shape (columns,)
        Means of the fixed columns, then measurer biases in units of their SD.
    covariance : ndarray, shape (columns, columns)
        Of their errors.
    """

    coefficients: FloatArray
    covariance: FloatArray


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
        self._covariances = {block.shape.pattern: map_covariances(block.shape) for block in data.blocks}
        codes = data.inspections["measurer"].astype("category")
        self._who = codes.cat.codes.to_numpy().astype(np.int64)
        size = self._who.size
        people = len(codes.cat.categories)
        self._groups = sp.csr_array((np.ones(size), (self._who, np.arange(size))), shape=(people, size))
        self._measurer_class = np.zeros(people, dtype=np.int64)
        self._measurer_class[self._who] = self._classes
        column = {name: k for k, name in enumerate(coupling.measurers)}
        self._repeated = np.array([column.get(str(name), -1) for name in codes.cat.categories])[self._who]

    def reading_variance(self, variances: FloatArray) -> FloatArray:
        """Variance of one reading about its inspection's bias, um^2, shape (inspections,).

        Rounding to a step adds step^2 / 12 (JCGM 100:2008, F.2.2.1).
        """
        return variances[_REPEATABILITY + self._classes] + self._steps**2 / 12

    def _slot_variance(self, block: WidthBlock, variances: FloatArray) -> FloatArray:
        """Variance of one reading at each slot, um^2, shape (units, inspections, slots or 1)."""
        if block.rounding is None:
            return self.reading_variance(variances)[block.inspection][..., None]
        return variances[_REPEATABILITY + self._classes][block.inspection][..., None] + block.rounding

    def own_bias_variance(self, variances: FloatArray) -> FloatArray:
        """Variance of the part of each bias that no other inspection shares, um^2, shape (inspections,)."""
        bias = variances[_INSPECTION + self._classes]
        return bias + np.where(self.coupling.solo, variances[_MEASURER + self._classes], 0.0)

    def evaluate(self, variances: FloatArray) -> RemlPoint:
        """Criterion, score and average information at the variances, shape (13,)."""
        return self._pass(variances)[0]

    def solve(self, variances: FloatArray) -> Solution:
        """Means and shared measurer biases at the variances."""
        return self._pass(variances)[1]

    def _pass(self, variances: FloatArray) -> tuple[RemlPoint, Solution]:
        coupling = self.coupling
        scale = np.concatenate([np.ones(len(coupling.fixed)), np.sqrt(variances[_MEASURER + coupling.measurer_class])])
        parts = [self._absorb(block, variances) for block in self.data.blocks]
        scatters = [
            sp.csr_array((scatter.data * scale[scatter.indices], scatter.indices, scatter.indptr), shape=scatter.shape)
            for scatter in coupling.scatter
        ]
        columns = scale.size
        system = np.diag(np.r_[np.zeros(len(coupling.fixed)), np.ones(len(coupling.measurers))])
        right = np.zeros(columns)
        for part, scatter in zip(parts, scatters, strict=True):
            system += _gather(scatter, part.gram[:, :-1, :-1])
            right += scatter.T @ part.gram[:, :-1, -1].ravel()
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
            + (self.data.readings + sum(part.check_readings for part in parts) - len(coupling.fixed))
            * np.log(2 * np.pi)
        )
        score, information = self._derivatives(parts, scatters, inverse, coefficients)
        for k in range(len(CLASSES)):
            mine = classes == k
            score[_REPEATABILITY + k] += 0.5 * float(
                np.sum(squares[mine] / inner[mine] ** 2 - spare[mine] / inner[mine])
            )
            information[_REPEATABILITY + k, _REPEATABILITY + k] += 0.5 * float(np.sum(squares[mine] / inner[mine] ** 3))
        return (
            RemlPoint(criterion=float(criterion), score=score, information=information),
            Solution(coefficients=coefficients, covariance=inverse),
        )

    def _absorb(self, block: WidthBlock, variances: FloatArray) -> _Absorbed:
        """Integrate a block's places and own biases out."""
        units, inspections, slots = block.count.shape
        stations = len(block.shape.stations)
        reading = self._slot_variance(block, variances)
        bias = self.own_bias_variance(variances)[block.inspection]
        weight = block.count / reading
        total = weight.sum(axis=2)
        shrink = bias / (1 + bias * total)
        columns = np.zeros((units, inspections, slots, stations + inspections + 1))
        columns[..., :stations] = block.shape.station_design()
        for t in range(inspections):
            columns[:, t, :, stations + t] = 1.0
        columns[..., -1] = block.mean
        factor = map_factor(block.shape, variances)
        precision = -(np.swapaxes(weight * shrink[..., None], 1, 2) @ weight)
        slot = np.arange(slots)
        precision[:, slot, slot] += weight.sum(axis=1)
        inner = factor.T @ precision @ factor
        place = np.arange(inner.shape[1])
        inner[:, place, place] += 1.0
        cholesky = np.linalg.cholesky(inner)
        root = np.linalg.inv(cholesky) @ factor.T
        posterior = np.swapaxes(root, 1, 2) @ root
        absorbed = _Absorbed(
            block=block, weight=weight, shrink=shrink, precision=precision, posterior=posterior, solved=columns,
            gram=np.empty(0), log_determinant=0.0, check_readings=int(np.count_nonzero(block.count[..., -1])),
        )  # fmt: skip
        solved = absorbed.apply(columns)
        gram = _inner(columns, solved)
        seen = block.count > 0
        log_determinant = (
            2 * float(np.sum(np.log(np.diagonal(cholesky, axis1=1, axis2=2))))
            + float(np.sum(np.log1p(bias * total)))
            # readings of one place share their mean's variance: log n belongs to the criterion of the single readings
            + float(np.sum(np.where(seen, np.log(reading), 0.0)))
        )
        return _Absorbed(
            block=block, weight=weight, shrink=shrink, precision=precision, posterior=posterior, solved=solved,
            gram=gram, log_determinant=log_determinant, check_readings=absorbed.check_readings,
        )  # fmt: skip

    def _derivatives(
        self,
        parts: list[_Absorbed],
        scatters: list[sp.csr_array],
        inverse: FloatArray,
        coefficients: FloatArray,
    ) -> tuple[FloatArray, FloatArray]:
        """Score and average information of all components, without the inner sums of squares.

        The common system's share of every trace is a sum over units of their own small matrices against the part of the
        system's inverse that concerns their own columns, so nothing of the common size is built per component.
        """
        count = len(COMPONENTS)
        classes = self._classes
        traces, squares = np.zeros(count), np.zeros(count)
        residuals, shares, rows, sums = [], [], [], np.zeros(classes.size)
        for part, scatter in zip(parts, scatters, strict=True):
            block = part.block
            inspections = block.inspection.shape[1]
            stations = len(block.shape.stations)
            local = part.solved[..., :-1]
            fitted = (scatter @ coefficients).reshape(part.gram.shape[0], -1)
            residual = part.solved[..., -1] - (local @ fitted[:, None, :, None])[..., 0]
            residuals.append(residual)
            shared = _own_part(scatter, inverse, local.shape[-1])
            shares.append(shared)
            over_slots, local_over = residual.sum(axis=1), local.sum(axis=1)
            collapsed = part.precision - part.precision @ part.posterior @ part.precision
            collapsed -= local_over @ shared @ np.swapaxes(local_over, 1, 2)
            for k, covariance in enumerate(self._covariances[block.shape.pattern]):
                traces[k] += float(np.sum(collapsed * covariance))
                squares[k] += float(np.sum(over_slots * (over_slots @ covariance)))
            sums[block.inspection.ravel()] = residual.sum(axis=2).ravel()
            bias_rows = local.sum(axis=2)
            own = np.stack([part.gram[:, stations + t, stations + t] for t in range(inspections)], axis=1)
            own -= np.sum((bias_rows @ shared) * bias_rows, axis=2)
            traces[_INSPECTION : _INSPECTION + len(CLASSES)] += np.bincount(
                classes[block.inspection].ravel(), own.ravel(), minlength=len(CLASSES)
            )
            rows.append(self._repeated_rows(block, scatter, bias_rows))
            self._add_repeatability(part, local, residual, shared, traces, squares)
        measurer_sums = self._groups @ sums
        squares[_INSPECTION:_REPEATABILITY] = np.bincount(classes, sums**2, minlength=len(CLASSES))
        squares[_MEASURER:_INSPECTION] = np.bincount(self._measurer_class, measurer_sums**2, minlength=len(CLASSES))
        traces[_MEASURER:_INSPECTION] = self._measurer_traces(parts, shares, sum(rows[1:], start=rows[0]), inverse)
        information = self._information(parts, scatters, inverse, residuals, sums, measurer_sums)
        return 0.5 * (squares - traces), information

    def _repeated_rows(self, block: WidthBlock, scatter: sp.csr_array, bias_rows: FloatArray) -> sp.csr_array:
        """Sum the solved common columns over the inspections of each repeated measurer, shape (measurers, columns)."""
        units, inspections, own = bias_rows.shape
        who = self._repeated[block.inspection.ravel()]
        use = np.flatnonzero(who >= 0)
        unit = use // inspections
        values = bias_rows.reshape(-1, own)[use].ravel()
        columns = (unit[:, None] * own + np.arange(own)).ravel()
        shape = (len(self.coupling.measurers), units * own)
        return sp.csr_array(sp.coo_array((values, (who[use].repeat(own), columns)), shape=shape)) @ scatter

    def _measurer_traces(
        self, parts: list[_Absorbed], shares: list[FloatArray], rows: sp.csr_array, inverse: FloatArray
    ) -> FloatArray:
        """Traces of the three measurer components, shape (3,)."""
        traces = np.zeros(len(CLASSES))
        for part, shared in zip(parts, shares, strict=True):
            block = part.block
            stations = len(block.shape.stations)
            who = self._who[block.inspection]
            kinds = self._classes[block.inspection]
            for s in range(who.shape[1]):
                for t in range(who.shape[1]):
                    # pairs of inspections of one unit by one measurer, an inspection with itself among them
                    same = who[:, s] == who[:, t]
                    np.add.at(traces, kinds[same, s], part.gram[same, stations + s, stations + t])
                solo = self.coupling.solo[block.inspection[:, s]]
                own_rows = part.solved[solo, s, :, :-1].sum(axis=1)
                np.add.at(
                    traces, kinds[solo, s], -np.sum((own_rows[:, None, :] @ shared[solo])[:, 0] * own_rows, axis=1)
                )
        repeated = np.asarray((rows @ inverse) * rows.toarray()).sum(axis=1)
        np.add.at(traces, self.coupling.measurer_class, -repeated)
        return traces

    def _add_repeatability(
        self,
        part: _Absorbed,
        local: FloatArray,
        residual: FloatArray,
        shared: FloatArray,
        traces: FloatArray,
        squares: FloatArray,
    ) -> None:
        block = part.block
        per_reading = np.divide(1.0, block.count, out=np.zeros_like(block.count), where=block.count > 0)
        weight, shrink = part.weight, part.shrink
        mixed = weight @ part.posterior
        total = np.sum(mixed * weight, axis=2)
        spread = np.diagonal(part.posterior, axis1=1, axis2=2)[:, None, :]
        inner = spread - 2 * shrink[..., None] * mixed + (shrink**2 * total)[..., None]
        diagonal = weight - shrink[..., None] * weight**2 - weight**2 * inner
        diagonal -= np.sum((local @ shared[:, None]) * local, axis=3)
        by_inspection = np.sum(per_reading * diagonal, axis=2).ravel()
        square = np.sum(per_reading * residual**2, axis=2).ravel()
        classes = self._classes[block.inspection].ravel()
        repeatability = slice(_REPEATABILITY, _REPEATABILITY + len(CLASSES))
        traces[repeatability] += np.bincount(classes, by_inspection, minlength=len(CLASSES))
        squares[repeatability] += np.bincount(classes, square, minlength=len(CLASSES))

    def _information(
        self,
        parts: list[_Absorbed],
        scatters: list[sp.csr_array],
        inverse: FloatArray,
        residuals: list[FloatArray],
        sums: FloatArray,
        measurer_sums: FloatArray,
    ) -> FloatArray:
        """Half the inner products of the working variates V_k P y under P."""
        count = len(COMPONENTS)
        information = np.zeros((count, count))
        right = np.zeros((inverse.shape[0], count))
        shared = self._groups.T @ measurer_sums
        for part, scatter, residual in zip(parts, scatters, residuals, strict=True):
            block = part.block
            working = np.zeros((*residual.shape, count))
            over_slots = residual.sum(axis=1)
            for k, covariance in enumerate(self._covariances[block.shape.pattern]):
                working[..., k] = (over_slots @ covariance)[:, None, :]
            classes = self._classes[block.inspection]
            per_reading = np.divide(1.0, block.count, out=np.zeros_like(block.count), where=block.count > 0)
            for k in range(len(CLASSES)):
                mine = (classes == k)[..., None]
                working[..., _MEASURER + k] = np.where(mine, shared[block.inspection][..., None], 0.0)
                working[..., _INSPECTION + k] = np.where(mine, sums[block.inspection][..., None], 0.0)
                working[..., _REPEATABILITY + k] = np.where(mine, per_reading * residual, 0.0)
            solved = part.apply(working)
            information += working.reshape(-1, count).T @ solved.reshape(-1, count)
            right += scatter.T @ _inner(part.solved[..., :-1], working).reshape(-1, count)
        return 0.5 * (information - right.T @ inverse @ right)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Absorbed:
    """A block with its places and own biases integrated out."""

    block: WidthBlock
    weight: FloatArray
    shrink: FloatArray
    precision: FloatArray
    posterior: FloatArray
    solved: FloatArray
    gram: FloatArray
    log_determinant: float
    check_readings: int

    def apply(self, columns: FloatArray) -> FloatArray:
        """Apply the units' inverse covariance to columns, shape (units, inspections, slots, k)."""
        own = self._without_map(columns)
        pulled = self.posterior @ own.sum(axis=1)
        return own - self._without_map(np.broadcast_to(pulled[:, None], columns.shape))

    def _without_map(self, columns: FloatArray) -> FloatArray:
        weighted = self.weight[..., None] * columns
        pull = self.shrink[..., None] * weighted.sum(axis=2)
        weighted -= self.weight[..., None] * pull[:, :, None, :]
        return weighted


def _inner(left: FloatArray, right: FloatArray) -> FloatArray:
    """Inner products of columns over a unit's inspections and slots, shape (units, left columns, right columns)."""
    units = left.shape[0]
    flat_left = left.reshape(units, -1, left.shape[-1])
    return np.swapaxes(flat_left, 1, 2) @ right.reshape(units, -1, right.shape[-1])


def _own_part(scatter: sp.csr_array, inverse: FloatArray, own: int) -> FloatArray:
    """Covariance of each unit's own columns under the common system, shape (units, own, own)."""
    widest = int(np.diff(scatter.indptr).max(initial=0))
    rows = scatter.shape[0]
    column = np.zeros((rows, widest), dtype=np.int64)
    value = np.zeros((rows, widest))
    entry = np.arange(scatter.indices.size) - np.repeat(scatter.indptr[:-1], np.diff(scatter.indptr))
    row = np.repeat(np.arange(rows), np.diff(scatter.indptr))
    column[row, entry], value[row, entry] = scatter.indices, scatter.data
    column, value = column.reshape(-1, own, widest), value.reshape(-1, own, widest)
    total = np.zeros((column.shape[0], own, own))
    for a in range(widest):
        for b in range(widest):
            pick = inverse[column[:, :, None, a], column[:, None, :, b]]
            total += value[:, :, None, a] * value[:, None, :, b] * pick
    return total


def _gather(scatter: sp.csr_array, local: FloatArray) -> FloatArray:
    """Sum the units' own matrices into the common one, shape (columns, columns)."""
    units, own, _ = local.shape
    indices = (np.arange(units)[:, None, None] * own + np.arange(own)).repeat(own, axis=1).ravel()
    pointer = np.arange(0, indices.size + 1, own)
    middle = sp.csr_array((local.ravel(), indices, pointer), shape=(units * own, units * own))
    return np.asarray((scatter.T @ (middle @ scatter)).toarray())
