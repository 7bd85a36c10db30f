"""What is on the shelf, in short: what to do first, then the sizes."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from wearstats.report.remarks.hubs import asked_for, owner_of, size_of
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.words.phrases import count, joined
from wearstats.studies.shelf.remarks import ShelfVerdict
from wearstats.studies.shelf.study import ShelfStudy

_ROWS: Final = 5
_NAMED: Final = 2


def shelf_answer(study: ShelfStudy) -> ShortAnswer:
    """Say whom to ask for what is overdue, which numbers to look for, and what is there."""
    return ShortAnswer(
        question="What is on the shelf?",
        verdict=say(study.verdict),
        body=(*_next(study), _sizes(study.sizes), *_rest(study)),
        foot="",
        more="wearstats shelf --full",
        urgent=study.verdict.code == ShelfVerdict.OVERDUE,
    )


def _next(study: ShelfStudy) -> list[str]:
    """Say what comes after the verdict: others to ask, numbers to look for, or what to do now."""
    code, overdue = study.verdict.code, study.overdue
    if code == ShelfVerdict.OVERDUE and len(overdue) > 1:
        others = [
            f"{asked_for(row['hubs'])} from {owner_of(row)}" for row in overdue.iloc[1 : 1 + _NAMED].to_dict("records")
        ]
        left = len(overdue) - 1 - len(others)
        return [f"Then ask for {joined(others)}{f'; {left} more are late' if left else ''}."]
    if code in (ShelfVerdict.OVERDUE, ShelfVerdict.DUE_NEXT, ShelfVerdict.UNDATED):
        return ["When it is back: look it over, gauge it if it was on a shaft, and add its row of returns."]
    if code in (ShelfVerdict.COUNTED_FEWER, ShelfVerdict.COUNTED_MORE):
        return look_for_lines(study)[:1]
    if code == ShelfVerdict.TO_GAUGE:
        return [_gauge_line(study)]
    return ["Nothing to do."]


def look_for_lines(study: ShelfStudy, *, named: int = 6) -> list[str]:
    """Say a line for each size of which the last count disagrees with the records."""
    lines = []
    for row in study.disagreements.to_dict("records"):
        what = f"{size_of(row['pattern'], row['undersize_um'])}: {count(row['counted'], 'hub')} counted last"
        differ, names = int(row["differ"]), list(row["look_for"])
        listed = ", ".join(names[:named]) + (f" and {len(names) - named} more" if len(names) > named else "")
        if differ < 0:
            lines.append(f"{what}, {-differ} fewer than lay there by number; look for {listed}.")
        elif names:
            lines.append(f"{what}, {differ} more than can be there; look for {listed}, sent and never heard of.")
        else:
            lines.append(f"{what}, {differ} more than can be there; count again, or add what came back.")
    return lines


def _gauge_line(study: ShelfStudy) -> str:
    gauge = study.hubs.loc[study.hubs["state"] == "to-gauge", "hub"].tolist()
    named = " ".join(f"--hub {hub}" for hub in gauge[:2])
    return f"Back from a shaft, to be gauged before it is sent: wearstats sheet gauging {named}"


def _sizes(sizes: pd.DataFrame) -> SmallTable:
    with_hubs = sizes[(sizes[["there", "to_gauge", "on_loan"]] > 0).any(axis=1)]
    chosen = with_hubs.sort_values(["on_loan", "there"], ascending=False, kind="stable").head(_ROWS).sort_index()
    left = len(with_hubs) - len(chosen)
    more = f"; {count(left, 'more size')}: --full" if left else ""
    return SmallTable(
        head=("size, mm", "by number", "gauged", "to gauge", "on loan", "in all"),
        rows=tuple(_row(row) for row in chosen.to_dict("records")),
        left=frozenset({0}),
        note=f"In all: with hubs that have no number{more}.",
    )


def _row(row: dict[Any, Any]) -> tuple[str, ...]:
    numbers = tuple(str(int(row[name])) for name in ("there", "gauged", "to_gauge", "on_loan"))
    hand = "" if pd.isna(row["on_hand"]) else f"{row['on_hand']:.0f}"
    return (size_of(row["pattern"], row["undersize_um"]), *numbers, hand)


def _rest(study: ShelfStudy) -> list[str]:
    """Say what else is to be done, where the verdict is another."""
    lines, code = [], study.verdict.code
    if len(study.disagreements) and code == ShelfVerdict.OVERDUE:
        lines += look_for_lines(study, named=3)[:1]
    if (study.hubs["state"] == "to-gauge").any() and code != ShelfVerdict.TO_GAUGE:
        lines.append(_gauge_line(study))
    never = int(study.hubs["state"].isin(["not-again", "withdrawn"]).sum())
    if never:
        lines.append(f"{count(never, 'hub')} came back or {'is' if never == 1 else 'are'} withdrawn: not to be sent.")
    return lines
