"""What the review says of making hubs: asked as the question of stock asks it, or why it cannot be told."""

from __future__ import annotations

from wearstats.analysis.remark import Remark, refused
from wearstats.errors import AnalysisError
from wearstats.studies.counts.all_hubs import ALL_PATTERNS
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.study import study_stock


def begin_stock(snapshot: Snapshot, *, horizon_months: float, risk_limit: float) -> None:
    """Have it asked in the second process, where there is one."""
    study_stock.begin(snapshot, horizon_months=horizon_months, risk_limit=risk_limit)


def ask_stock(snapshot: Snapshot, *, horizon_months: float, risk_limit: float) -> StockStudy | Remark:
    """Ask what to make, as the question of stock does; a remark says why that cannot be told."""
    try:
        return study_stock(snapshot, horizon_months=horizon_months, risk_limit=risk_limit)
    except AnalysisError as error:
        return refused(error)


def make_not_told(stock: StockStudy | Remark) -> dict[str, Remark | str | None]:
    """Give why it cannot be told what to make, by pattern; under `ALL_PATTERNS` where none could be asked after."""
    if isinstance(stock, Remark):
        return {ALL_PATTERNS: stock}
    parts = {name: part.why_no_make for name, part in stock.by_pattern.items() if part.make is None}
    return {**stock.unanswered, **parts}
