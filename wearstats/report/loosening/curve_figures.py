"""The pictures of how many hubs are still tight, by what the hubs are grouped by, each with its table."""

from __future__ import annotations

import pandas as pd

from wearstats.report.loosening.group_chart import grouped_curves_chart
from wearstats.report.loosening.survival_chart import curves_chart
from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.loosening.curves import CurvesStudy
from wearstats.studies.loosening.study import LooseningStudy

_GROUPINGS = {
    "method_sent": ("curves", "how it was sent"),
    "gap_band": ("curves-gap", "gap left, as known when it was chosen"),
    "duty": ("curves-duty", "duty"),
}


def curve_figures(study: LooseningStudy) -> list[Figure]:
    """Draw the curves by method, by what was known of the gap, and by duty; only by method for a single pattern."""
    if study.curves is None:
        return [_by_method(study)]
    told = (_figure(study.curves, by, name, words) for by, (name, words) in _GROUPINGS.items())
    return [figure for figure in told if figure is not None]


def curves_table(curves: pd.DataFrame, at_risk: pd.DataFrame, *, grouped_by: str) -> DataTable:
    """Read each curve off at the months for which the numbers followed are given."""
    joined = pd.merge_asof(
        at_risk.astype({"months": float}).sort_values("months"),
        curves.astype({"months": float}).sort_values("months"),
        on="months",
        by="group",
    ).sort_values(["group", "months"], kind="stable")
    rows = pd.DataFrame(
        {
            "group": joined["group"],
            "months": [f"{month:g}" for month in joined["months"]],
            "tight": ["" if pd.isna(share) else in_hundred(share) for share in joined["still_tight"]],
            "range": [
                f"{in_hundred(low)} to {in_hundred(high)}" if pd.notna(low) and pd.notna(high) else ""
                for low, high in zip(joined["low"], joined["high"], strict=True)
            ],
            "at_risk": joined["at_risk"].astype(int),
        }
    )
    heads = (grouped_by, "months", "still tight, in 100", "95 % sure, in 100", "still followed")
    return table_of(rows, caption="Hubs still tight", columns=dict(zip(rows.columns, heads, strict=True)))


def _figure(curves: CurvesStudy, by: str, name: str, words: str) -> Figure | None:
    grouping = curves.groupings.get(by)
    if grouping is None or len(grouping.groups) < 2:
        return None
    shares, at_risk = curves.curves_frame(by), curves.at_risk_frame(by)
    wide, narrow = (
        grouped_curves_chart(
            shares,
            at_risk,
            curves.groups_frame(by),
            by=by,
            adjusted_p=grouping.adjusted_p,
            estimator=curves.estimator,
            horizon_months=curves.horizon_months,
            width=width,
        )
        for width in (WIDE, NARROW)
    )
    return make_figure(name, wide=wide, narrow=narrow, table=curves_table(shares, at_risk, grouped_by=words))


def _by_method(study: LooseningStudy) -> Figure:
    curves, at_risk = study.curves_frame(), study.at_risk_frame()
    wide, narrow = (
        curves_chart(curves, at_risk, horizon_months=study.horizon_months, width=width) for width in (WIDE, NARROW)
    )
    table = curves_table(curves, at_risk, grouped_by=_GROUPINGS["method_sent"][1])
    return make_figure("curves", wide=wide, narrow=narrow, table=table)
