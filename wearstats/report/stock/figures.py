"""The pictures of the sizes to keep, each with its table."""

from __future__ import annotations

from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.stock.chart import cost_chart, sizes_chart
from wearstats.report.stock.demand_chart import fan_chart, shelf_chart
from wearstats.report.stock.plans_table import best_sets_table, plans_table
from wearstats.report.stock.production_table import demand_table, make_now_table
from wearstats.studies.stock.answer import PatternStock, StockStudy
from wearstats.studies.stock.production import MakeNow


def stock_figures(study: StockStudy) -> list[Figure]:
    """Draw, for every pattern, cost by number of sizes, which shafts go to which, demand, and the shelf."""
    figures: list[Figure] = []
    for number, stock in enumerate(study.by_pattern.values(), start=1):
        figures += [_cost_figure(stock, f"cost-{number}"), _sizes_figure(stock, f"sizes-{number}")]
        if stock.make is not None:
            figures += [_fan_figure(stock.make, f"demand-{number}"), _shelf_figure(stock.make, f"shelf-{number}")]
    return figures


def _cost_figure(stock: PatternStock, name: str) -> Figure:
    today = stock.choice.today
    wide, narrow = (
        cost_chart(
            stock.plans_frame(),
            today=None if today is None else today.cost_a_year.value,
            currency=stock.prices.currency or "",
            pattern=stock.pattern,
            width=width,
        )
        for width in (WIDE, NARROW)
    )
    return make_figure(name, wide=wide, narrow=narrow, table=plans_table(stock))


def _sizes_figure(stock: PatternStock, name: str) -> Figure:
    wide, narrow = (
        sizes_chart(stock.need, stock.choice.in_best_set, pattern=stock.pattern, width=width)
        for width in (WIDE, NARROW)
    )
    return make_figure(name, wide=wide, narrow=narrow, table=best_sets_table(stock))


def _fan_figure(make: MakeNow, name: str) -> Figure:
    history, fan = make.history, make.fan
    wide, narrow = (fan_chart(history, fan, pattern=make.pattern, width=width) for width in (WIDE, NARROW))
    return make_figure(name, wide=wide, narrow=narrow, table=demand_table(make))


def _shelf_figure(make: MakeNow, name: str) -> Figure:
    frame = make.make_frame()
    wide, narrow = (shelf_chart(frame, pattern=make.pattern, width=width) for width in (WIDE, NARROW))
    return make_figure(name, wide=wide, narrow=narrow, table=make_now_table(make))
