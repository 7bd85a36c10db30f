"""The words of the answer: which hub for a shaft, or for all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.report.shaft.all_shafts import all_shafts_answer, all_shafts_table
from wearstats.report.shaft.answer import shaft_answer
from wearstats.report.shaft.sentences import shaft_sentences
from wearstats.report.shaft.tables import choices_table, map_table
from wearstats.report.wordings.wording import Wording, alone
from wearstats.report.words.cautions import CAUTIONS

if TYPE_CHECKING:
    from wearstats.report.rendering.tables import DataTable
    from wearstats.studies.shaft.answer import ShaftStudy


def _shaft_tables(study: ShaftStudy) -> list[DataTable]:
    return [*([choices_table(study)] if study.choices else []), map_table(study)]


WORDINGS: Final = {
    "shaft": Wording(
        heading="Which hub for this shaft?",
        short=alone(shaft_answer),
        sentences=shaft_sentences,
        tables=_shaft_tables,
        cautions=CAUTIONS,
    ),
    "shafts": Wording(
        heading="Which hubs for all shafts?",
        short=alone(all_shafts_answer),
        sentences=lambda study: [all_shafts_answer(study).headline[1]],
        tables=lambda study: [all_shafts_table(study)],
        cautions=CAUTIONS,
    ),
}
"""By question."""
