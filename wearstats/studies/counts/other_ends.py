"""Hubs that came off for other causes and hubs that came back, in a quarter and before it, by groups."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from wearstats.domain.quarters import Quarter
from wearstats.studies.counts.groups import GROUPINGS, compare_groups, group_name
from wearstats.studies.inputs.hubs_in_use import days_within
from wearstats.studies.snapshot import Snapshot

_SUMS = ["by", "group", "number", "hub_months", "before_number", "before_months"]


def read_returned(snapshot: Snapshot) -> pd.DataFrame:
    """Read the hubs that came back, a row a return, with what they were and where they had gone."""
    returned = snapshot.query("review/returns")
    return returned if snapshot.pattern is None else returned[returned["pattern"].eq(snapshot.pattern)]


def compare_other_ends(told: pd.DataFrame, *, span: Quarter, before: tuple[Quarter, Quarter]) -> pd.DataFrame:
    """Compare how many came off for each other cause; rows as of `review_groups.compare_groups`.

    Parameters
    ----------
    told : DataFrame
        Rows of `HubsInUse.frame` with ``month`` and ``month_before``, the months in use in the quarter and before.
    span : Quarter
        The quarter.
    before : tuple of Quarter
        The first and the last of those before.
    """
    ended = told[told["outcome"].eq("other-cause")].assign(by="cause")
    ended = ended.assign(group=ended["cause"].fillna("unknown").astype(str))
    now = days_within(ended["to_on"], span.first_day, span.last_day)
    past = days_within(ended["to_on"], before[0].first_day, before[1].last_day)
    return compare_groups(_against_all(ended.assign(number=now, before_number=past), told))


def compare_returned(
    returned: pd.DataFrame, told: pd.DataFrame, *, span: Quarter, before: tuple[Quarter, Quarter]
) -> pd.DataFrame:
    """Compare how many came back, by reason and by groups; rows as of `review_groups.compare_groups`.

    Parameters
    ----------
    returned : DataFrame
        Of `read_returned`.
    told, span, before
        As of `compare_other_ends`.
    """
    counted = returned.assign(
        number=days_within(returned["returned_on"], span.first_day, span.last_day),
        before_number=days_within(returned["returned_on"], before[0].first_day, before[1].last_day),
    )
    reasons = _against_all(counted.assign(by="reason", group=counted["reason"].astype(str)), told)
    return compare_groups(pd.concat([reasons, *_by_groups(counted, told)], ignore_index=True)[_SUMS])


def _against_all(counted: pd.DataFrame, told: pd.DataFrame) -> pd.DataFrame:
    """Sum by group; the months are those of all hubs, for the whole fleet may end that way."""
    sums = counted.groupby(["by", "group"], sort=True)[["number", "before_number"]].sum().reset_index()
    sums = sums[sums["number"] + sums["before_number"] > 0]
    return sums.assign(hub_months=float(told["month"].sum()), before_months=float(told["month_before"].sum()))[_SUMS]


def _by_groups(counted: pd.DataFrame, told: pd.DataFrame) -> Iterator[pd.DataFrame]:
    for by in GROUPINGS:
        months = told.dropna(subset=[by]).groupby(by, sort=True)[["month", "month_before"]].sum()
        months = months.set_axis(["hub_months", "before_months"], axis=1)
        numbers = counted.dropna(subset=[by]).groupby(by)[["number", "before_number"]].sum()
        sums = months.join(numbers).fillna(0.0).reset_index(names="group")
        # a batch none of which came back says nothing; of the few other groups it does
        if by == "batch":
            sums = sums[sums["number"] + sums["before_number"] > 0]
        yield sums.assign(by=by, group=[group_name(by, group) for group in sums["group"]])[_SUMS]
