"""The answer on sizes and stock: which to keep, what they cost, what to make."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated, Any

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark
from wearstats.analysis.stock.sizes.choice import SizeChoice
from wearstats.analysis.stock.sizes.sorting import Sorting
from wearstats.domain.frames import columns
from wearstats.studies.inputs.prices import Prices
from wearstats.studies.stock.backtest import StockBacktest
from wearstats.studies.stock.production import MakeNow
from wearstats.studies.stock.spread import MadeSpread


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatternStock:
    """The sizes of one pattern.

    Parameters
    ----------
    pattern : str
    choice : SizeChoice
        Which sizes to keep.
    occasions, shafts : int
        Occasions on which a hub had to be chosen, with readings in hand, and shafts behind them.
    year : Estimate
        Hubs needed in the coming year, on which sizes, money and what to make rest; assumed where nothing needed is on
        record.
    year_from : Remark or None
        What that is learnt from; None where it is assumed.
    year_nearly_unknown : bool
        Whether the record is too short to make hubs by.
    prices : Prices
        As valid on the day.
    keeping : float
        What keeping one size costs a year, half a batch and one more hub on the shelf with it.
    pace : float
        How much longer filing takes than assumed, as learnt.
    why_no_risk : Remark or None
        Why failures are not counted, where they are not.
    spread : MadeSpread
        How hubs of one size come off the machine; sizes closer than that count as one.
    sorting : Sorting
        What gauging every hub would save.
    make : MakeNow or None
        How many of each chosen size to make now.
    why_no_make : Remark or None
        Why that cannot be said, where it cannot.
    backtest : StockBacktest or None
        Past quarters by this rule and by last year's habit; where asked for and told.
    need : DataFrame
        ``need_um`` (undersize as wide as the shaft's splines on average), ``undersize_um`` (that it goes to).
    """

    pattern: str
    choice: SizeChoice
    occasions: int
    shafts: int
    year: Estimate
    year_from: Remark | None
    year_nearly_unknown: bool
    prices: Prices
    keeping: float
    pace: float
    why_no_risk: Remark | None
    spread: MadeSpread
    sorting: Sorting
    make: MakeNow | None
    why_no_make: Remark | None
    backtest: StockBacktest | None = None
    need: Annotated[pd.DataFrame, columns(number="need_um undersize_um")]

    def plans_frame(self) -> pd.DataFrame:
        """Give ``sizes``, ``cost``, ``low``, ``high``, ``keeping`` (a year), ``unserved_share``, ``chosen``."""
        return pd.DataFrame(
            [
                {
                    "sizes": len(plan.undersizes_um),
                    "cost": plan.cost_a_year.value,
                    "low": plan.cost_a_year.low,
                    "high": plan.cost_a_year.high,
                    "keeping": self.keeping * len(plan.undersizes_um),
                    "unserved_share": plan.unserved_share,
                    "chosen": plan is self.choice.chosen,
                }
                for plan in self.choice.plans
            ]
        )

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        choice, chosen = self.choice, self.choice.chosen
        return {
            "currency": self.prices.currency,
            "plans": choice.plans,
            "chosen": {
                "k": len(chosen.undersizes_um),
                "undersizes_um": chosen.undersizes_um,
                "cost": chosen.cost_a_year,
                "unserved_share": chosen.unserved_share,
                "regret": choice.regret,
                "same_set_share": choice.same_set_share,
                "same_set_share_with_twice_the_shafts": choice.same_set_twice,
                **(self.make.to_dict() if self.make else {"make": None, "covers_until": None}),
                "not_told_because": self.why_no_make,
            },
            "backtest": self.backtest,
            "current": choice.today,
            "saving": choice.saving,
            "falls_out": choice.falls_out,
            "asked": choice.asked,
            "spread": self.spread,
            "sorting": self.sorting,
            "robust_undersizes_um": choice.robust_um,
            "as_good_undersizes_um": choice.as_good_um,
            "perfect_knowledge_cost": choice.perfect_a_year,
            "symmetric": choice.symmetric,
            "in_best_set": choice.in_best_set,
            "not_single_peaked_share": choice.not_single_peaked,
            "occasions": self.occasions,
            "shafts": self.shafts,
            "shafts_a_year": self.year.value,
            "hubs_next_year": self.year,
            "demand_from": self.year_from or self.year.method,
            "demand_nearly_unknown": self.year_nearly_unknown,
            "keeping_a_size": self.keeping,
            "filing_pace": self.pace,
            "failures_not_counted": self.why_no_risk,
            "prices": self.prices,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StockStudy:
    """The sizes of all patterns.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    horizon_months : float
        Within which failures are counted.
    by_pattern : dict of str to PatternStock
        Those that could be answered.
    unanswered : dict of str to Remark
        The others, with the reason.
    """

    as_of: datetime.date
    horizon_months: float
    by_pattern: dict[str, PatternStock]
    unanswered: dict[str, Remark]

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it; of a single pattern its keys stand on top too."""
        alone = next(iter(self.by_pattern.values())).to_dict() if len(self.by_pattern) == 1 else {}
        return {
            "horizon_months": self.horizon_months,
            **alone,
            "by_pattern": self.by_pattern,
            "unanswered": self.unanswered,
        }
