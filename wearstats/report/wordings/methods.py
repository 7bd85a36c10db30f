"""The words of the answer: how hubs go on."""

from __future__ import annotations

from typing import Final

from wearstats.report.methods.answer import methods_answer
from wearstats.report.methods.sentences import methods_sentences
from wearstats.report.wordings.wording import Wording, alone

WORDINGS: Final = {
    "methods": Wording(
        heading="Do hubs as supplied fail more?",
        short=alone(methods_answer),
        sentences=methods_sentences,
    ),
}
"""By question."""
