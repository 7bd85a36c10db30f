"""The prices that a choice is weighed with: the shop's own, and stated guesses for those that it has not given."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from wearstats.analysis.advice.outcomes import FittingPrices
from wearstats.analysis.remark import Remark, refused
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.prices import Prices, prices_of
from wearstats.studies.snapshot import Snapshot, part

DEFAULT_MINUTES: Final = {
    "failure": 440.0,
    "return": 50.0,
    "postage": 17.0,
    "workshop_fit": 90.0,
    "special": 110.0,
    "measure_again": 30.0,
    "check_piece_sent": 40.0,
    "day_waiting": 1.0,
}
"""What a thing is taken to cost where the shop has not said, in minutes of filing (judgement). A failure's holds no
injury: that is what the limit on the chance is for."""

IN_MINUTES: Final = "minutes of filing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Costing:
    """The prices of a choice.

    Parameters
    ----------
    prices : FittingPrices
        In `currency`.
    measure_again : float
        What another measurement costs, the days of waiting for it among it.
    currency : str
        The shop's, or minutes of filing where it has given no price.
    assumed : tuple of str
        Items that are guesses.
    why_not : Remark or None
        Why prices that were given are not used.
    """

    prices: FittingPrices
    measure_again: float
    currency: str
    assumed: tuple[str, ...]
    why_not: Remark | None = None

    def with_failure(self, times: float) -> FittingPrices:
        """Give the prices as they would be were a failure so many times as dear."""
        return replace(self.prices, failure=times * self.prices.failure)


_WAITING_DAYS = 14.0
"""Until a new measurement is in hand (judgement: a letter, a look, a letter)."""


@part("models_from")
def costing_of(snapshot: Snapshot, pattern: str) -> Costing:
    """Give the prices of a pattern, with stated guesses for what is missing.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    pattern : str
        The pattern.
    """
    why_not = None
    try:
        known = prices_of(snapshot, pattern)
    except AnalysisError as error:
        # in several currencies: they cannot be set against each other
        known, why_not = Prices(as_of=snapshot.models_from, pattern=pattern, currency=None, from_on={}), refused(error)
    # what costs nothing could be wasted without end: a blank that was filled with a nought
    known = replace(known, filing_minute=known.filing_minute or None, failure=known.failure or None)
    minute = _minute(known)
    assumed = [item for item in DEFAULT_MINUTES if known.amount(item) is None]
    if known.filing_minute is None:
        assumed.append("filing_minute")

    def price(item: str) -> float:
        given = known.amount(item)
        return DEFAULT_MINUTES[item] * minute if given is None else given

    special = price("special")
    return Costing(
        prices=FittingPrices(
            filing_minute=minute,
            workshop_fit=price("workshop_fit"),
            postage=price("postage"),
            return_=price("return"),
            failure=price("failure"),
            special=max(special - known.hub_made, 0.0) if known.hub_made is not None else special,
        ),
        measure_again=price("measure_again") + _WAITING_DAYS * price("day_waiting"),
        currency=known.currency or IN_MINUTES,
        assumed=tuple(sorted(assumed)),
        why_not=why_not,
    )


def _minute(known: Prices) -> float:
    """Price a minute of filing: as given, or as the dearest given price has it by the guesses, or 1."""
    if known.filing_minute is not None:
        return known.filing_minute
    told = [
        (minutes, amount) for item, minutes in DEFAULT_MINUTES.items() if (amount := known.amount(item)) is not None
    ]
    return max(told)[1] / max(told)[0] if told else 1.0
