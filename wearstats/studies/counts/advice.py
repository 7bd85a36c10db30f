"""Advice judged by what happened: the method advised with a hub, and the program's advice against what was sent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.rates.poisson_rates import rate_estimate
from wearstats.domain.frames import columns
from wearstats.studies.counts.groups import PER_MONTHS
from wearstats.studies.inputs.hubs_in_use import HubsInUse, months_in_use
from wearstats.studies.snapshot import Snapshot

_SENT_WITHIN_DAYS = 90
"""A hub sent later than so many days after advice is not taken as its consequence."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AdviceJudged:
    """What became of advice.

    Parameters
    ----------
    by_method : DataFrame
        By the method advised with the hub, ``method_sent``, and that done, ``method_done``: ``hubs``, ``failures``,
        ``hub_months``, ``rate``, ``low``, ``high`` per 100 hub-months.
    given : int
        Pieces of advice of this program on record up to the day asked about.
    by_following : DataFrame
        Of those to send a hub: ``followed`` (the hub sent next is of the size and the method advised), ``hubs``,
        ``failures``, ``hub_months``, ``rate``, ``low``, ``high``, ``risk`` (mean of what was predicted).
    """

    by_method: Annotated[
        pd.DataFrame, columns(text="method_sent method_done", number="hub_months rate low high", whole="hubs failures")
    ]
    given: int
    by_following: Annotated[pd.DataFrame, columns(any="followed hubs failures hub_months rate low high risk")]


def judge_advice(snapshot: Snapshot, hubs: HubsInUse) -> AdviceJudged:
    """Judge it.

    Parameters
    ----------
    hubs : HubsInUse
        The hubs that ran.
    """
    told = hubs.frame.assign(months=months_in_use(hubs.frame, hubs.as_of))
    advice = snapshot.query("review/advice")
    sent = advice[advice["do"].isin(["send", "send-two"]) & advice["hub"].notna()]
    soon = (sent["sent_on"] - sent["given_on"]).dt.days <= _SENT_WITHIN_DAYS
    sent = sent[soon].sort_values("given_on").drop_duplicates("hub", keep="last")
    same_size = (sent["undersize_um"] - sent["sent_undersize_um"]).abs() < 0.5
    same_way = sent["method"].eq(sent["sent_as"]) | sent["sent_as"].isna()
    ran = sent.assign(followed=same_size & same_way).merge(told, on="hub", suffixes=("_advised", ""))
    return AdviceJudged(
        by_method=_rates(told, ["method_sent", "method_done"]),
        given=len(advice.drop_duplicates(["shaft", "given_on"])),
        by_following=_rates(ran, ["followed"]).assign(
            risk=ran.groupby("followed")["risk"].mean().to_numpy() if len(ran) else []
        ),
    )


def _rates(told: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """Failures, months and rate by groups."""
    sums = told.groupby(by, sort=True).agg(
        hubs=("fitting", "size"), failures=("failed", "sum"), hub_months=("months", "sum")
    )
    sums = sums.reset_index()
    rates = [
        rate_estimate(int(bad), float(months), per=PER_MONTHS)
        for bad, months in zip(sums["failures"], sums["hub_months"], strict=True)
    ]
    ends = np.array([[rate.value, rate.low, rate.high] for rate in rates], dtype=float).reshape(-1, 3)
    return sums.assign(rate=ends[:, 0], low=ends[:, 1], high=ends[:, 2])
