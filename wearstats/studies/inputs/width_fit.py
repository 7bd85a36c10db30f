"""The width model fitted to what is on record: asked for once, answered from by every question about widths.

Of a large fleet the model is fitted to a random sample of the shafts, the same each time: of twenty thousand,
components are known to half a part in a hundred, and what a larger sample would add is far below what the model leaves
out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearstats.analysis.widths.data import CLASSES, WidthData, share_few_measurers
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import ASSUMED_UM, WidthFit
from wearstats.analysis.widths.interval_readings import COARSE
from wearstats.store.database.room import require_memory
from wearstats.studies.inputs.sample_limits import lowered
from wearstats.studies.inputs.spoiled_records import SpoiledRecords, judge_records
from wearstats.studies.inputs.widths import WidthReadings, read_widths
from wearstats.studies.snapshot import Snapshot, part

SAMPLE_SHAFTS = 20_000
"""Of more shafts than that so many are taken at random. Like all these limits it may be lowered: `sample_limits`."""

COARSE_SHAFTS = 1_000
"""Of shafts read in steps so coarse that readings count as intervals, which takes long, so many are taken besides."""

SHARED_MEASURERS = 400
"""So many measurers of several shafts couple these; of a sample, the others count as another hand on every shaft."""

_SAMPLED_BYTES = 45_000
"""What a fit holds of a shaft of the sample: with less it was ended (`tests/benchmarks/at_once.md`)."""

_FIRST_SHAFTS = 2_500
_NEARLY_COARSE = 0.9
"""Steps are counted as coarse a little before they are, lest better repeatability turns a whole gauge coarse."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittedWidths:
    """The readings and the model.

    Parameters
    ----------
    as_read : WidthReadings
        All that were known; of a large fleet, those of the sample.
    spoiled : SpoiledRecords
        Which of them are probably wrong.
    readings : WidthReadings
        The others.
    data : WidthData
        One unit of every shaft: what was fitted.
    fit : WidthFit
        The fitted model.
    """

    as_read: WidthReadings
    spoiled: SpoiledRecords
    readings: WidthReadings
    data: WidthData
    fit: WidthFit

    @property
    def sampled_shafts(self) -> int | None:
        """How many shafts the sample has that the model was fitted to; None where it was all of them."""
        return None if self.readings.of_shafts is None else len(self.data.units)


@part("models_from", kept=True)
def width_components(snapshot: Snapshot) -> FittedWidths:
    """Read and fit, with intervals for the components, which take longest; AnalysisError with no reading."""
    return _fit(snapshot, intervals=True)


@part("models_from")
def width_fit(snapshot: Snapshot) -> FittedWidths:
    """Read and fit, whether or not the components have intervals; AnalysisError with no reading."""
    # a sample is never fitted twice: its intervals are the least of the work
    if width_components.is_there(snapshot) or _measured_shafts(snapshot) > lowered(SAMPLE_SHAFTS):
        return width_components(snapshot)
    return _without_intervals(snapshot)


@part("models_from", kept=True)
def _without_intervals(snapshot: Snapshot) -> FittedWidths:
    return _fit(snapshot, intervals=False)


def _measured_shafts(snapshot: Snapshot) -> int:
    """Count the shafts with readings, of all patterns."""
    counts = snapshot.store.query("widths/shafts", as_of=snapshot.models_from, pattern=None)
    return int(counts["shafts"].sum())


def _fit(snapshot: Snapshot, *, intervals: bool) -> FittedWidths:
    then = snapshot.at(snapshot.models_from)
    shafts = _measured_shafts(snapshot)
    if shafts > (most := lowered(SAMPLE_SHAFTS)):
        return _fit_sample(then, most_shafts=most, of_shafts=shafts)
    as_read = read_widths(then)
    spoiled = _judge(then, as_read)
    readings = spoiled.sound_of(as_read)
    data = data_to_fit(readings)
    fit = fit_widths(data, intervals=intervals)
    return FittedWidths(as_read=as_read, spoiled=spoiled, readings=readings, data=data, fit=fit)


def _judge(snapshot: Snapshot, readings: WidthReadings, shafts: list[str] | None = None) -> SpoiledRecords:
    """Say which records are probably wrong."""
    return judge_records(readings, snapshot.query("fittings/choices", pattern=None, shafts=shafts))


def data_to_fit(readings: WidthReadings) -> WidthData:
    """Stack one unit of every shaft; of a sample, with few enough measurers that couple shafts."""
    data = readings.one_unit_a_shaft()
    if readings.of_shafts is None:
        return data
    return share_few_measurers(data, lowered(SHARED_MEASURERS, part_of=SAMPLE_SHAFTS))


def _fit_sample(snapshot: Snapshot, *, most_shafts: int, of_shafts: int) -> FittedWidths:
    """Draw shafts, find the components roughly from a few of them, and from there exactly from all of them."""
    require_memory(snapshot.store.path, _SAMPLED_BYTES * most_shafts, shafts=of_shafts)
    limits = {name: _NEARLY_COARSE * COARSE * ASSUMED_UM[f"repeatability_{name}"] for name in CLASSES}
    while True:
        as_read = _draw(snapshot, most_shafts=most_shafts, of_shafts=of_shafts, limits=limits)
        spoiled = _judge(snapshot, as_read, as_read.inspections["shaft"].unique().tolist())
        readings = spoiled.sound_of(as_read)
        first = fit_widths(data_to_fit(readings.some(_FIRST_SHAFTS)), intervals=False, rough=True)
        needed = {
            name: _NEARLY_COARSE * COARSE * (first.components_um[f"repeatability_{name}"].value or 0.0)
            for name in CLASSES
        }
        kinds, steps = readings.inspections["class"], readings.inspections["step_um"]
        # where they repeat better than was assumed, finer steps are coarse too, and the draw must know
        if not ((steps > kinds.map(needed)) & (steps <= kinds.map(limits))).any():
            break
        limits = {name: min(limits[name], needed[name]) for name in CLASSES}
    data = data_to_fit(readings)
    fit = fit_widths(data, near=first)
    known = set(readings.inspections["measurer"])
    named = np.array([name in known for name in fit.measurers["measurer"]], dtype=bool)
    return FittedWidths(
        as_read=as_read,
        spoiled=spoiled,
        readings=readings,
        data=data,
        fit=replace(fit, measurers=fit.measurers[named].reset_index(drop=True)),
    )


def _draw(snapshot: Snapshot, *, most_shafts: int, of_shafts: int, limits: dict[str, float]) -> WidthReadings:
    drawn = snapshot.query(
        "widths/sample",
        pattern=None,
        most=most_shafts,
        most_coarse=min(lowered(COARSE_SHAFTS, part_of=SAMPLE_SHAFTS), most_shafts),
        **{f"coarse_{name}_um": limit for name, limit in limits.items()},
    )
    return read_widths(snapshot, shafts=drawn["shaft"].tolist(), of_shafts=of_shafts)
