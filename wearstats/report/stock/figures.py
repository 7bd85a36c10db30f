"""The pictures of the sizes to keep, each with its table."""

from __future__ import annotations

import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.stock.chart import cost_chart, sizes_chart
from wearstats.report.stock.demand_chart import fan_chart, shelf_chart
from wearstats.report.stock.production_table import demand_table, make_now_table
from wearstats.report.words.phrases import in_hundred
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


def plans_table(stock: PatternStock) -> DataTable:
    """Print a row a number of sizes."""
    plans = stock.choice.plans
    frame = stock.plans_frame()
    rows = pd.DataFrame(
        {
            "sizes": frame["sizes"].astype(int),
            "which": [", ".join(f"{um / 1000:g}" for um in plan.undersizes_um) for plan in plans],
            "cost": [f"{cost:.0f}" for cost in frame["cost"]],
            "range": [f"{low:.0f} to {high:.0f}" for low, high in zip(frame["low"], frame["high"], strict=True)],
            "unserved": [in_hundred(share) for share in frame["unserved_share"]],
        }
    )
    heads = ("sizes", "undersizes, mm", f"a year, {stock.prices.currency}", "95 % sure", "not served, in 100")
    caption = f"Pattern {stock.pattern}: the best set of every number of sizes"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def best_sets_table(stock: PatternStock) -> DataTable:
    """Print a row a size that was ever in the best set."""
    frame = stock.choice.in_best_set
    frame = frame[(frame["share"] > 0) | frame["chosen"]]
    served = stock.need["undersize_um"].value_counts()
    rows = pd.DataFrame(
        {
            "size": [print_um(float(um)) for um in frame["undersize_um"]],
            "share": [in_hundred(share) for share in frame["share"]],
            "chosen": ["yes" if chosen else "" for chosen in frame["chosen"]],
            "shafts": [
                str(int(served.get(um, 0))) if chosen else ""
                for um, chosen in zip(frame["undersize_um"], frame["chosen"], strict=True)
            ],
        }
    )
    heads = ("undersize", "in the best set, of 100 draws", "recommended", "shafts on record that it serves")
    caption = f"Pattern {stock.pattern}: how often each size is in the best set"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


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
