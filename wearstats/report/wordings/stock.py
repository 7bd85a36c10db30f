"""The words of the answer: which sizes to stock."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.report.stock.answer import stock_answers
from wearstats.report.stock.plans_table import plans_table
from wearstats.report.stock.production_table import make_now_table
from wearstats.report.stock.sentences import stock_sentences
from wearstats.report.wordings.wording import Wording
from wearstats.report.words.cautions import CAUTIONS

if TYPE_CHECKING:
    from wearstats.report.rendering.tables import DataTable
    from wearstats.studies.stock.answer import StockStudy


def _stock_tables(study: StockStudy) -> list[DataTable]:
    parts = study.by_pattern.values()
    return [*map(plans_table, parts), *(make_now_table(part.make) for part in parts if part.make)]


WORDINGS: Final = {
    "stock": Wording(
        heading="Which sizes should be stocked?",
        short=stock_answers,
        sentences=stock_sentences,
        tables=_stock_tables,
        cautions=CAUTIONS,
    ),
}
"""By question."""
