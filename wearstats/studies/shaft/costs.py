"""What serving one shaft with a size and a method is expected to cost: filing, fitting, coming back, failing.

Only what depends on the choice is counted, as for the stock (`wearstats.analysis.stock.pair_costs`): a hub costs the
same to make and to post whatever its size.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.advice.options import AdviceLimits
from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.gaps.posterior import FitDraws
from wearstats.analysis.remark import remark
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.prices import Prices, prices_of
from wearstats.studies.loosening.remarks import LooseningStudyRemark
from wearstats.studies.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Costing:
    """The prices to weigh a choice with, or why there are none.

    Parameters
    ----------
    prices : Prices or None
        As valid on the day.
    why_not : str
        What is missing.
    """

    prices: Prices | None
    why_not: str = ""

    @property
    def currency(self) -> str | None:
        """In which currency costs are given."""
        return None if self.prices is None else self.prices.currency

    def cost(
        self, fit: FitDraws, method: str, *, minutes_per_um: float, risk: Estimate, limits: AdviceLimits
    ) -> Estimate:
        """Give the expected cost.

        Parameters
        ----------
        fit : FitDraws
            How the hub fits, shape (draws,).
        method : str
            How it is fitted.
        minutes_per_um : float
            Minutes by micrometre of filing, summed over the places.
        risk : Estimate
            Chance of working loose within the horizon.
        limits : AdviceLimits
            The shop's settings: up to which filing a hub may go on as supplied.

        Returns
        -------
        Estimate
            Its interval is the doubt of that chance alone; none where a price or the chance is missing.
        """
        if self.prices is None:
            return no_estimate(self.why_not)
        if risk.value is None:
            return no_estimate(remark(LooseningStudyRemark.CHANCE_NOT_KNOWN, why=risk.method))
        minute, here, back, post, failure = self.prices.need(
            "filing_minute", "workshop_fit", "return", "postage", "failure"
        )
        if method == "as-supplied":
            fixed = float(np.mean(fit.largest_filing_um > limits.slide_um)) * (back + post)
        else:
            fixed = minute * minutes_per_um * float(fit.total_filing_um.mean())
            fixed += here if method == "workshop-fitted" else 0.0
        ends = [None if end is None else fixed + failure * end for end in (risk.value, risk.low, risk.high)]
        return Estimate(
            value=ends[0],
            low=ends[1],
            high=ends[2],
            method="filing, fitting, coming back and failing at the day's prices; interval by the doubt of the chance",
            status=risk.status,
        )


def read_costing(snapshot: Snapshot, pattern: str) -> Costing:
    """Read the prices of a pattern; where any is missing, or they are in several currencies, say which."""
    try:
        prices = prices_of(snapshot, pattern)
        prices.need("filing_minute", "workshop_fit", "return", "postage", "failure")
    except AnalysisError as error:
        return Costing(prices=None, why_not=str(error))
    return Costing(prices=prices)
