"""What things cost on a day, as the shop wrote it down; a price that is not there is named, never guessed."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearstats.domain.tables import COST_ITEMS
from wearstats.errors import AnalysisError
from wearstats.studies.snapshot import Snapshot, part

MEANING = {
    "failure": "a hub that works loose",
    "return": "a hub that comes back",
    "filing_minute": "a minute of filing",
    "size_kept": "keeping one size, a year",
    "hub_made": "making one hub",
    "hub_held": "holding one hub, a year",
    "batch_setup": "setting up a batch",
    "lost_sale": "a sale lost",
    "special": "a hub made singly to order",
    "workshop_fit": "fitting in the workshop",
    "postage": "postage one way",
    "measure_again": "another measurement",
    "check_piece_sent": "sending a check piece to an owner",
    "day_waiting": "a day that an engine stands",
}
"""What each item means."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """The prices of one pattern, in force and known on one day.

    Parameters
    ----------
    as_of : datetime.date
        The day.
    pattern : str
        The pattern.
    currency : str or None
        The one currency of all; None where there is no price at all.
    failure, return_, special, workshop_fit, postage, lost_sale : float or None
        A hub that works loose; one that comes back; one made singly to order; a fitting in the workshop; postage one
        way; a sale that is lost. None where the shop has not written it down, here and below.
    filing_minute : float or None
        A minute of filing.
    size_kept, hub_held : float or None
        A year of keeping one size, whatever lies there of it; a year of one hub on the shelf.
    hub_made, batch_setup : float or None
        Making one hub; setting up a batch.
    measure_again, check_piece_sent, day_waiting : float or None
        Having a shaft measured again; sending a check piece; a day that an engine stands.
    from_on : dict of str to datetime.date
        Since when each price holds, by item.
    """

    as_of: datetime.date
    pattern: str
    currency: str | None
    failure: float | None = None
    return_: float | None = None
    filing_minute: float | None = None
    size_kept: float | None = None
    hub_made: float | None = None
    hub_held: float | None = None
    batch_setup: float | None = None
    lost_sale: float | None = None
    special: float | None = None
    workshop_fit: float | None = None
    postage: float | None = None
    measure_again: float | None = None
    check_piece_sent: float | None = None
    day_waiting: float | None = None
    from_on: dict[str, datetime.date]

    @property
    def missing(self) -> tuple[str, ...]:
        """Items without a price, in the order of the table's words."""
        return tuple(item for item in COST_ITEMS if self.amount(item) is None)

    def amount(self, item: str) -> float | None:
        """Price of an item as the ``costs`` table names it; KeyError for any other word."""
        if item not in COST_ITEMS:
            raise KeyError(item)
        found: float | None = getattr(self, _field(item))
        return found

    def need(self, *items: str) -> tuple[float, ...]:
        """Prices that an answer cannot do without.

        Parameters
        ----------
        *items : str
            As the ``costs`` table names them.

        Returns
        -------
        tuple of float
            In that order, in `currency`.

        Raises
        ------
        AnalysisError
            When any is missing; names all that are.
        """
        lacking = [item for item in items if self.amount(item) is None]
        if lacking:
            named = ", ".join(f"{item!r} ({MEANING[item]})" for item in lacking)
            raise AnalysisError(
                f"costs of pattern {self.pattern!r} on {self.as_of}: no price of {named}",
                needed="add to costs.csv a row each: pattern, item, from_on (no later than that day), amount, currency"
                + (f" ({self.currency})" if self.currency else ""),
            )
        return tuple(float(price) for item in items if (price := self.amount(item)) is not None)

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form: ``currency``, ``items`` (each ``amount`` and ``from_on``), ``missing``."""
        return {
            "currency": self.currency,
            "items": {item: {"amount": self.amount(item), "from_on": since} for item, since in self.from_on.items()},
            "missing": self.missing,
        }


@part("models_from")
def prices_of(snapshot: Snapshot, pattern: str) -> Prices:
    """Give the prices of a pattern in force and known.

    Parameters
    ----------
    pattern : str
        The pattern.

    Returns
    -------
    Prices
        With what is missing left open; `Prices.need` refuses where an answer needs it.

    Raises
    ------
    AnalysisError
        When the prices in force are in several currencies.
    """
    as_of = snapshot.models_from
    rows = snapshot.query("stock/prices", as_of=as_of, pattern=pattern)
    written = [str(word).strip().upper() for word in rows["currency"]]
    if len(set(written)) > 1:
        listed = "; ".join(
            f"{word}: {', '.join(item for item, own in zip(rows['item'], written, strict=True) if own == word)}"
            for word in sorted(set(written))
        )
        raise AnalysisError(
            f"costs of pattern {pattern!r} on {as_of}: prices in several currencies ({listed})",
            needed="write all prices of a pattern in one currency: add rows to costs.csv with a later from_on",
        )
    amounts = {str(item): float(amount) for item, amount in zip(rows["item"], rows["amount"], strict=True)}
    return Prices(
        as_of=as_of,
        pattern=pattern,
        currency=written[0] if written else None,
        from_on={str(item): pd.Timestamp(day).date() for item, day in zip(rows["item"], rows["from_on"], strict=True)},
        **{_field(item): amount for item, amount in amounts.items()},
    )


def _field(item: str) -> str:
    """Name of an item's field: ``return`` is a word of the language."""
    return "return_" if item == "return" else item
