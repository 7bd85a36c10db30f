"""What senders knew of the width beyond the readings in hand, learnt from the sizes they sent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import pandas as pd

from wearstats.analysis.gaps.choice import Choices, PrivateKnowledge, learn_knowledge, sizes_between
from wearstats.analysis.gaps.draws import maps_as_read
from wearstats.analysis.widths.data import WidthData
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.studies.gaps.measured_again import readings_beside, troubled_shafts
from wearstats.studies.gaps.records import choices_on_record, sampled_readings
from wearstats.studies.inputs.sampling import sampled_names
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.inputs.widths import WidthReadings, readings_in_hand
from wearstats.studies.snapshot import Snapshot, part

_FEWEST_IN_GROUP = 10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SenderKnowledge:
    """What senders knew, and their choices.

    Parameters
    ----------
    knowledge : PrivateKnowledge
        What they knew.
    fitting : Index
        Fittings with readings in hand.
    choices : Choices
        Of these, in the same order.
    """

    knowledge: PrivateKnowledge
    fitting: pd.Index
    choices: Choices

    def weigh(self, fittings: Sequence[str], below_um: FloatArray) -> FloatArray:
        """Weigh the draws of some of these fittings by the size sent, shape (fittings, draws)."""
        return self.knowledge.weigh(self.choices.take(self.fitting.get_indexer(pd.Index(fittings))), below_um)


@part("models_from", kept=True)
def sender_knowledge(snapshot: Snapshot) -> SenderKnowledge | None:
    """Learn what senders knew beyond the readings in hand; None where too few shafts were measured again.

    It is for hubs on record alone: who chooses a hub today has the readings in hand, and nothing has been sent yet.
    """
    readings, fit, fittings = sampled_readings(snapshot), width_fit(snapshot).fit, choices_on_record(snapshot)
    fittings = fittings[fittings["pattern"].isin(readings.patterns)]
    in_hand = readings_in_hand(readings, fittings)
    beside = readings_beside(readings, in_hand, troubled=troubled_shafts(snapshot))
    if in_hand.inspections.empty or beside.inspections.empty:
        return None
    known = _below_new(fit, in_hand.reduce())
    again = _below_new(fit, _together(in_hand, beside).reduce())[["expected_um", "variance_um2"]]
    told = known.join(again.add_prefix("again_")).join(fittings.set_index("fitting"))
    choices = _choices(told, _sizes_then(snapshot))
    knowledge = learn_knowledge(choices)
    return None if knowledge is None else SenderKnowledge(knowledge=knowledge, fitting=told.index, choices=choices)


def _together(in_hand: WidthReadings, beside: WidthReadings) -> WidthReadings:
    """Put the readings in hand and those beside them together, of the fittings that have both."""
    units = set(beside.inspections["unit"])
    mine = in_hand.inspections[in_hand.inspections["unit"].isin(units)]
    group = mine.drop_duplicates("unit").set_index("unit")["group"]
    others = beside.inspections.assign(group=beside.inspections["unit"].map(group))
    moments = in_hand.moments[in_hand.moments["inspection"].isin(mine["inspection"])]
    return WidthReadings(
        patterns=in_hand.patterns,
        inspections=pd.concat([mine, others], ignore_index=True),
        moments=pd.concat([moments, beside.moments], ignore_index=True),
    )


def _below_new(
    fit: WidthFit, data: WidthData
) -> Annotated[pd.DataFrame, columns(number="expected_um variance_um2 read_um")]:
    """Give by unit the mean width below new: expected, its variance, and as read."""
    names = data.units["unit"].to_numpy(dtype=object)
    parts = [
        pd.DataFrame(
            {
                "expected_um": -prediction.mean_um.mean(axis=1),
                "variance_um2": prediction.covariance_um2.mean(axis=(1, 2)),
                "read_um": -maps_as_read(block).mean(axis=(1, 2)),
            },
            index=names[prediction.unit],
        )
        for prediction, block in zip(predict_maps(fit, data), data.blocks, strict=True)
    ]
    return pd.concat(parts)


def _sizes_then(snapshot: Snapshot) -> pd.DataFrame:
    """Give the sizes on offer and in stock on the day of each choice, a column a size in order, NaN where fewer."""
    asked: dict[str, Any] = {"as_of": snapshot.models_from, "shafts": sampled_names(snapshot)}
    rows = snapshot.store.query("fittings/sizes_then", **asked)
    number = rows.groupby("fitting").cumcount()
    return rows.assign(number=number).pivot_table(index="fitting", columns="number", values="undersize_um")


def _choices(told: pd.DataFrame, sizes: pd.DataFrame) -> Choices:
    offered = sizes.reindex(told.index).to_numpy(dtype=float)
    sent = told["undersize_um"].to_numpy(dtype=float)
    low, high = sizes_between(sent, offered)
    day = pd.to_datetime(told["chosen_on"])
    half = (day.dt.year * 2 + (day.dt.month > 6)).astype(str)
    method = told["sent_as"].fillna(told["method"]).astype(str)
    groups = pd.get_dummies(pd.DataFrame({"a": told["pattern"].astype(str) + method, "b": half}), drop_first=True)
    enough = groups.sum() >= _FEWEST_IN_GROUP
    names = ("expected_um", "variance_um2", "read_um", "again_expected_um", "again_variance_um2")
    expected, variance, read, again, again_variance = (told[name].to_numpy(dtype=float) for name in names)
    return Choices(
        low_um=low,
        high_um=high,
        expected_um=expected,
        variance_um2=variance,
        read_um=read,
        again_um=again,
        again_variance_um2=again_variance,
        groups=groups.loc[:, enough].to_numpy(dtype=float),
    )
