"""The figures of the quarterly review, each with its table."""

from __future__ import annotations

from functools import partial

from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.review.charts import at_risk_chart, forecasts_chart, rates_chart
from wearstats.report.review.funnel_chart import funnel_chart
from wearstats.report.review.tables import at_risk_table, forecasts_table, groups_table, rates_table
from wearstats.studies.review.study import ReviewStudy


def review_figures(study: ReviewStudy) -> list[Figure]:
    """Draw hubs at risk, the rate by quarter, groups against their past, forecasts against what came; what there is."""
    figures = []
    risks, at_risk = at_risk_table(study), study.at_risk_frame()
    if risks is not None:
        wide, narrow = (at_risk_chart(at_risk, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("at-risk", wide=wide, narrow=narrow, table=risks))
    by_quarter = study.counts.by_quarter
    if len(by_quarter):
        wide, narrow = (rates_chart(by_quarter, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("rates", wide=wide, narrow=narrow, table=rates_table(study)))
    if study.counts.compared:
        months = study.counts.hub_months
        told = partial(funnel_chart, quarter=str(study.quarter), share=months / (months + study.counts.before_months))
        wide, narrow = (told(study.counts.changes(), width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("funnel", wide=wide, narrow=narrow, table=groups_table(study)))
    record = forecasts_table(study)
    if record is not None and study.forecast is not None:
        wide, narrow = (forecasts_chart(study.forecast.earlier, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("forecasts", wide=wide, narrow=narrow, table=record))
    return figures
