"""The words of the answer: how far measurements can be trusted."""

from __future__ import annotations

from typing import Final

from wearstats.report.gauging.answer import gauging_answer
from wearstats.report.gauging.sentences import gauging_sentences
from wearstats.report.wordings.wording import Wording, alone

WORDINGS: Final = {
    "gauging": Wording(
        heading="How far can the measurements be trusted?",
        short=alone(gauging_answer),
        sentences=gauging_sentences,
    ),
}
"""By question."""
