"""The words of the answer: what is on the shelf."""

from __future__ import annotations

from typing import Final

from wearstats.report.shelf.answer import shelf_answer
from wearstats.report.shelf.sentences import shelf_sentences, shelf_tables
from wearstats.report.wordings.wording import Wording, alone

WORDINGS: Final = {
    "shelf": Wording(
        heading="What is on the shelf?",
        short=alone(shelf_answer),
        sentences=shelf_sentences,
        tables=shelf_tables,
    ),
}
"""By question."""
