"""What the review says of making hubs: asked as the question of stock asks it, or why it cannot be told."""

from __future__ import annotations

import datetime

from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store
from wearstats.studies.counts.all_hubs import ALL_PATTERNS
from wearstats.studies.inputs.width_fit import FittedWidths
from wearstats.studies.loosening.fit_from_store import KnownLaw, risk_model_of
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.study import study_stock


def ask_stock(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None,
    horizon_months: float,
    fitted: FittedWidths | None,
    known: KnownLaw,
    draws: NamedDraws,
) -> StockStudy | str:
    """Ask what to make; a text says why that cannot be told.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    horizon_months : float
        Failures within that time are counted.
    fitted : FittedWidths or None
        The width model of the review's shafts.
    known : KnownLaw
        The law of the review's fittings.
    draws : NamedDraws
        As for the question of stock.

    Notes
    -----
    What a hub costs hangs on the shafts of all patterns, so that for one pattern alone both are fitted anew.
    """
    of_all = pattern is None and fitted is not None
    try:
        return study_stock(
            store,
            as_of=as_of,
            pattern=pattern,
            horizon_months=horizon_months,
            fitted=fitted if of_all else None,
            risk_model=risk_model_of(known) if of_all else None,
            draws=draws,
        )
    except AnalysisError as error:
        return str(error)


def make_not_told(stock: StockStudy | str) -> dict[str, str]:
    """Give why it cannot be told what to make, by pattern; under `ALL_PATTERNS` where none could be asked after."""
    if isinstance(stock, str):
        return {ALL_PATTERNS: stock}
    parts = {name: part.why_no_make for name, part in stock.by_pattern.items() if part.make is None}
    return {**stock.unanswered, **parts}
