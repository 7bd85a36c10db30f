"""The words of the answer: limits and fits."""

from __future__ import annotations

from typing import Final

from wearstats.report.limits.answer import limits_answers, limits_sentences
from wearstats.report.wordings.wording import Wording

WORDINGS: Final = {
    "limits": Wording(
        heading="What do limits and fits give?",
        short=limits_answers,
        sentences=limits_sentences,
    ),
}
"""By question."""
