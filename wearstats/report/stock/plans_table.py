"""Sizes against cost as a table, and how often each size is in the best set."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.stock.amounts import engraved
from wearstats.report.words.phrases import in_hundred

if TYPE_CHECKING:
    from wearstats.studies.stock.answer import PatternStock


def plans_table(stock: PatternStock) -> DataTable:
    """Print today's sizes, and the best set of every number of sizes, with what some cost gauged and sorted."""
    choice, gauged = stock.choice, stock.sorting.cost_a_year
    plans = [(str(len(plan.undersizes_um)), plan) for plan in choice.plans]
    if choice.today is not None:
        plans.insert(0, (f"today {len(choice.today.undersizes_um)}", choice.today))
    chosen = choice.chosen.undersizes_um
    costs = [plan.cost_a_year for _, plan in plans]
    rows = pd.DataFrame(
        {
            "sizes": [name + (", chosen" if plan.undersizes_um == chosen else "") for name, plan in plans],
            "which": [", ".join(engraved(um) for um in plan.undersizes_um) for _, plan in plans],
            "cost": [f"{cost.value or 0.0:.0f}" for cost in costs],
            "range": [f"{cost.low or 0.0:.0f} to {cost.high or 0.0:.0f}" for cost in costs],
            "sorted": [
                f"{gauged[len(plan.undersizes_um)]:.0f}"
                if len(plan.undersizes_um) in gauged and (plan is choice.chosen or plan in choice.plans)
                else ""
                for _, plan in plans
            ],
            "unserved": [in_hundred(plan.unserved_share) for _, plan in plans],
        }
    )
    money = f"a year, {stock.prices.currency}"
    heads = ("sizes", "undersizes, mm", money, "95 % sure", f"{money}, gauged and sorted", "not served, in 100")
    caption = f"Pattern {stock.pattern}: today's sizes, and the best set of every number of sizes"
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
