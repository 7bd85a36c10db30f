"""One advice for a shaft, whoever asks: the lists to warn and to call, the review, its own answer and its page."""

from __future__ import annotations

import html
import re

import pytest

from wearstats.analysis.advice.remarks import First
from wearstats.analysis.remark import remark
from wearstats.report.answers import wording
from wearstats.report.calls.table import warn_table
from wearstats.report.folder.lists import warn_page
from wearstats.report.folder.render import render
from wearstats.report.folder.shaft_page import shaft_page
from wearstats.report.remarks.say import say
from wearstats.report.rendering.no_break import breakable
from wearstats.report.rendering.short_answer import capital
from wearstats.report.review.sentences import action_lines
from wearstats.report.shaft.answer import shaft_answer
from wearstats.report.shaft.sentences import shaft_sentences
from wearstats.studies.review.study import ReviewStudy
from wearstats.studies.shaft_pages import ShaftPages, study_shaft_pages
from wearstats.studies.snapshot import Snapshot

STOP = say(remark(First.STOP_AND_CHECK))


@pytest.fixture(scope="module")
def warned(demo: Snapshot, demo_review: ReviewStudy) -> ShaftPages:
    """Give the answers for all shafts of the demo's list to warn."""
    assert demo_review.in_use is not None
    return study_shaft_pages(demo, sorted(demo_review.in_use.to_warn["shaft"]))


def in_words(text: str) -> str:
    return " ".join(breakable(html.unescape(re.sub(r"<[^>]*>", " ", text))).split())


def test_whoever_is_to_be_warned_is_told_to_stop_in_the_same_words(warned: ShaftPages) -> None:
    assert warned.in_use is not None
    assert len(warned.shafts.studies) == warned.in_use.figures.to_warn > 50
    assert warned.shafts.unanswered == {}
    for study in warned.shafts.studies:
        # a shaft that must not run at all is told even more
        assert study.advice.first in {First.STOP_AND_CHECK, First.DO_NOT_RUN}, study.shaft
        order = capital(say(remark(study.advice.first)))
        page = in_words(render(shaft_page(study, invented=True), "shaft"))
        rest = re.search("What comes off the hub, and where|How worn is it, and where", page)
        assert rest is not None
        assert page.index(f"{order}.") < rest.start()
        assert shaft_answer(study).headline[1].startswith(order)
        assert shaft_sentences(study)[0].endswith(f"{say(study.advice.because[0])}.")
        # nothing on the page is an order to send
        assert not re.search(r"\bSend (?!no hub)|: send (?!no hub)", page), study.shaft


def test_the_lists_use_the_same_words(warned: ShaftPages, demo_review: ReviewStudy) -> None:
    assert warned.in_use is not None
    assert STOP in warn_table(warned.in_use).caption
    assert any(STOP in line for line in action_lines(demo_review.actions))
    assert any(STOP in line for line in wording("review").sentences(demo_review))
    page = warn_page(warned, {})
    assert page.order == capital(STOP)
    assert page.table is not None
    at = page.table.head.index("shaft")
    assert demo_review.in_use is not None
    assert [row[at] for row in page.table.rows] == demo_review.in_use.to_warn["shaft"].tolist()
