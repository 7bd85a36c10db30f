"""The tables of the quarterly review."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.report.remarks.say import say
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.review.funnel_frame import funnel_frame
from wearstats.report.review.labels import group_words
from wearstats.report.words.phrases import in_hundred, sure_number
from wearstats.studies.counts.groups import is_shown
from wearstats.studies.review.study import ReviewStudy


def review_tables(study: ReviewStudy) -> list[DataTable]:
    """Print all tables that have rows, what is most urgent first."""
    tables = (
        at_risk_table(study), rates_table(study), groups_table(study), forecasts_table(study),
    )  # fmt: skip
    return [table for table in tables if table is not None and table.rows]


def rates_table(study: ReviewStudy) -> DataTable:
    """Print a row a quarter: hubs fitted, failures, hub-months, the rate, and how ripe it is."""
    frame = study.counts.by_quarter
    rows = pd.DataFrame(
        {
            "quarter": frame["quarter"],
            "fittings": frame["fittings"].astype(int),
            "failures": frame["failures"].astype(int),
            "months": [f"{months:.0f}" for months in frame["hub_months"]],
            "rate": [_range(*row) for row in frame[["rate", "low", "high"]].itertuples(index=False)],
            "age": [f"{months:.0f}" for months in frame["month_mean"]],
            "run": ["" if pd.isna(months) else f"{months:.0f}" for months in frame["run_months"]],
            "mature": [in_hundred(share) if pd.notna(share) else "" for share in frame["mature_share"]],
        }
    )
    heads = (
        "quarter",
        "hubs fitted",
        "became known loose",
        "hub-months in use",
        "in 100 hub-months (95 % sure)",
        "mean age in use, months",
        "those fitted have run, months",
        "of those fitted, run a year or ended, in 100",
    )
    return table_of(rows, caption="Failures by quarter", columns=dict(zip(rows.columns, heads, strict=True)))


def groups_table(study: ReviewStudy) -> DataTable:
    """Print a row a group, what surely changed first: what came in the quarter, and what its past lets expect.

    Of the many batches only those with two cases or more; where nothing was in use before, the rates of the quarter.
    """
    counts = study.counts
    changes = counts.changes()
    if counts.before_months <= 0 or changes.empty:
        frame = counts.groups.rename(columns={"failures": "number", "before_failures": "before_number"})
        frame = frame[is_shown(frame)]
        rows = pd.DataFrame(
            {
                "group": [group_words(by, group) for by, group in zip(frame["by"], frame["group"], strict=True)],
                "now": frame["number"],
                "months": [f"{months:.0f}" for months in frame["hub_months"]],
                "rate": [_range(*row) for row in frame[["rate", "low", "high"]].itertuples(index=False)],
            }
        )
        heads = ("group", "became known loose", "hub-months", "in 100 hub-months (95 % sure)")
        return table_of(rows, caption=f"{study.quarter} by groups", columns=dict(zip(rows.columns, heads, strict=True)))
    changes = changes[is_shown(changes)]
    frame = funnel_frame(changes)
    rows = frame[["group", "what", "seen"]].assign(
        expected=[f"{number:.1f}" for number in frame["expected"]],
        times=[_times(*row) for row in changes[["ratio", "ratio_low", "ratio_high"]].itertuples(index=False)],
        before=[f"{n} in {t:.0f}" for n, t in zip(changes["before_number"], changes["before_months"], strict=True)],
        months=[f"{months:.0f}" for months in changes["hub_months"]],
        outside=["more than chance" if outside else "" for outside in frame["outside"]],
    )
    compared = (
        "group", "what", f"seen in {study.quarter}", "expected", "times the rate before (95 % sure)",
        "four quarters before, in hub-months", f"hub-months in {study.quarter}", "change",
    )  # fmt: skip
    caption = f"{study.quarter} by groups, each against its own past"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, compared, strict=True)))


def forecasts_table(study: ReviewStudy) -> DataTable | None:
    """Print a row a past quarter: what was predicted then, and what happened; None where none could be predicted."""
    if study.forecast is None or study.forecast.earlier.empty:
        return None
    frame = study.forecast.earlier
    rows = pd.DataFrame(
        {
            "quarter": frame["quarter"],
            "hubs": frame["hubs"].astype(int),
            "expected": [f"{number:.1f}" for number in frame["expected"]],
            "range": [f"{low:.0f} to {high:.0f}" for low, high in zip(frame["low"], frame["high"], strict=True)],
            "happened": frame["happened"].astype(int),
        }
    )
    heads = ("quarter", "hubs in use", "predicted", "90 % sure", "became known")
    caption = "Failures predicted as known at the quarter's beginning, and what came"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def at_risk_frame(study: ReviewStudy) -> pd.DataFrame:
    """Give the hubs most at risk, the reason in words."""
    frame = study.at_risk_frame()
    return frame if frame.empty else frame.assign(reason=frame["reason"].map(say))


def at_risk_table(study: ReviewStudy) -> DataTable | None:
    """Print a row a hub most at risk; None where none is known."""
    frame = study.at_risk_frame()
    if frame.empty:
        return None
    rows = pd.DataFrame(
        {
            "shaft": frame["shaft"],
            "fitting": frame["fitting"],
            "region": frame["region"].fillna(""),
            "gap": ["not known" if pd.isna(um) else f"{um:.0f}" for um in frame["gap_left_um"]],
            "method": frame["method"],
            "since": [f"{day:%Y-%m-%d}" for day in frame["fitted_on"]],
            "now": [in_hundred(share) for share in frame["loose_now"]],
            "quarter": [_hundred_range(*row) for row in
                        frame[["risk_quarter", "risk_quarter_low", "risk_quarter_high"]].itertuples(index=False)],
            "why": frame["reason"].map(say),
            "told": ["warned" if told else "not yet warned" for told in frame["told"]],
        }
    )  # fmt: skip
    heads = (
        "shaft", "fitting", "region", "gap left, µm", "sent", "fitted", "loose now, in 100",
        "loose within a quarter, in 100 (95 % sure)", "why", "owner",
    )  # fmt: skip
    caption = "Stop, check before the next start: hubs in use most likely to be loose"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def _range(value: float | None, low: float | None, high: float | None) -> str:
    if pd.isna(value):
        return ""
    return f"{value:.2f} ({low or 0.0:.2f} to {high or 0.0:.2f})"


def _times(*told: float) -> str:
    """Print how many times the rate before; where nothing came before only the least is known."""
    value, low, high = (None if pd.isna(number) else float(number) for number in told)
    return sure_number(Estimate(value=value, low=low, high=high, status="bounded" if value is None else "ok"))


def _hundred_range(value: float, low: float, high: float) -> str:
    return f"{in_hundred(value)} ({in_hundred(low)} to {in_hundred(high)})"
