"""What is known of the gap that each fitting left, as it stood on the day its hub was chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.gaps.draws import Bonds, GapDraws, draw_normals, draw_together, gaps_of_maps, maps_as_read
from wearstats.analysis.gaps.indicators import Indicator, choose_draws
from wearstats.analysis.gaps.nodes import SPOILED_SHARE, GapNodes, as_single_values, reduce_draws
from wearstats.analysis.gaps.posterior import hub_spaces
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.widths.components import MAP_COMPONENTS
from wearstats.analysis.widths.data import CLASSES, WidthData
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import MapPrediction, predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError
from wearstats.studies.gaps.notes import learn_notes, notes_of, told_by_notes, weigh_by_notes
from wearstats.studies.inputs.sampling import sampled_names, sampled_store
from wearstats.studies.inputs.spoiled_records import SpoiledRecords, judge_records
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.inputs.widths import WidthReadings, read_widths, readings_in_hand
from wearstats.studies.snapshot import Snapshot, part

COLUMNS = (
    "fitting",
    "shaft",
    "pattern",
    "undersize_um",
    "below_new_um",
    "clearance_um",
    "gap_left_um",
    "gap_left_sd_um",
    "gap_left_low_um",
    "gap_left_high_um",
    "contact_share",
    "three_tightest_um",
    "as_read_um",
    "inspections",
    "space_status",
    "bearing_share",
    "bearing_low",
    "bearing_high",
    "marked_share",
)
GAP_ROWS = columns(
    text="fitting shaft pattern space_status",
    number=(
        "undersize_um below_new_um clearance_um gap_left_um gap_left_sd_um gap_left_low_um gap_left_high_um "
        "contact_share three_tightest_um as_read_um bearing_share bearing_low bearing_high marked_share"
    ),
    whole="inspections",
)
MEASURES = ("gap_left_um", "three_tightest_um", "contact_share")
DRAWS = 320
_SHAFTS_AT_A_TIME = 1000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownGaps:
    """What was known of the gaps.

    Parameters
    ----------
    frame : DataFrame
        One row a fitting with readings in hand: `COLUMNS`, lengths in um; low and high enclose 95 %; ``as_read_um`` is
        the mean gap left that the readings show when taken at their word; ``bearing_share`` is the share of splines
        that bear, ``marked_share`` that of sides on which marks were noted, NaN where none were.
    nodes : dict of str to GapNodes
        For each of `MEASURES`, a few equally likely values a fitting, in the order of the frame.
    as_read : GapNodes
        The gap as read, taken as known.
    indicators : tuple of Indicator
        What the notes made at the fittings mean; they weigh the nodes, not the frame, which says what was known before.
    """

    frame: Annotated[pd.DataFrame, GAP_ROWS]
    nodes: Mapping[str, GapNodes]
    as_read: GapNodes
    indicators: tuple[Indicator, ...] = ()


@part("models_from", "seed")
def known_gaps(snapshot: Snapshot) -> KnownGaps:
    """Give what was known of the gap of every fitting in the sample, of all patterns.

    What was known on the day of choice rests on readings in hand on that day alone, so that it is the same however much
    later it is asked about.

    Raises
    ------
    AnalysisError
        When no fitting has a reading that was in hand when its hub was chosen.
    """
    readings, fit, choices = sampled_readings(snapshot), width_fit(snapshot).fit, choices_on_record(snapshot)
    return draw_known_gaps(snapshot, readings, fit, choices, spoiled=spoiled_records(snapshot))


@part("models_from")
def sampled_readings(snapshot: Snapshot) -> WidthReadings:
    """Give the readings of the shafts in the sample, but for those that are probably wrong."""
    if _all_are_sampled(snapshot):
        return width_fit(snapshot).readings
    return spoiled_records(snapshot).sound_of(_sample_as_read(snapshot))


@part("models_from")
def spoiled_records(snapshot: Snapshot) -> SpoiledRecords:
    """Say which records of the sample are probably wrong."""
    if _all_are_sampled(snapshot):
        return width_fit(snapshot).spoiled
    return judge_records(_sample_as_read(snapshot), _choices(snapshot))


@part("models_from")
def _sample_as_read(snapshot: Snapshot) -> WidthReadings:
    shafts = sampled_names(snapshot) or _choices(snapshot)["shaft"].dropna().unique().tolist()
    return read_widths(snapshot.at(snapshot.models_from), shafts=shafts, store=sampled_store(snapshot))


def _all_are_sampled(snapshot: Snapshot) -> bool:
    """Whether the width model's readings are those of the sample."""
    return sampled_names(snapshot) is None and width_fit(snapshot).readings.of_shafts is None


def draw_known_gaps(
    snapshot: Snapshot,
    readings: WidthReadings,
    fit: WidthFit,
    fittings: pd.DataFrame,
    *,
    spoiled: SpoiledRecords | None = None,
) -> KnownGaps:
    """Say what was known of the gap of every fitting of some shafts.

    Parameters
    ----------
    readings : WidthReadings
        All readings of these shafts.
    fit : WidthFit
        The width model.
    fittings : DataFrame
        Their fittings, as `choices_on_record` has them.
    spoiled : SpoiledRecords, optional
        How likely their records are to be wrong.

    Returns
    -------
    KnownGaps

    Raises
    ------
    AnalysisError
        When no fitting has a reading that was in hand when its hub was chosen.

    Notes
    -----
    A reading is in hand when the fitting names it, or, where it names none, when it was taken since the last hub came
    off and not after the day of choice. A later one would leak the outcome: whoever has trouble measures again.
    """
    draws = snapshot.draws.within("gaps")
    fittings = fittings[fittings["pattern"].isin(readings.patterns)]
    in_hand = readings_in_hand(readings, fittings)
    if in_hand.inspections.empty:
        raise AnalysisError(
            "no fitting has readings that were in hand when its hub was chosen",
            needed="name the inspections on the fitting, or add readings taken before its hub was sent",
        )
    told = _with_spaces(fittings, readings.patterns).set_index("fitting")
    read = in_hand.inspections["shaft"].unique()
    indicators: tuple[Indicator, ...] | None = None
    frames: list[pd.DataFrame] = []
    nodes: list[dict[str, FloatArray]] = []
    for begin in range(0, read.size, _SHAFTS_AT_A_TIME):
        some = in_hand.inspections["shaft"].isin(read[begin : begin + _SHAFTS_AT_A_TIME])
        blocks = _draw_some(fit, in_hand, in_hand.inspections[some], told, draws)
        if indicators is None:
            indicators = learn_notes([(block.notes, told_by_notes(block.draws)) for block in blocks])
        frame = pd.concat([block.frame for block in blocks], ignore_index=True)
        frames.append(frame)
        nodes.append(_nodes(blocks, indicators, _numbers(frame["shaft"])))
    frame = pd.concat(frames, ignore_index=True)
    order = np.argsort(frame["fitting"].to_numpy(dtype=str), kind="stable")
    frame = frame.iloc[order].reset_index(drop=True)
    shaft = _numbers(frame["shaft"])
    wrong = np.full(len(frame), SPOILED_SHARE)
    if spoiled is not None:
        shown = spoiled.of_fittings(in_hand.inspections, fittings).reindex(frame["fitting"])
        wrong = 1.0 - (1.0 - SPOILED_SHARE) * (1.0 - shown.to_numpy(dtype=float))
    return KnownGaps(
        frame=frame,
        nodes={
            measure: GapNodes(
                value_um=np.concatenate([part[measure] for part in nodes])[order], shaft=shaft, spoiled=wrong
            )
            for measure in MEASURES
        },
        as_read=as_single_values(frame["as_read_um"].to_numpy(dtype=float), shaft),
        indicators=indicators or (),
    )


@part("models_from")
def choices_on_record(snapshot: Snapshot) -> pd.DataFrame:
    """Give, of every fitting of the sample, which hub was chosen, when, and on which inspections.

    A hub whose gauged space is probably wrong is taken by its size.
    """
    return spoiled_records(snapshot).without_spaces(_choices(snapshot))


@part("models_from")
def _choices(snapshot: Snapshot) -> pd.DataFrame:
    asked: dict[str, Any] = {"as_of": snapshot.models_from, "pattern": None, "shafts": sampled_names(snapshot)}
    return sampled_store(snapshot).query("fittings/choices", **asked)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Block:
    """Draws of some fittings of one pattern, with what is noted of them."""

    frame: Annotated[pd.DataFrame, GAP_ROWS]
    notes: dict[str, FloatArray]
    draws: GapDraws


def _draw_some(
    fit: WidthFit, in_hand: WidthReadings, inspections: pd.DataFrame, told: pd.DataFrame, draws: NamedDraws
) -> list[_Block]:
    """Draw the gaps of the fittings of some shafts, as the readings in hand have them."""
    data = in_hand.reduce(inspections)
    names = data.units["unit"].to_numpy(dtype=object)
    rows = told.loc[names]
    bonds = _bonds(fit, data, inspections, rows)
    hubs, of_hub = np.unique(bonds.hub, return_inverse=True)
    half = draws.standard_normal("hub", hubs, (DRAWS // 2,))
    hub_normal = np.concatenate([half, -half], axis=1)[of_hub]
    in_each = data.inspections["unit"].value_counts()
    blocks = []
    for prediction, block in zip(predict_maps(fit, data), data.blocks, strict=True):
        at = prediction.unit
        mean, sd = (rows[name].to_numpy(dtype=float)[at] for name in ("space_mean_um", "space_sd_um"))
        normal = draw_normals(bonds.take(at), prediction.shape.places, DRAWS, draws=draws)
        drawn = draw_together(prediction, normal, mean, sd, hub_normal[at])
        as_read = gaps_of_maps(maps_as_read(block)[:, None], mean[:, None]).fit.gap_left_um[:, 0]
        notes = notes_of(rows.iloc[at], prediction.shape.splines)
        frame = _frame(names[at], rows.iloc[at], prediction, drawn, as_read, in_each)
        frame = frame.assign(marked_share=notes["splines marked"])
        blocks.append(_Block(frame=frame, notes=notes, draws=drawn))
    return blocks


def _nodes(
    blocks: list[_Block], indicators: tuple[Indicator, ...], shaft: np.ndarray[Any, np.dtype[np.int64]]
) -> dict[str, FloatArray]:
    """Reduce the draws to nodes, weighed by what was noted when the hub went on."""
    weight = np.concatenate([weigh_by_notes(indicators, b.notes, told_by_notes(b.draws)) for b in blocks])
    chosen = choose_draws(weight, shaft)
    drawn = {
        "gap_left_um": np.concatenate([block.draws.fit.gap_left_um for block in blocks]),
        "three_tightest_um": np.concatenate([block.draws.three_tightest_um for block in blocks]),
        "contact_share": np.concatenate([block.draws.fit.contact_share for block in blocks]),
    }
    return {
        measure: reduce_draws(np.take_along_axis(drawn[measure], chosen, axis=1), shaft).value_um
        for measure in MEASURES
    }


def _frame(
    names: np.ndarray[Any, np.dtype[np.object_]],
    rows: pd.DataFrame,
    prediction: MapPrediction,
    draws: GapDraws,
    as_read: FloatArray,
    in_each: pd.Series[int],
) -> pd.DataFrame:
    gap = draws.fit.gap_left_um
    low, high = np.quantile(gap, [0.025, 0.975], axis=1)
    bearing_low, bearing_high = np.quantile(draws.bearing_share, [0.025, 0.975], axis=1)
    return pd.DataFrame(
        {
            "fitting": names,
            "shaft": rows["shaft"].to_numpy(dtype=object),
            "pattern": prediction.shape.pattern,
            "undersize_um": rows["undersize_um"].to_numpy(dtype=float),
            "below_new_um": -prediction.mean_um.mean(axis=1),
            "clearance_um": draws.fit.clearance_um.mean(axis=1),
            "gap_left_um": gap.mean(axis=1),
            "gap_left_sd_um": gap.std(axis=1),
            "gap_left_low_um": low,
            "gap_left_high_um": high,
            "contact_share": draws.fit.contact_share.mean(axis=1),
            "three_tightest_um": draws.three_tightest_um.mean(axis=1),
            "as_read_um": as_read,
            "inspections": in_each.reindex(names).to_numpy(),
            "space_status": rows["space_status"].to_numpy(dtype=object),
            "bearing_share": draws.bearing_share.mean(axis=1),
            "bearing_low": bearing_low,
            "bearing_high": bearing_high,
        }
    )


def _bonds(fit: WidthFit, data: WidthData, inspections: pd.DataFrame, rows: pd.DataFrame) -> Bonds:
    """Tell what the fittings, in the order of the units, have in common."""
    units = data.units["unit"]
    by_unit = inspections.sort_values("source").groupby("unit")
    readings = by_unit["source"].agg(" ".join).reindex(units)
    # where several hands measured, the last one's bias is taken for the common part
    last = by_unit[["measurer", "class"]].last().reindex(units)
    kinds = pd.Categorical(last["class"], categories=CLASSES).codes.astype(np.int64)
    repeat = fit.variances[len(MAP_COMPONENTS) + kinds]
    total = repeat + fit.variances[len(MAP_COMPONENTS) + len(CLASSES) + kinds]
    return Bonds(
        shaft=rows["shaft"].to_numpy(dtype=str),
        readings=readings.to_numpy(dtype=str),
        hand=last["measurer"].to_numpy(dtype=str),
        hub=rows["hub"].to_numpy(dtype=str),
        bias_share=np.where(total > 0, repeat / np.maximum(total, 1e-12), 0.0),
    )


def _numbers(labels: pd.Series[Any]) -> np.ndarray[Any, np.dtype[np.int64]]:
    return np.unique(labels.to_numpy(dtype=str), return_inverse=True)[1].astype(np.int64)


def _with_spaces(fittings: pd.DataFrame, patterns: Mapping[str, Pattern]) -> pd.DataFrame:
    """Add what is known of every hub's spaces from the new spline width: ``space_mean_um``, ``_sd_um``, ``_status``."""

    def relative(name: str, group: pd.DataFrame, pattern: Pattern) -> FloatArray:
        return np.asarray(pattern.width_um(group[name].to_numpy(dtype=float)))

    parts = []
    for name, group in fittings.groupby("pattern"):
        pattern = patterns[str(name)]
        mean, sd, status = hub_spaces(
            nominal_um=np.asarray(pattern.space_um(group["undersize_um"].to_numpy(dtype=float))),
            gauged_um=relative("space_width_mm", group, pattern),
            gauged_u_um=group["space_u_um"].to_numpy(dtype=float),
            go_um=relative("go_mm", group, pattern),
            no_go_um=relative("no_go_mm", group, pattern),
        )
        parts.append(group.assign(space_mean_um=mean, space_sd_um=sd, space_status=status))
    return pd.concat(parts)


@part("models_from")
def inspections_beside(snapshot: Snapshot) -> pd.DataFrame:
    """Give what inspections not in hand said of the sample's shafts before their hub had run; see `other_readings`."""
    readings = sampled_readings(snapshot)
    return other_readings(readings, readings_in_hand(readings, choices_on_record(snapshot)))


def other_readings(readings: WidthReadings, in_hand: WidthReadings) -> pd.DataFrame:
    """Give what inspections not in hand said of the same shaft, before the hub had run.

    Parameters
    ----------
    readings : WidthReadings
        All readings.
    in_hand : WidthReadings
        Those in hand, as `readings_in_hand` gives them.

    Returns
    -------
    DataFrame
        ``fitting``, ``other_um`` (mean width below new as read); one row a fitting whose shaft was measured once more.
    """
    used = in_hand.inspections[["unit", "shaft", "hubs_before"]].drop_duplicates("unit")
    known = readings.inspections.drop(columns=["unit"])
    pairs = used.merge(known, on=["shaft", "hubs_before"])
    taken = set(in_hand.inspections["inspection"])
    pairs = pairs.assign(source=pairs["inspection"], inspection=pairs["unit"] + " " + pairs["inspection"])
    pairs = pairs[~pairs["inspection"].isin(taken)]
    moments = pairs[["inspection", "source"]].merge(
        readings.moments.rename(columns={"inspection": "source"}), on="source"
    )
    if moments.empty:
        return pd.DataFrame({"fitting": pd.Series(dtype="str"), "other_um": pd.Series(dtype=float)})
    pairs = pairs[pairs["inspection"].isin(moments["inspection"])]
    data = WidthReadings(patterns=readings.patterns, inspections=pairs, moments=moments).reduce()
    names = data.units["unit"].to_numpy(dtype=object)
    parts = [
        pd.DataFrame({"fitting": names[block.unit], "other_um": -maps_as_read(block).mean(axis=(1, 2))})
        for block in data.blocks
    ]
    return pd.concat(parts, ignore_index=True).sort_values("fitting", ignore_index=True)
