"""Which hub to send for every shaft: how many of what, those first that cannot wait, and all of them in a file."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import pandas as pd

from wearstats.analysis.advice.remarks import First
from wearstats.analysis.remark import remark
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.shaft.sentences import short_words
from wearstats.report.words.cautions import SHORT_CAUTIONS
from wearstats.report.words.phrases import count, in_hundred, joined
from wearstats.studies.all_shafts import AllShafts
from wearstats.studies.shaft.answer import ShaftStudy

_ROWS: Final = 8
_COUNTED: Final = {
    First.DO_NOT_RUN: "not to run",
    First.STOP_AND_CHECK: "to stop and check",
    First.SEND_SHAFT_HERE: "to come to the workshop",
    First.DRESS_AND_MEASURE: "to dress and measure again",
    First.MEASURE_AGAIN: "to measure again",
    First.MEASURE_FIRST: "to measure first",
    None: "to send a hub for",
    First.NOTHING_TO_SEND: "that need nothing",
}
_DO: Final = {first: words.removeprefix("to ").removeprefix("that ") for first, words in _COUNTED.items()}
_URGENT: Final = {First.DO_NOT_RUN, First.STOP_AND_CHECK}


def all_shafts_answer(study: AllShafts) -> ShortAnswer:
    """Count what comes first, and name the shafts that cannot wait."""
    counts = study.counts()
    table = SmallTable(
        head=("shaft", "loose, of 100", "do", "hub, mm"),
        rows=tuple((each.shaft, _chance(each), _DO[each.advice.first], _hub(each)) for each in study.studies[:_ROWS]),
        left=frozenset({0, 2, 3}),
    )
    told = counted_words(study)
    lines: list[str | SmallTable] = [table]
    if (left := len(study.studies) - _ROWS) > 0:
        lines.append(f"And {left} more: --full prints them, --export FILE writes them.")
    if study.unanswered:
        name, why = next(iter(study.unanswered.items()))
        lines.append(f"No answer for {count(len(study.unanswered), 'shaft')}, first {name}: {say(why)}.")
    return ShortAnswer(
        question=f"Which hubs for {count(len(study.studies) + len(study.unanswered), 'shaft')}?",
        verdict=told or "no answer for any",
        body=tuple(lines),
        cautions=SHORT_CAUTIONS,
        foot="Hubs as engraved, the one that would be sent.",
        more="wearstats shaft ID",
        urgent=bool(_URGENT & set(counts)),
    )


def counted_words(study: AllShafts) -> str:
    """Count what comes first: ``2 not to run, 57 to send a hub for and 242 that need nothing``; empty for none."""
    return joined([f"{number} {_COUNTED[first]}" for first, number in study.counts().items()])


def table_cells(study: ShaftStudy) -> tuple[str, str, str, str, str]:
    """Give a shaft's name and pattern, what comes first, the hub that would be sent, and its chance, of 100."""
    return study.shaft, study.pattern, _DO[study.advice.first], _hub(study), _chance(study)


def _hub(study: ShaftStudy) -> str:
    return "" if study.advice.hub is None else short_words(study.advice.hub)


def _chance(study: ShaftStudy) -> str:
    hub = study.advice.hub
    return "" if hub is None or hub.risk.value is None else in_hundred(hub.risk.value)


def all_shafts_frame(study: AllShafts) -> pd.DataFrame:
    """Give a row a shaft: ``shaft pattern do because``, the hub that would be sent and what it takes, risks of 100."""
    rows = []
    for each in study.studies:
        hub, why = each.advice.hub, each.advice.because
        risk = None if hub is None else hub.risk
        rows.append(
            {
                "shaft": each.shaft,
                "pattern": each.pattern,
                "measured_on": each.measured_on.isoformat(),
                "do": "send" if each.advice.first is None else say(remark(each.advice.first)),
                "because": say(why[0]) if why else "",
                "undersize_mm": None if hub is None else hub.undersize_um / 1000,
                "special": None if hub is None else hub.special,
                "method": None if hub is None else hub.method,
                "minutes": None if hub is None else round(hub.minutes),
                "loose_in_100": None if risk is None or risk.value is None else round(100 * risk.value, 1),
                "low": None if risk is None or risk.low is None else round(100 * risk.low, 1),
                "high": None if risk is None or risk.high is None else round(100 * risk.high, 1),
                "months": each.horizon_months,
                "cost": None if hub is None or hub.cost.value is None else round(hub.cost.value, 2),
                "currency": each.currency,
            }
        )
    return pd.DataFrame(rows)


def all_shafts_table(study: AllShafts) -> DataTable:
    """Print all of them, a line each."""
    rows = pd.DataFrame(
        [table_cells(each) for each in study.studies],
        columns=["shaft", "pattern", "do", "hub", "loose"],
    )
    heads = {"shaft": "shaft", "pattern": "pattern", "do": "do", "hub": "hub, mm", "loose": "loose, of 100"}
    return table_of(rows, caption="What comes first, and the hub that would be sent", columns=heads)


def write_all_shafts(study: AllShafts, path: Path) -> Path:
    """Write all of them, .csv or .xlsx; errors as of `write_rows`."""
    return write_rows(all_shafts_frame(study), path, sheet="shafts")
