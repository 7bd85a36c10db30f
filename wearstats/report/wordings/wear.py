"""The words of the answer: how worn shafts are."""

from __future__ import annotations

from typing import Final

from wearstats.report.wear.answer import wear_answer
from wearstats.report.wear.sentences import wear_sentences
from wearstats.report.wordings.wording import Wording, alone

WORDINGS: Final = {
    "wear": Wording(
        heading="How worn are the shafts?",
        short=alone(wear_answer),
        sentences=wear_sentences,
    ),
}
"""By question."""
