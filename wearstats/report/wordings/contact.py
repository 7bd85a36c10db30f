"""The words of the answer: contact seen against contact predicted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.report.contact.answer import contact_answers
from wearstats.report.contact.sentences import contact_sentences, fitting_seen_sentence
from wearstats.report.contact.table import contact_table
from wearstats.report.rendering.short_answer import SURE
from wearstats.report.wordings.wording import Wording

if TYPE_CHECKING:
    from wearstats.report.rendering.tables import DataTable
    from wearstats.studies.gaps.contact import ContactStudy


def _contact_lines(study: ContactStudy) -> list[str]:
    if study.seen is None:
        return [*(fitting_seen_sentence(one) for one in study.singly()), SURE]
    return contact_sentences(study.seen)


def _contact_tables(study: ContactStudy) -> list[DataTable]:
    return [] if study.seen is None else [contact_table(study.seen)]


WORDINGS: Final = {
    "contact": Wording(
        heading="Did hubs bear where that was predicted?",
        short=contact_answers,
        sentences=_contact_lines,
        tables=_contact_tables,
    ),
}
"""By question."""
