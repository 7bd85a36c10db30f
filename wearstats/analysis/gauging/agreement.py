"""Whether the inspections of one shaft can all be true: how far they lie apart against how far measurers usually do."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from wearstats.analysis.widths.components import COMPONENTS, map_covariances
from wearstats.analysis.widths.data import CLASSES, WidthData
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.domain.arrays import FloatArray

DISAGREE_SDS = 3.3
"""Standard deviations beyond which two inspections contradict each other: once in a thousand pairs by chance."""

EQUAL_STEP_UM = 12.7
"""With steps up to that a dozen places of a worn shaft are not read alike by chance (judgement: half a thou)."""

_LEAST_EQUAL = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """Two inspections of one shaft that differ most.

    Parameters
    ----------
    first, second : str
        The inspections.
    apart_um : float
        How far their mean widths lie apart.
    sds : float
        That in standard deviations of what would be usual.
    """

    first: str
    second: str
    apart_um: float
    sds: float


def widest_disagreement(fit: WidthFit, data: WidthData) -> Disagreement | None:
    """Find the two inspections of a unit that differ most for what their measurers usually do.

    Parameters
    ----------
    fit : WidthFit
        How biases and readings scatter.
    data : WidthData
        One unit.

    Returns
    -------
    Disagreement or None
        None with fewer than two inspections.
    """
    block = data.blocks[0]
    rows = block.inspection[0]
    told = data.inspections.iloc[rows]
    kinds = [CLASSES.index(str(name)) for name in told["class"]]
    spread = np.einsum("k,kij->ij", fit.variances[:4], map_covariances(block.shape))
    offset = [0.0 if (found := fit.mean_of(f"class:{CLASSES[kind]}")) is None else found[0] for kind in kinds]
    stations = _station_means(fit, data)
    widest: Disagreement | None = None
    for one, other in combinations(range(rows.size), 2):
        weights = [_even(block.count[0, t]) for t in (one, other)]
        if any(weight is None for weight in weights):
            continue
        first, second = (np.asarray(weight) for weight in weights)
        apart = float(first @ (block.mean[0, one] - stations) - second @ (block.mean[0, other] - stations))
        apart -= offset[one] - offset[other]
        # where other places were read, the shaft's own unevenness sets the means apart too: the contrast lets it in
        contrast = first - second
        variance = float(contrast @ spread @ contrast)
        for t, weight in ((one, first), (other, second)):
            variance += _own_variance(fit, kinds[t], float(told["step_um"].iloc[t]), weight, block.count[0, t])
            if told["measurer"].iloc[one] != told["measurer"].iloc[other]:
                variance += float(fit.variances[COMPONENTS.index(f"measurer_{CLASSES[kinds[t]]}")])
        sds = abs(apart) / variance**0.5
        if widest is None or sds > widest.sds:
            names = [str(told["inspection"].iloc[t]) for t in (one, other)]
            widest = Disagreement(first=names[0], second=names[1], apart_um=abs(apart), sds=sds)
    return widest


def all_equal(data: WidthData) -> tuple[str, ...]:
    """Name the inspections of a unit whose many readings are all the same, though their gauge could tell more."""
    block = data.blocks[0]
    found = []
    for t, row in enumerate(block.inspection[0]):
        seen = block.count[0, t, :-1] > 0
        told = data.inspections.iloc[row]
        if seen.sum() >= _LEAST_EQUAL and float(told["step_um"]) <= EQUAL_STEP_UM:
            readings = block.mean[0, t, :-1][seen]
            if float(np.ptp(readings)) < 1e-6:
                found.append(str(told["inspection"]))
    return tuple(found)


def _even(count: FloatArray) -> FloatArray | None:
    """Weigh the slots that were read alike, the check piece not; None without any."""
    seen = (count > 0).astype(float)
    seen[-1] = 0.0
    return None if seen.sum() == 0 else seen / seen.sum()


def _own_variance(fit: WidthFit, kind: int, step_um: float, weight: FloatArray, count: FloatArray) -> float:
    """Variance of an inspection's mean about its measurer's bias; rounding errors are taken as shared, to be safe."""
    name = CLASSES[kind]
    reading = float(fit.variances[COMPONENTS.index(f"repeatability_{name}")])
    occasion = float(fit.variances[COMPONENTS.index(f"inspection_{name}")])
    return occasion + step_um**2 / 12 + reading * float(np.sum(weight**2 / np.maximum(count, 1.0)))


def _station_means(fit: WidthFit, data: WidthData) -> FloatArray:
    """Prior mean of every slot but for what all have in common."""
    shape = data.blocks[0].shape
    found = [fit.mean_of(f"station:{shape.pattern}:{station}") for station in shape.stations]
    values = np.array([0.0 if mean is None else mean[0] for mean in found])
    return np.asarray(shape.station_design() @ values)
