"""Whom to call, on a terminal: how many, the first of them, and where all names are."""

from __future__ import annotations

import math
from typing import Final

import pandas as pd

from wearstats.report.calls.left_out import left_out_line
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.words.cautions import SHORT_CAUTIONS
from wearstats.report.words.phrases import count, in_hundred
from wearstats.studies.review.calls import CallsStudy

_ROWS: Final = 8
HEAD: Final = ("owner", "shaft", "hub", "loose now", "in a quarter", "last word")


def calls_answer(study: CallsStudy) -> ShortAnswer:
    """Say whom to warn and whom to ask; the first eight, or all to be warned where only these are wanted."""
    figures = study.figures
    lent = 0 if study.only_to_warn else int(study.loans["to_come"].sum())
    beside = (study.sampled_shafts is not None) + (lent > 0)
    rows = study.calls if study.only_to_warn else study.calls.head(_ROWS - beside)
    body: list[str | SmallTable] = []
    if len(rows):
        body.append(_warned(rows) if figures.to_warn else _asked(rows))
    if study.sampled_shafts is not None:
        body.append(f"Only {count(study.sampled_shafts, 'shaft')} taken at random are looked at.")
    body += [f"Hubs on loan to ask back: {lent}; wearstats shelf."] if lent else []
    body += left_out_line(study.left_out)
    return ShortAnswer(
        question="Whom to call?",
        verdict=say(study.verdict),
        body=tuple(body),
        cautions=SHORT_CAUTIONS,
        foot="Loose: of 100 such hubs." if figures.to_warn else "",
        more="wearstats calls --warn, --full, --export FILE"
        if figures.to_warn and not study.only_to_warn
        else "wearstats calls --full, --export FILE",
        urgent=figures.to_warn > 0,
    )


def _warned(rows: pd.DataFrame) -> SmallTable:
    wanted = rows[["owner", "shaft", "hub", "loose_now", "risk", "last_word_on", "fitted_on", "withdrawn"]]
    with_batch = len(HEAD) + int(rows["withdrawn"].any())
    return SmallTable(
        head=(*HEAD, "batch")[:with_batch],
        rows=tuple(
            (
                owner or "",
                shaft,
                hub,
                _hundred(now),
                _hundred(soon),
                "never" if heard <= fitted else f"{heard:%Y-%m-%d}",
                "withdrawn" if withdrawn else "",
            )[:with_batch]
            for owner, shaft, hub, now, soon, heard, fitted, withdrawn in wanted.itertuples(index=False)
        ),
        left=frozenset({0, 1, 2, 6}),
    )


def _asked(rows: pd.DataFrame) -> SmallTable:
    wanted = rows[["owner", "shaft", "hub", "due_on", "overdue_days", "last_word_on", "fitted_on"]]
    return SmallTable(
        head=("owner", "shaft", "hub", "due", "days late", "last word"),
        rows=tuple(
            (owner or "", shaft, hub, f"{due:%Y-%m-%d}", str(late), "never" if heard <= fitted else f"{heard:%Y-%m-%d}")
            for owner, shaft, hub, due, late, heard, fitted in wanted.itertuples(index=False)
        ),
        left=frozenset({0, 1, 2}),
    )


def _hundred(share: float) -> str:
    return "" if math.isnan(share) else in_hundred(share)
