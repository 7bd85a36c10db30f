"""The list of what to do, each line computed from what the review found, with its number."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.advice.limits import WARN_FROM
from wearstats.analysis.loosening.estimates import gap_at_risk
from wearstats.analysis.loosening.fit import LooseningFit
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.counts.batches import BatchReview
from wearstats.studies.counts.quarter import QuarterCounts
from wearstats.studies.forecast.figures import InUse
from wearstats.studies.forecast.study import ForecastStudy
from wearstats.studies.review.remarks import ActionRemark
from wearstats.studies.shelf.loans import loan_facts
from wearstats.studies.stock.answer import StockStudy

_CHANGED_P = 0.05
FIRST = 20
"""Of so many of those to be warned it is said how many may be loose already."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do.

    Parameters
    ----------
    do : str
        ``take-back``, ``warn``, ``withdraw``, ``re-gauge``, ``stop``, ``look-into``, ``call``, ``ask-back`` or
        ``make``.
    what : Remark
        What it is done to.
    number : float
        How many, or how much.
    because : Remark
        The finding.
    """

    do: str
    what: Remark
    number: float
    because: Remark


def actions_of(
    *,
    counts: QuarterCounts,
    forecast: ForecastStudy | None,
    in_use: InUse | None,
    batches: BatchReview,
    law: LooseningFit | None,
    horizon_months: float,
    risk_limit: float,
    stock: StockStudy | None,
    overdue: pd.DataFrame,
) -> tuple[Action, ...]:
    """Draw the list up, most urgent first.

    Parameters
    ----------
    counts, forecast, in_use, batches, law, stock
        What was found; None where it is not known or was not asked.
    horizon_months, risk_limit : float
        The chance of working loose that is accepted within that time.
    overdue : DataFrame
        Loans whose day is over.
    """
    return (
        *_take_back(batches),
        *_warn(in_use, forecast),
        *_batches(batches),
        *_stop_as_supplied(law, horizon_months, risk_limit),
        *_look_into(counts, forecast),
        *_call(in_use, forecast),
        *_ask_back(overdue),
        *_make(stock),
    )


def _take_back(batches: BatchReview) -> list[Action]:
    """Name the withdrawn batches of which hubs run, or were sent and not heard of."""
    return [
        Action(
            do="take-back",
            what=remark(ActionRemark.BATCH, batch=batch["batch"]),
            number=float(len(batch["went_to"]) + batch["unheard"]),
            because=remark(
                ActionRemark.BATCH_WITHDRAWN,
                hubs=len(batch["went_to"]),
                untold=batch["untold"],
                unheard=batch["unheard"],
                why=batch["withdrawn_because"] or None,
            ),
        )
        for batch in batches.named.to_dict("records")
        if batch["withdrawn"] and (batch["went_to"] or batch["unheard"])
    ]


def _warn(in_use: InUse | None, forecast: ForecastStudy | None) -> list[Action]:
    if in_use is None or forecast is None or not in_use.figures.to_warn:
        return []
    figures, to_warn = in_use.figures, in_use.to_warn
    first = to_warn.iloc[0]
    because = remark(
        ActionRemark.LIKELY_LOOSE,
        limit=WARN_FROM,
        withdrawn=int(to_warn["withdrawn"].sum()),
        sampled_shafts=forecast.sampled_shafts,
        shaft=str(first["shaft"]),
        owner=first["owner"],
        risk=float(first["risk_quarter"]),
        warned=figures.already_warned,
    )
    what = remark(ActionRemark.OWNERS_TO_WARN, hubs=figures.to_warn)
    return [Action(do="warn", what=what, number=figures.to_warn, because=because)]


def _batches(batches: BatchReview) -> list[Action]:
    return [_batch(batch) for batch in batches.named.to_dict("records") if not batch["withdrawn"]]


def _batch(batch: dict[Hashable, Any]) -> Action:
    """Withdraw what runs wide; have gauged again what works loose too often or was gauged in two ways."""
    others: tuple[str, ...] = ()
    if batch["wide"] and batch["gauged"] > 1:
        do, code, number, others = "withdraw", ActionRemark.BATCH_WIDE, "wider_um", ("gauged",)
    elif batch["wide"]:
        do, code, number = "withdraw", ActionRemark.BATCH_WIDE_BY_PLUG, "plug_low_um"
    elif batch["loose"]:
        do, code, number, others = "re-gauge", ActionRemark.BATCH_LOOSE, "failures", ("hubs",)
    else:
        do, code, number = "re-gauge", ActionRemark.BATCH_AT_ODDS, "wider_um"
        others = ("gauged", "plug_low_um", "plug_high_um")
    return Action(
        do=do,
        what=remark(ActionRemark.BATCH, batch=batch["batch"]),
        number=float(batch[number]),
        because=remark(code, **{name: batch[name] for name in (number, *others, "went_to")}),
    )


def _stop_as_supplied(law: LooseningFit | None, months: float, limit: float) -> list[Action]:
    if law is None:
        return []
    found = gap_at_risk(law, months=months, limit=limit, largest_um=float(np.quantile(law.gaps_um, 0.99)))
    if found.value is None or found.status not in {"ok", "bounded"}:
        return []
    because = remark(
        ActionRemark.GAP_AT_RISK,
        gap_um=found.value,
        low_um=found.low,
        high_um=found.high,
        level=found.level,
        months=months,
        limit=limit,
    )
    return [
        Action(
            do="stop",
            what=remark(ActionRemark.SENDING_AS_SUPPLIED, gap_um=found.value),
            number=found.value,
            because=because,
        )
    ]


def _look_into(counts: QuarterCounts, forecast: ForecastStudy | None) -> list[Action]:
    """Name the rate, groups and the last alarm where they are more than chance."""
    found: list[tuple[float, Remark, Remark]] = []
    if counts.change_p < _CHANGED_P and (ratio := counts.change.value) is not None:
        because = remark(ActionRemark.RATE_CHANGED, ratio=ratio, p_value=counts.change_p)
        found.append((ratio, remark(ActionRemark.RATE), because))
    changes = counts.changes()
    for group in changes[changes["p_adjusted"] < _CHANGED_P].to_dict("records"):
        numbers = {name: group[name] for name in ("number", "hub_months", "before_number", "before_months")}
        because = remark(ActionRemark.GROUP_CHANGED, compared=counts.compared, **numbers)
        which = remark(ActionRemark.GROUP, what=group["what"], by=group["by"], group=group["group"])
        found.append((float(group["number"]), which, because))
    if forecast is not None and (alarm := forecast.alarm(counts.quarter)) is not None:
        ratio = float(alarm["seen_over_expected"])
        because = remark(ActionRemark.ALARM, ratio=ratio, quarters=alarm["false_alarm_quarters"])
        found.append((ratio, remark(ActionRemark.SINCE, quarter=alarm["since"]), because))
    return [Action(do="look-into", what=what, number=number, because=because) for number, what, because in found]


def _call(in_use: InUse | None, forecast: ForecastStudy | None) -> list[Action]:
    if in_use is None or forecast is None or not in_use.figures.to_ask:
        return []
    figures = in_use.figures
    because = remark(ActionRemark.ASKED_BY_NOW)
    if figures.loose_now is not None:
        because = remark(
            ActionRemark.SILENTLY_LOOSE,
            loose=figures.loose_now,
            hubs=figures.hubs_looked_at,
            sampled_shafts=forecast.sampled_shafts,
            first=min(FIRST, figures.to_warn),
            first_loose=in_use.held_by_first(FIRST),
        )
    what = remark(ActionRemark.OWNERS_TO_ASK, hubs=figures.to_ask)
    return [Action(do="call", what=what, number=figures.to_ask, because=because)]


def _ask_back(overdue: pd.DataFrame) -> list[Action]:
    if overdue.empty:
        return []
    hubs = int(overdue["to_come"].sum())
    return [
        Action(
            do="ask-back",
            what=remark(ActionRemark.LOANS_OVERDUE, hubs=hubs),
            number=float(hubs),
            because=remark(ActionRemark.LOAN_LONGEST, **loan_facts(overdue.iloc[0].to_dict())),
        )
    ]


def _make(stock: StockStudy | None) -> list[Action]:
    actions = []
    for name, part in (stock.by_pattern if stock else {}).items():
        sizes = [(row.undersize_um, row.make) for row in part.make.rows if row.make > 0] if part.make else []
        if sizes:
            actions.append(
                Action(
                    do="make",
                    what=remark(ActionRemark.SIZES_TO_MAKE, pattern=name, sizes=sizes),
                    number=float(sum(make for _, make in sizes)),
                    because=remark(ActionRemark.SHELF_AND_DEMAND),
                )
            )
    return actions
