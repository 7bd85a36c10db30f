"""How many hubs of a pattern the coming year will ask for: sizes, money and what to make rest on this one demand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.stock.demand import DemandFit, fit_demand, interval_of
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.studies.snapshot import Snapshot, part
from wearstats.studies.stock.production_rows import LEVEL
from wearstats.studies.stock.records import Needs, read_needs
from wearstats.studies.stock.remarks import StockStudyRemark
from wearstats.studies.stock.shelf import QUARTER_DAYS

_DRAWS = 4000
_FEWEST_YEARS = 0.5
"""From a shorter record the demand is nearly unknown; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StockDemand:
    """The demand of one pattern.

    Parameters
    ----------
    needs : Needs
        What was needed, as far as the records reach.
    fit : DemandFit
        Learnt from that.
    next_year : Estimate
        Hubs needed in the year after the day asked about, whatever size; interval at 90 %.
    """

    needs: Needs
    fit: DemandFit
    next_year: Estimate

    @property
    def nearly_unknown(self) -> bool:
        """Whether the record is too short to make hubs by."""
        return self.needs.recorded_years() < _FEWEST_YEARS

    def rests_on(self) -> Remark:
        """Say what it is learnt from."""
        needs = self.needs
        by_now = needs.until == needs.as_of
        code = StockStudyRemark.NEEDED_BY_NOW if by_now else StockStudyRemark.NEEDED_ON_RECORD
        return remark(code, hubs=needs.hubs, first_on=needs.first_on, until=needs.until)

    def draw(self, edges: FloatArray, *, count: int, rng: np.random.Generator) -> IntArray:
        """Draw the demand of spans of time as `DemandFit.draw` does, in quarters from the day asked about."""
        return _draw(self.fit, self.needs, edges, count=count, rng=rng)


@part("known_on", "seed", kept=True)
def demand_of(snapshot: Snapshot, pattern: str) -> StockDemand:
    """Learn the demand of a pattern; AnalysisError when nothing needed is on record."""
    needs, draws = read_needs(snapshot, pattern), snapshot.draws.within("stock", pattern)
    fit = fit_demand(needs.record())
    year = _draw(fit, needs, np.array([0.0, 4.0]), count=_DRAWS, rng=draws.generator("demand of a year"))
    return StockDemand(needs=needs, fit=fit, next_year=interval_of(year[:, 0], level=LEVEL, method=fit.level.method))


def _draw(fit: DemandFit, needs: Needs, edges: FloatArray, *, count: int, rng: np.random.Generator) -> IntArray:
    # the fit counts from where the records end
    since = (needs.as_of - needs.until).days / QUARTER_DAYS
    return fit.draw(edges + since, draws=count, rng=rng)
