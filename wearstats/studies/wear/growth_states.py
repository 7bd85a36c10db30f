"""The states of the shafts, out of the store and into the arrays that the model of growth takes.

Only hours in which wear could happen count: those that the meter ran on between two looks, for an engine does not run
without a hub. A stretch ends with whatever is done to the shaft (dressed, built up, reground): metal that goes or comes
then was not worn off. Looks between which no hub ran are one state, and shafts whose hours contradict themselves are
left out and counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.growth.fit import BETWEEN, GrowthStates
from wearstats.analysis.growth.states import measure_states
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.domain.tables import WIDTH_CHANGES
from wearstats.studies.inputs.width_fit import FittedWidths
from wearstats.studies.inputs.widths import WidthReadings
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.remarks import WearStudyRemark

HOURS_SLACK_H = 50.0
HOURS_SLACK_SHARE = 0.01
"""Hours of one state may differ by the greater of these two: engines run on between two looks, meters are misread."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadStates:
    """States of all shafts with hours.

    Parameters
    ----------
    table : DataFrame
        One row a state: ``series`` (a shaft until something is done to it), ``shaft``, ``pattern``, ``duty``, ``unit``,
        ``first_on`` and ``measured_on`` (first and last day), ``inspections`` (how many), ``hours``, ``state`` (from
        0), ``between`` (how the hub was since the state before), ``loose_share`` (of that run), ``row`` (in `growth`),
        ``wear_um``, ``sd_um``.
    every : DataFrame
        All states with hours, of shafts that were not taken into `table` too, with the columns up to ``hours``.
    growth : GrowthStates
        The states of `table` as arrays, a row a series, in the order of `table`.
    split_h : ndarray, shape (shafts, states, 3)
        As ``between_h`` of `growth`, but of hubs found loose only the hours in which they are taken to have been so.
    left_out : dict of Remark to int
        States left out, by reason.
    """

    table: Annotated[
        pd.DataFrame,
        columns(
            text="series shaft pattern duty unit between",
            number="hours loose_share wear_um sd_um",
            whole="inspections state row",
            day="first_on measured_on",
        ),
    ]
    every: Annotated[
        pd.DataFrame,
        columns(
            text="state_key series shaft pattern duty unit",
            number="hours",
            whole="inspections",
            day="first_on measured_on",
        ),
    ]
    growth: GrowthStates
    split_h: FloatArray
    left_out: dict[Remark, int]


def read_states(snapshot: Snapshot, fitted: FittedWidths, ran: pd.DataFrame, *, most_shafts: int) -> ReadStates | None:
    """Read the states known by a day; None where no shaft has hours.

    Parameters
    ----------
    fitted : FittedWidths
        All readings, and the width model.
    ran : DataFrame
        The fittings that ran: ``shaft``, ``origin_on``, ``outcome``, ``observed_months``, ``first_bad_months``.
    most_shafts : int
        Of shafts seen in one state only, so many are taken at random.
    """
    readings, fit, draws = fitted.readings, fitted.fit, snapshot.draws
    inspections = _with_series(readings, snapshot.query("wear/events", shafts=None))
    table, left_out = _state_table(inspections, snapshot.query("wear/hours"))
    if table.empty:
        return None
    every = table
    table = _sample(table, most_shafts, draws=draws)
    table = table.assign(state=table.groupby("series").cumcount())
    table = table.join(_between(ran, table))
    used = inspections[inspections["state_key"].isin(table["state_key"])]
    data = readings.reduce(used.assign(unit=used["series"]))
    number = used["state_key"].map(table.set_index("state_key")["state"])
    measured = measure_states(fit, data, pd.Series(number.to_numpy(), index=used["inspection"]))
    row = table["series"].map(pd.Series(np.arange(len(data.units)), index=data.units["unit"])).to_numpy(dtype=np.int64)
    at = (row, table["state"].to_numpy(dtype=np.int64))
    hours = np.zeros(measured.seen.shape)
    hours[at] = table["hours"].to_numpy(dtype=float)
    first = table.drop_duplicates("series").set_index("series").loc[data.units["unit"]]
    between_h = _between_hours(table, at, measured.seen.shape)
    growth = GrowthStates(
        series=data.units["unit"].to_numpy(dtype=str),
        shaft=data.units["shaft"].to_numpy(dtype=str),
        duty=first["duty"].to_numpy(dtype=str),
        seen=measured.seen,
        hours_h=hours,
        wear_um=measured.wear_um,
        between_h=between_h,
        own_error_um2=measured.own_error_um2,
        shared_error_um=measured.shared_error_um,
    )
    sd = np.sqrt(growth.error_um2)
    table = table.assign(row=row, wear_um=measured.wear_um[at], sd_um=sd[at]).drop(columns="state_key")
    return ReadStates(
        table=table.reset_index(drop=True),
        every=every,
        growth=growth,
        split_h=_split_hours(table, at, between_h),
        left_out=left_out,
    )


def _with_series(readings: WidthReadings, events: pd.DataFrame) -> pd.DataFrame:
    """Tell every shaft's stretches between changes of its width apart; a state belongs to one stretch."""
    read = readings.inspections[readings.inspections["inspection"].isin(readings.moments["inspection"].unique())]
    events = events[events["what"].isin(WIDTH_CHANGES)]
    pairs = read[["inspection", "shaft", "measured_on"]].merge(events, on="shaft")
    before = pairs[pairs["happened_on"] <= pairs["measured_on"]].groupby("inspection").size()
    done = read["inspection"].map(before).fillna(0).astype("int64")
    series = read["shaft"] + "/" + done.astype(str)
    return read.assign(series=series, state_key=series + " " + read["unit"])


def _state_table(inspections: pd.DataFrame, heard: pd.DataFrame) -> tuple[pd.DataFrame, dict[Remark, int]]:
    """Make one row a state that has usable hours, in order, and count those left out."""
    duty = inspections["duty"].astype(object).where(inspections["duty"].notna(), "not said")
    grouped = inspections.assign(duty=duty).groupby("state_key", sort=False)
    table = grouped.agg(
        series=("series", "first"), shaft=("shaft", "first"), pattern=("pattern", "first"), duty=("duty", "first"),
        unit=("unit", "first"), first_on=("measured_on", "min"), measured_on=("measured_on", "max"),
        inspections=("inspection", "size"), hours=("hours", "median"), low=("hours", "min"), high=("hours", "max"),
    ).reset_index()  # fmt: skip
    table = table.sort_values(["series", "first_on", "unit"], kind="stable").reset_index(drop=True)
    table["hours"] = table["hours"].fillna(_heard_hours(table, heard))
    slack = np.maximum(HOURS_SLACK_H, HOURS_SLACK_SHARE * table["hours"])
    why = pd.Series("", index=table.index).mask((table["high"] - table["low"]) > slack, WearStudyRemark.HOURS_DIFFER)
    why = why.mask(table["hours"].isna(), WearStudyRemark.NO_HOURS)
    table = table.assign(why=why, slack=slack)
    kept = table[table["why"] == ""]
    top = kept.groupby("series")["hours"].cummax()
    backwards = kept.loc[kept["hours"] < top - kept["slack"], "series"].unique()
    why = why.mask(table["series"].isin(backwards) & (why == ""), WearStudyRemark.HOURS_BACKWARDS)
    kept = table[why == ""]
    kept = kept.assign(hours=kept.groupby("series")["hours"].cummax())
    told = why[why != ""].value_counts().items()
    counts = {remark(WearStudyRemark(str(code))): int(count) for code, count in told}
    return kept.drop(columns=["low", "high", "why", "slack"]), counts


def _heard_hours(table: pd.DataFrame, heard: pd.DataFrame) -> pd.Series[float]:
    """Hours heard when the hub came off before a state, which no hub has run since; NaN where none were."""
    since = table.groupby("series")["measured_on"].shift()
    asked = table.assign(row=table.index, since=since).rename(columns={"hours": "own"}).merge(heard, on="shaft")
    asked = asked[(asked["seen_on"] <= asked["first_on"]) & (asked["seen_on"] > asked["since"])]
    last = asked.sort_values("seen_on", kind="stable").drop_duplicates("row", keep="last")
    hours: pd.Series[float] = last[last["came_off"].astype(bool)].set_index("row")["hours"]
    return hours.reindex(table.index)


def _sample(table: pd.DataFrame, most: int, *, draws: NamedDraws) -> pd.DataFrame:
    """Keep all series with several states, and at most so many of the others."""
    size = table.groupby("series")["unit"].transform("size")
    single = table.index[size == 1].to_numpy()
    chosen = single[draws.some("shafts looked at once", table.loc[single, "series"], most)]
    return table[(size > 1) | table.index.isin(chosen)].reset_index(drop=True)


def _between(ran: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Say how the hub was that ran before each state, since the one before.

    Columns ``between`` (empty for first states) and ``loose_share`` of the run: a hub is taken to have worked loose
    midway between the last word of it tight and the first of it loose.
    """
    since = table.groupby("series")["first_on"].shift()
    failed = ran["outcome"].eq("failed").to_numpy()
    ended = ran["outcome"].isin(["other-cause", "removed"])
    run = ran["observed_months"].mask(failed, ran["first_bad_months"])
    hubs = pd.DataFrame(
        {
            "shaft": ran["shaft"],
            "origin_on": ran["origin_on"],
            "told": np.select([failed, ended], ["loose", "tight"], "not known"),
            "run": run,
            "loose": (run - ran["observed_months"]).where(failed, 0.0),
        }
    )
    pairs = table.assign(row=table.index, since=since)[["row", "shaft", "since", "first_on"]].merge(hubs, on="shaft")
    pairs = pairs[(pairs["origin_on"] > pairs["since"]) & (pairs["origin_on"] <= pairs["first_on"])]
    by_row = pairs.groupby("row")
    loose = by_row["told"].apply(lambda words: (words == "loose").any()).reindex(table.index).eq(True)
    tight = by_row["told"].apply(lambda words: (words == "tight").all()).reindex(table.index).eq(True)
    months = by_row[["run", "loose"]].sum().reindex(table.index)
    share = (months["loose"] / months["run"].where(months["run"] > 0)).where(loose, 0.0).fillna(0.0)
    return pd.DataFrame(
        {
            "between": np.select([since.isna(), loose, tight], ["", "loose", "tight"], "not known"),
            "loose_share": share.clip(0.0, 1.0),
        },
        index=table.index,
    )


def _between_hours(
    table: pd.DataFrame, at: tuple[NDArray[np.int64], NDArray[np.int64]], shape: tuple[int, ...]
) -> FloatArray:
    """Hours since the first state, shared out by what is known of the hub, shape (series, states, 3)."""
    step = table.groupby("series")["hours"].diff().fillna(0.0)
    shared = np.zeros((*shape, len(BETWEEN)))
    for k, name in enumerate(BETWEEN):
        mine = step.where(table["between"].eq(name), 0.0)
        shared[(*at, np.full(len(table), k))] = mine.groupby(table["series"]).cumsum().to_numpy(dtype=float)
    return shared


def _split_hours(
    table: pd.DataFrame, at: tuple[NDArray[np.int64], NDArray[np.int64]], between_h: FloatArray
) -> FloatArray:
    """Move those hours of loose hubs that they ran tight to the tight ones, same shape."""
    step = table.groupby("series")["hours"].diff().fillna(0.0)
    tight, loose = BETWEEN.index("tight"), BETWEEN.index("loose")
    split = between_h.copy()
    share = (step * table["loose_share"]).groupby(table["series"]).cumsum()
    split[(*at, np.full(len(table), loose))] = share.to_numpy(dtype=float)
    split[..., tight] += between_h[..., loose] - split[..., loose]
    return split
