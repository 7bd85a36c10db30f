"""The words of the answer: the review, and returns alone."""

from __future__ import annotations

from typing import Final

from wearstats.report.review.answer import review_answer
from wearstats.report.review.returns_answer import returns_answer
from wearstats.report.review.returns_sentences import returns_sentences
from wearstats.report.review.sentences import review_sentences
from wearstats.report.review.tables import review_tables
from wearstats.report.wordings.wording import Wording, alone
from wearstats.report.words.cautions import CAUTIONS

WORDINGS: Final = {
    "review": Wording(
        heading="What does the review say?",
        short=alone(review_answer),
        sentences=review_sentences,
        tables=review_tables,
        cautions=CAUTIONS,
    ),
    "returns": Wording(
        heading="What came back, and why?",
        short=alone(returns_answer),
        sentences=returns_sentences,
    ),
}
"""By question."""
