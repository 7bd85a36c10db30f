"""What came back, and why, on a terminal."""

from __future__ import annotations

from typing import Final

import numpy as np

from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable, capital
from wearstats.report.review.returns_sentences import REASON_WORDS
from wearstats.studies.counts.quarter import BEFORE_QUARTERS
from wearstats.studies.counts.returns import ReturnsStudy
from wearstats.studies.gaps.remarks import SlackRemark

_ROWS: Final = 8


def returns_answer(study: ReturnsStudy) -> ShortAnswer:
    """Say how the last quarter stands, and the commonest reasons, now and before."""
    body: list[str | SmallTable] = []
    if study.returned:
        body.append(_table(study))
        hidden = study.counts.sum(axis=0)[_ROWS:]
        if hidden.any():
            body.append(f"{int(hidden.sum())} more for {len(hidden)} other reasons.")
    if study.trials is not None and study.trials.verdict.code != SlackRemark.AS_EXPECTED:
        body.append(f"{capital(say(study.trials.verdict))}.")
    return ShortAnswer(
        question="What came back, and why?",
        verdict=say(study.verdict),
        body=tuple(body),
        foot="Brackets: 95 % sure." if study.expected is not None and study.returned else "",
    )


def _table(study: ReturnsStudy) -> SmallTable:
    before = study.counts[-1 - BEFORE_QUARTERS : -1].sum(axis=0)
    order = np.argsort(-study.counts.sum(axis=0), kind="stable")[:_ROWS]
    rows = tuple(
        (
            REASON_WORDS.get(study.reasons[at], study.reasons[at]),
            str(int(study.counts[-1, at])),
            str(int(before[at])),
            str(int(study.counts[:, at].sum())),
        )
        for at in order
    )
    head = ("", study.quarters[-1], "four quarters before", f"since {study.quarters[0]}")
    return SmallTable(head=head, rows=rows, left=frozenset({0}))
