"""What is known of the gap that each fitting left, as it stood on the day its hub was chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import widened_interval
from wearstats.analysis.gaps.choice import PrivateKnowledge
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
from wearstats.studies.gaps.records import choices_on_record, sampled_readings, spoiled_records
from wearstats.studies.gaps.sender_knowledge import SenderKnowledge, sender_knowledge
from wearstats.studies.inputs.spoiled_records import SpoiledRecords
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.inputs.widths import WidthReadings, readings_in_hand
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
    knowledge : PrivateKnowledge or None
        What senders knew beyond the readings in hand; where it is `used` the sizes sent weigh the nodes too.
    without_choice : GapNodes or None
        The mean gap left, not weighed by the sizes sent; None where none is.
    """

    frame: Annotated[pd.DataFrame, GAP_ROWS]
    nodes: Mapping[str, GapNodes]
    as_read: GapNodes
    indicators: tuple[Indicator, ...] = ()
    knowledge: PrivateKnowledge | None = None
    without_choice: GapNodes | None = None


@part("models_from", "seed", kept=True)
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
    return draw_known_gaps(
        snapshot, readings, fit, choices, spoiled=spoiled_records(snapshot), senders=sender_knowledge(snapshot)
    )


def draw_known_gaps(
    snapshot: Snapshot,
    readings: WidthReadings,
    fit: WidthFit,
    fittings: pd.DataFrame,
    *,
    spoiled: SpoiledRecords | None = None,
    senders: SenderKnowledge | None = None,
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
    senders : SenderKnowledge, optional
        What senders knew beyond the readings in hand.

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
    told = with_spaces(fittings, readings.patterns).set_index("fitting")
    read = in_hand.inspections["shaft"].unique()
    indicators: tuple[Indicator, ...] | None = None
    frames: list[pd.DataFrame] = []
    nodes: list[dict[str, FloatArray]] = []
    plain: list[FloatArray] = []
    signs = senders if senders is not None and senders.knowledge.used else None
    for begin in range(0, read.size, _SHAFTS_AT_A_TIME):
        some = in_hand.inspections["shaft"].isin(read[begin : begin + _SHAFTS_AT_A_TIME])
        blocks = _draw_some(fit, in_hand, in_hand.inspections[some], told, draws)
        if indicators is None:
            indicators = learn_notes([(block.notes, told_by_notes(block.draws)) for block in blocks])
        frame = pd.concat([block.frame for block in blocks], ignore_index=True)
        frames.append(frame)
        numbers = _numbers(frame["shaft"])
        nodes.append(_nodes(blocks, indicators, numbers, MEASURES, signs))
        if signs is not None:
            plain.append(_nodes(blocks, indicators, numbers, MEASURES[:1], None)[MEASURES[0]])
    frame = pd.concat(frames, ignore_index=True)
    order = np.argsort(frame["fitting"].to_numpy(dtype=str), kind="stable")
    frame = frame.iloc[order].reset_index(drop=True)
    shaft = _numbers(frame["shaft"])
    wrong = np.full(len(frame), SPOILED_SHARE)
    if spoiled is not None:
        shown = spoiled.of_fittings(in_hand.inspections, fittings).reindex(frame["fitting"])
        wrong = 1.0 - (1.0 - SPOILED_SHARE) * (1.0 - shown.to_numpy(dtype=float))

    def joined(parts: list[FloatArray]) -> GapNodes:
        return GapNodes(value_um=np.concatenate(parts)[order], shaft=shaft, spoiled=wrong)

    return KnownGaps(
        frame=frame,
        nodes={measure: joined([part[measure] for part in nodes]) for measure in MEASURES},
        as_read=as_single_values(frame["as_read_um"].to_numpy(dtype=float), shaft),
        indicators=indicators or (),
        knowledge=None if senders is None else senders.knowledge,
        without_choice=joined(plain) if plain else None,
    )


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
    blocks: list[_Block],
    indicators: tuple[Indicator, ...],
    shaft: np.ndarray[Any, np.dtype[np.int64]],
    measures: tuple[str, ...],
    senders: SenderKnowledge | None,
) -> dict[str, FloatArray]:
    """Reduce the draws to nodes, weighed by what was noted when the hub went on, and by the size sent."""
    weight = np.concatenate([weigh_by_notes(indicators, b.notes, told_by_notes(b.draws)) for b in blocks])
    if senders is not None:
        weight *= np.concatenate([senders.weigh(b.frame["fitting"].tolist(), b.draws.below_new_um) for b in blocks])
    chosen = choose_draws(weight, shaft)
    drawn = {
        "gap_left_um": [block.draws.fit.gap_left_um for block in blocks],
        "three_tightest_um": [block.draws.three_tightest_um for block in blocks],
        "contact_share": [block.draws.fit.contact_share for block in blocks],
    }
    return {
        measure: reduce_draws(np.take_along_axis(np.concatenate(drawn[measure]), chosen, axis=1), shaft).value_um
        for measure in measures
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
    low, high, _ = widened_interval(gap.T, gap.mean(axis=1))
    bearing_low, bearing_high, _ = widened_interval(draws.bearing_share.T, draws.bearing_share.mean(axis=1))
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


def with_spaces(fittings: pd.DataFrame, patterns: Mapping[str, Pattern]) -> pd.DataFrame:
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
