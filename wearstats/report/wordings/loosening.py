"""The words of the answer: whether hubs stay tight."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.report.loosening.answer import loosening_answer
from wearstats.report.loosening.sentences import loosening_sentences
from wearstats.report.loosening.tables import near_table
from wearstats.report.wordings.wording import Wording, alone

if TYPE_CHECKING:
    from wearstats.report.rendering.tables import DataTable
    from wearstats.studies.loosening.study import LooseningStudy


def _loosening_tables(study: LooseningStudy) -> list[DataTable]:
    return [near_table(study.gap, study.horizon_months)] if study.gap else []


WORDINGS: Final = {
    "loosening": Wording(
        heading="Do hubs stay tight?",
        short=alone(loosening_answer),
        sentences=loosening_sentences,
        tables=_loosening_tables,
    ),
}
"""By question."""
