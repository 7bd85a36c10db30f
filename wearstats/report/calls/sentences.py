"""Whom to call, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wearstats.analysis.advice.limits import WARN_FROM
from wearstats.report.calls.left_out import left_out_sentences
from wearstats.report.remarks.hubs import loan_words
from wearstats.report.remarks.review import about
from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import count, in_hundred, sentence
from wearstats.studies.shelf.loans import loan_facts

if TYPE_CHECKING:
    import pandas as pd

    from wearstats.studies.review.calls import CallsStudy


def who_words(row: pd.Series) -> str:
    """Name the shaft of a hub in use, and the code of its owner: ``S0127 (owner-200)``."""
    return f"{row['shaft']} ({row['owner']})" if row["owner"] else str(row["shaft"])


def loan_lines(study: CallsStudy) -> list[str]:
    """Say which hubs on loan to ask back: the longest overdue, and how many more."""
    rows = study.loans.to_dict("records")
    if not rows:
        return []
    more = f"; {count(len(rows) - 1, 'more loan')} overdue: wearstats shelf" if len(rows) > 1 else ""
    return [f"{loan_words(**loan_facts(rows[0]))}{more}"]


def calls_sentences(study: CallsStudy) -> list[str]:
    """Say whom to warn first and why, whom to ask, and what a year of calls would teach."""
    figures, hubs = study.figures, study.figures.hubs_looked_at
    lines = []
    if figures.to_warn:
        first = study.in_use.to_warn.iloc[0]
        chance = "" if math.isnan(first["risk_quarter"]) else f", {in_hundred(first['risk_quarter'])} in 100"
        lines += [
            f"warn the owners of {figures.to_warn} of {count(hubs, 'hub')} in use first, and say: stop, "
            f"check for rattle before "
            "the next start; each may be loose within a quarter with a chance of "
            f"{in_hundred(WARN_FROM)} in 100 or more, or is of a withdrawn batch",
            f"first {who_words(first)}{chance}",
        ]
    if figures.already_warned:
        lines.append(f"{figures.already_warned} more at such a chance were warned already; ask them how it holds")
    lines.append(
        f"{study.overdue} of {count(hubs, 'owner')} should have been asked by now: 1, 3, 6 and 12 months "
        f"after a hub went on, "
        "then every year; those to be warned among them"
    )
    if figures.loose_now is not None:
        lines.append(f"{about(figures.loose_now)} hubs may be loose already without word")
    if study.slope_sd is not None and study.slope_sd_after is not None:
        less = 1 - study.slope_sd_after / study.slope_sd
        lines.append(
            f"ten answered calls a week for a year would make the figure for how the gap matters {in_hundred(less)} in "
            "100 surer"
        )
    if study.sampled_shafts is not None:
        lines.append(
            f"looked at are the hubs of {count(study.sampled_shafts, 'shaft')} taken at random; with --pattern others "
            "are looked at"
        )
    lines += loan_lines(study)
    if study.why_no_law:
        lines.append(f"hubs stand by their due day alone: {say(study.why_no_law)}")
    return [*[sentence(line) for line in lines], *left_out_sentences(study.left_out)]
