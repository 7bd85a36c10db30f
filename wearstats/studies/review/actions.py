"""The list of what to do, each line computed from what the review found, with its number."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.loosening.estimates import gap_at_risk
from wearstats.analysis.loosening.fit import LooseningFit
from wearstats.domain.units import print_um
from wearstats.studies.counts.batches import BatchReview
from wearstats.studies.counts.quarter import QuarterCounts
from wearstats.studies.forecast.study import ForecastStudy
from wearstats.studies.stock.answer import StockStudy

WARN_FROM = 0.10
"""Chance of being loose within a quarter from which an owner is to be warned; judgement."""
_CHANGED_P = 0.05
_BY_WORDS = {"method_sent": "hubs sent", "undersize_um": "undersize, µm"}
_WHAT_WORDS = {"loose": "failures", "came-off": "hubs that came off", "came-back": "hubs that came back"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do.

    Parameters
    ----------
    do : str
        ``warn``, ``call``, ``withdraw``, ``re-gauge``, ``stop``, ``look-into`` or ``make``.
    what : str
        What it is done to, in words.
    number : float
        How many, or how much.
    because : str
        The finding.
    """

    do: str
    what: str
    number: float
    because: str

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {"do": self.do, "what": self.what, "number": self.number, "because": self.because}


def actions_of(
    *,
    counts: QuarterCounts,
    forecast: ForecastStudy | None,
    batches: BatchReview,
    law: LooseningFit | None,
    horizon_months: float,
    risk_limit: float,
    stock: StockStudy | None,
) -> tuple[Action, ...]:
    """Draw the list up, most urgent first.

    Parameters
    ----------
    counts, forecast, batches, law, stock
        What was found; None where it is not known or was not asked.
    horizon_months, risk_limit : float
        The chance of working loose that is accepted within that time.

    Returns
    -------
    tuple of Action
    """
    return (
        *_warn(forecast),
        *_batches(batches),
        *_stop_as_supplied(law, horizon_months, risk_limit),
        *_look_into(counts, forecast),
        *_call(forecast),
        *_make(stock),
    )


def _warn(forecast: ForecastStudy | None) -> list[Action]:
    if forecast is None:
        return []
    high = forecast.running[(forecast.running["risk_quarter"] >= WARN_FROM) & ~forecast.running["told"]]
    if high.empty:
        return []
    first = high.iloc[0]
    return [
        Action(
            do="warn",
            what="owners: stop, and check for rattle before the next start",
            number=len(high),
            because=f"in each of {len(high)} hubs whose owners were not yet warned the chance to be loose within a "
            f"quarter is {100 * WARN_FROM:.0f} in 100 or more{_of_sample(forecast)}; first shaft {first['shaft']}, "
            f"{100 * first['risk_quarter']:.0f} in 100",
        )
    ]


def _of_sample(forecast: ForecastStudy) -> str:
    if forecast.sampled_shafts is None:
        return ""
    return f" (looking only at {forecast.sampled_shafts} shafts taken at random of all)"


def _batches(batches: BatchReview) -> list[Action]:
    return [_batch(batch) for batch in batches.named.to_dict("records")]


def _batch(batch: dict[Hashable, Any]) -> Action:
    """Withdraw what runs wide; have gauged again what works loose too often or was gauged in two ways."""
    what = f"batch {batch['batch']}"
    shafts = f"it went to {', '.join(batch['went_to'])}" if batch["went_to"] else "none of it is in use"
    if batch["wide"]:
        by_hubs = batch["gauged"] > 1
        wider = float(batch["wider_um"] if by_hubs else batch["plug_low_um"])
        told = f"{batch['gauged']} gauged" if by_hubs else "at least, for the go gauge enters"
        because = f"its spaces are {wider:.1f} µm wider than they should be, over half a step between sizes ({told})"
        return Action(do="withdraw", what=what, number=wider, because=f"{because}; {shafts}")
    if batch["loose"]:
        because = (
            f"{batch['failures']} of its {batch['hubs']} hubs worked loose, more than of the others by more than chance"
        )
        return Action(do="re-gauge", what=what, number=float(batch["failures"]), because=f"{because}; {shafts}")
    because = (
        f"{batch['gauged']} of its hubs were gauged {batch['wider_um']:.1f} µm over their size, where its plug gauges "
        f"leave {batch['plug_low_um']:.1f} to {batch['plug_high_um']:.1f}"
    )
    return Action(do="re-gauge", what=what, number=float(batch["wider_um"]), because=f"{because}; {shafts}")


def _stop_as_supplied(law: LooseningFit | None, months: float, limit: float) -> list[Action]:
    if law is None:
        return []
    found = gap_at_risk(law, months=months, limit=limit, largest_um=float(np.quantile(law.gaps_um, 0.99)))
    if found.value is None or found.status not in {"ok", "bounded"}:
        return []
    return [
        Action(
            do="stop",
            what="sending hubs as supplied where the gap left would be larger",
            number=found.value,
            because=f"at a gap of {found.value:.0f} µm{_sure(found)} the chance of working loose within {months:g} "
            f"months is {100 * limit:g} in 100",
        )
    ]


def _sure(found: Estimate) -> str:
    if found.low is None or found.high is None:
        return ""
    return f" (between {found.low:.0f} and {found.high:.0f}, {100 * found.level:.0f} % sure)"


def _look_into(counts: QuarterCounts, forecast: ForecastStudy | None) -> list[Action]:
    lines = []
    if counts.change_p < _CHANGED_P and counts.change.value is not None:
        lines.append(
            Action(
                do="look-into",
                what="the rate of failures",
                number=counts.change.value,
                because=f"it is {counts.change.value:.1f} times that of the quarters before, more than chance "
                f"(p = {counts.change_p:.3f})",
            )
        )
    changes = counts.changes()
    lines += [
        Action(
            do="look-into",
            what=f"{_WHAT_WORDS[group['what']]}, {_BY_WORDS.get(group['by'], group['by'])} {group['group']}",
            number=float(group["number"]),
            because=f"{group['number']} in {group['hub_months']:.0f} hub-months against {group['before_number']} in "
            f"{group['before_months']:.0f} before, more than chance though {counts.compared} were compared",
        )
        for group in changes[changes["p_adjusted"] < _CHANGED_P].to_dict("records")
    ]
    latest = [] if forecast is None else [s for s in forecast.signals() if s["quarter"] == str(counts.quarter)]
    lines += [
        Action(
            do="look-into",
            what=f"failures since {signal['since']}",
            number=float(signal["seen_over_expected"]),
            because=f"{signal['seen_over_expected']:.1f} times as many became known as were foretold; such an "
            f"alarm comes by chance {_how_often(signal['false_alarm_quarters'])}, the law's own doubt allowed for",
        )
        for signal in latest[-1:]
    ]
    return lines


def _how_often(quarters: float | None) -> str:
    return "hardly ever" if quarters is None else f"once in {quarters:.0f} quarters"


def _call(forecast: ForecastStudy | None) -> list[Action]:
    if forecast is None or forecast.running["loose_now"].isna().all():
        return []
    loose = float(forecast.running["loose_now"].sum())
    first = forecast.running.head(10)
    return [
        Action(
            do="call",
            what="owners first: wearstats calls lists them in order",
            number=len(first),
            because=f"about {loose:.0f} of {len(forecast.running)} hubs in use{_of_sample(forecast)} "
            f"may be loose already without word; of the first {len(first)} on the list {first['loose_now'].sum():.1f}",
        )
    ]


def _make(stock: StockStudy | None) -> list[Action]:
    lines = []
    for name, part in (stock.by_pattern if stock else {}).items():
        if part.make is None:
            continue
        counts = {row.undersize_um: row.make for row in part.make.rows if row.make > 0}
        if counts:
            sizes = ", ".join(f"{count} of {print_um(um).partition(' (')[0]}" for um, count in counts.items())
            lines.append(
                Action(
                    do="make",
                    what=f"pattern {name}, undersize: {sizes}",
                    number=float(sum(counts.values())),
                    because="of what is on the shelf and what will be asked for until more can be made",
                )
            )
    return lines
