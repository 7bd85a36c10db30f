"""The whole picture as a page: which sections, in which order, with which charts and tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from altair.utils.schemapi import debug_mode

from wearstats.report.answers import full_sentences, short_answers, wording
from wearstats.report.contact.figures import contact_figure
from wearstats.report.contact.sentences import contact_sentences
from wearstats.report.digest import INVENTED
from wearstats.report.page.model import Figure, Page, Said, Section
from wearstats.report.panel import panel_of
from wearstats.report.remarks.say import say
from wearstats.report.rendering.charts import ready_to_draw
from wearstats.report.sections import (
    HOW_WE_KNOW,
    gauging_section,
    loosening_section,
    methods_section,
    returns_section,
    review_section,
    said_of,
    shaft_section,
    stock_section,
    wear_section,
)
from wearstats.report.words.cautions import CAUTIONS, HEADING, caution_sentences
from wearstats.report.words.glossary import GLOSSARY
from wearstats.report.words.method_notes import METHOD_NOTES
from wearstats.report.words.phrases import count, day, sentence
from wearstats.second_process import SecondProcess
from wearstats.studies.overview import Picture

TITLE: Final = "Hubs on worn shafts: the whole picture"

_QUALITY: Final = "How good are the records?"
_MOST_FINDINGS: Final = 12


class Drawing:
    """Sections in the making: each is begun, in another process where there is one, as soon as its answer is there.

    Parameters
    ----------
    second : SecondProcess, optional
        Where they are drawn.
    """

    def __init__(self, second: SecondProcess | None = None) -> None:
        self._second = second or SecondProcess()
        self._second.begin(ready_to_draw)
        self._begun: dict[str, Callable[[], Section]] = {}

    def told(self, question: str, answer: Any) -> None:
        """Begin the sections of a question that has its answer."""
        for name, (asked, _) in _SECTIONS.items():
            if asked == question:
                self._begun[name] = self._second.begin(_draw, name, answer)

    def section(self, name: str, picture: Picture) -> Section:
        """Give a section, drawn by now if it was not yet."""
        question, _ = _SECTIONS[name]
        if name in self._begun:
            return self._begun[name]()
        answer = getattr(picture, question)
        return _draw(name, answer) if answer else _unanswered(picture, question)


def _draw(name: str, answer: Any) -> Section:
    """Draw a section; the parts of its charts are not checked one by one, as tests check the charts."""
    _, draw = _SECTIONS[name]
    with debug_mode(False):
        return draw(answer)


def picture_page(picture: Picture, drawing: Drawing | None = None) -> Page:
    """Arrange the answers on a page.

    Parameters
    ----------
    picture : Picture
        The answers of all questions.
    drawing : Drawing, optional
        Was told the same answers as they came, so that some of the page is drawn already.

    Returns
    -------
    Page
    """
    drawing = drawing or Drawing()
    return Page(
        title=TITLE,
        known_until=day(picture.as_of),
        answer=tuple(_notes(picture)),
        panel=panel_of(picture),
        sections=(*(drawing.section(name, picture) for name in _SECTIONS), quality_section(picture), _methods_used()),
        cautions=CAUTIONS,
        cautions_heading=HEADING,
        glossary=GLOSSARY,
        invented=picture.invented,
    )


def _notes(picture: Picture) -> list[str]:
    """Say where the records end long before the day asked about."""
    return [] if picture.records_early is None else [sentence(say(picture.records_early))]


def _methods_used() -> Section:
    notes = Section(name="notes", heading="All notes on method", points=METHOD_NOTES)
    return Section(
        name="method-notes", heading="How it was worked out, and what it assumes", short="Methods used", more=notes
    )


def picture_sentences(picture: Picture) -> list[str]:
    """Give every answer for a terminal in full, each under its question, and the cautions last."""
    lines: list[str] = [INVENTED, ""] if picture.invented else []
    for question, _ in _SECTIONS.values():
        result = getattr(picture, question)
        told = full_sentences(question, result) if result else _unanswered(picture, question).sentences
        lines += [*([] if result else [wording(question).heading.upper()]), *told, ""]
    return [*lines, *caution_sentences(), ""]


def quality_section(picture: Picture) -> Section:
    """Show what looks doubtful in the records, and whether hubs bore where the widths predicted it."""
    contact, found = picture.contact, picture.findings
    lead = "Nothing on record looks doubtful."
    if found:
        lead = sentence(f"{count(len(found), 'thing')} on record {'looks' if len(found) == 1 else 'look'} doubtful")
    said = [Said(verdict=lead)]
    sentences: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    if contact is not None and contact.seen is not None:
        said += [said_of(each, about=each.question, tabled=False) for each in short_answers("contact", contact)]
        sentences = tuple(contact_sentences(contact.seen))
        figures = (contact_figure(contact.seen, contact.fittings),)
    elif "contact" in picture.unanswered:
        why = say(picture.unanswered["contact"])
        sentences = (sentence(f"whether hubs bear where it is predicted cannot be told yet: {why}"),)
    rest = len(found) - _MOST_FINDINGS
    points = [str(one) for one in found[:_MOST_FINDINGS]]
    more = Section(
        name="quality-more",
        heading=HOW_WE_KNOW,
        sentences=sentences,
        figures=figures,
        points=(*points, *([f"and {rest} more: wearstats store check"] if rest > 0 else [])),
    )
    return Section(name="quality", heading="How good are the records?", short="Records", said=tuple(said), more=more)


def _unanswered(picture: Picture, question: str) -> Section:
    why = say(picture.unanswered.get(question, "no shaft has been measured yet"))
    lines = (sentence(f"These data cannot answer: {why}"),)
    return Section(name=question, heading=wording(question).heading, short=question.capitalize(), sentences=lines)


_SECTIONS: Final[dict[str, tuple[str, Callable[[Any], Section]]]] = {
    "review": ("review", review_section),
    "shaft": ("shaft", shaft_section),
    "methods": ("methods", methods_section),
    "loosening": ("loosening", loosening_section),
    "stock": ("stock", stock_section),
    "wear": ("wear", wear_section),
    "gauging": ("gauging", gauging_section),
    "back": ("returns", returns_section),
}
"""The sections in the order of the page: which question each answers, and what draws it."""
