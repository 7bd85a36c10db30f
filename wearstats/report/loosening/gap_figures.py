"""The pictures of the chance of working loose against the gap, each with its table."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.loosening.gap_chart import gap_risk_chart
from wearstats.report.loosening.validation_charts import calibration_chart, law_chart, silence_chart
from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.words.phrases import in_hundred, months
from wearstats.studies.loosening.gap_risk import GapRisk
from wearstats.studies.loosening.study import LooseningStudy
from wearstats.studies.loosening.validation import GapTrust


def gap_figures(study: LooseningStudy) -> list[Figure]:
    """Draw the chance against the gap, and where it was looked at from all sides, how far to trust it."""
    answer = study.gap
    if answer is None:
        return []
    wide, narrow = (
        gap_risk_chart(
            answer.curve,
            answer.rug,
            horizon_months=study.horizon_months,
            risk_limit=study.risk_limit,
            crossing_um=answer.at_limit.value,
            width=width,
        )
        for width in (WIDE, NARROW)
    )
    figures = [make_figure("gap-risk", wide=wide, narrow=narrow, table=risk_table(answer))]
    return figures + (_trust_figures(study, answer.trust) if answer.trust else [])


def risk_table(answer: GapRisk) -> DataTable:
    """Print a row a gap, a column a month."""
    told = answer.risk[answer.risk["status"].eq("ok")]
    words = [
        f"{in_hundred(value)} ({in_hundred(low)} to {in_hundred(high)})"
        for value, low, high in told[["value", "low", "high"]].itertuples(index=False)
    ]
    wide = told.assign(words=words).pivot_table(
        index="gap_left_um", columns="months", values="words", aggfunc="first", fill_value=""
    )
    rows = wide.reset_index()
    rows["gap_left_um"] = [print_um(float(um)) for um in rows["gap_left_um"]]
    rows.columns = pd.Index([str(name) for name in rows.columns])
    heads = {"gap_left_um": "mean gap left"} | {str(month): months(float(month)) for month in wide.columns}
    return table_of(rows, caption="Hubs loose by then, in 100 (95 % sure)", columns=heads)


def calibration_table(trust: GapTrust) -> DataTable:
    """Print a row a group of like risk."""
    frame = trust.calibration
    rows = pd.DataFrame(
        {
            "group": frame["group"].astype(int),
            "fittings": frame["fittings"].astype(int),
            "failures": frame["failures"].astype(int),
            "predicted": [in_hundred(share) for share in frame["predicted"]],
            "happened": [in_hundred(share) if pd.notna(share) else "" for share in frame["happened"]],
            "range": [
                f"{in_hundred(low)} to {in_hundred(high)}" if pd.notna(low) and pd.notna(high) else ""
                for low, high in frame[["low", "high"]].itertuples(index=False)
            ],
        }
    )
    heads = (
        "group, from the least risk",
        "hubs",
        "failed",
        "predicted, in 100",
        "happened, in 100",
        "95 % sure, in 100",
    )
    return table_of(rows, caption="Risk predicted and risk seen", columns=dict(zip(rows.columns, heads, strict=True)))


def law_table(trust: GapTrust) -> DataTable:
    """Print a row a quarter of a year."""
    frame = trust.beside_curve[np.isclose(trust.beside_curve["months"] % 3, 0)]
    rows = pd.DataFrame(
        {
            "months": [f"{month:g}" for month in frame["months"]],
            "law": [in_hundred(share) for share in frame["law"]],
            "curve": [in_hundred(share) for share in frame["curve"]],
        }
    )
    heads = {"months": "months", "law": "by the model, in 100", "curve": "by the curve, in 100"}
    return table_of(rows, caption="Hubs worked loose by then", columns=heads)


def silence_table(trust: GapTrust) -> DataTable:
    """Print a row a meaning of silence."""
    frame = trust.sensitivity.frame
    rows = pd.DataFrame(
        {
            "chance": [in_hundred(share) for share in frame["chance"]],
            "times": [f"{times:g}" for times in frame["silent_hazard"]],
            "risk": [in_hundred(share) for share in frame["risk"]],
            "slope": [f"{slope:.2f}" for slope in frame["slope"]],
        }
    )
    heads = (
        "failures reported unasked, in 100", "silent hubs fail so many times as often", "loose, in 100",
        "log hazard per 10 µm",
    )  # fmt: skip
    return table_of(rows, caption="What silence might mean", columns=dict(zip(rows.columns, heads, strict=True)))


def _trust_figures(study: LooseningStudy, trust: GapTrust) -> list[Figure]:
    horizon = study.horizon_months
    wide, narrow = (
        calibration_chart(trust.calibration, horizon_months=horizon, width=width) for width in (WIDE, NARROW)
    )
    figures = [make_figure("calibration", wide=wide, narrow=narrow, table=calibration_table(trust))]
    wide, narrow = (law_chart(trust.beside_curve, horizon_months=horizon, width=width) for width in (WIDE, NARROW))
    figures.append(make_figure("law", wide=wide, narrow=narrow, table=law_table(trust)))
    unasked = study.gap.reported_unasked if study.gap else study.reported_unasked
    if unasked.value is not None and unasked.low is not None and unasked.high is not None:
        wide, narrow = (
            silence_chart(
                trust.sensitivity.frame,
                chance=unasked.value,
                low=unasked.low,
                high=unasked.high,
                horizon_months=horizon,
                width=width,
            )
            for width in (WIDE, NARROW)
        )
        figures.append(make_figure("silence", wide=wide, narrow=narrow, table=silence_table(trust)))
    return figures
