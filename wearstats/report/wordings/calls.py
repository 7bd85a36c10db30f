"""The words of the answer: whom to call, and who has a batch."""

from __future__ import annotations

from typing import Final

from wearstats.report.calls.answer import calls_answer
from wearstats.report.calls.batch import batch_answer, batch_sentences, batch_table
from wearstats.report.calls.sentences import calls_sentences
from wearstats.report.calls.table import calls_tables
from wearstats.report.wordings.wording import Wording, alone
from wearstats.report.words.cautions import CAUTIONS

WORDINGS: Final = {
    "calls": Wording(
        heading="Whom to call?",
        short=alone(calls_answer),
        sentences=calls_sentences,
        tables=calls_tables,
        cautions=CAUTIONS,
    ),
    "batch": Wording(
        heading="Who has hubs of this batch?",
        short=alone(batch_answer),
        sentences=batch_sentences,
        tables=lambda study: [batch_table(study)],
        cautions=CAUTIONS,
    ),
}
"""By question."""
