"""The whole picture as a page: which sections, in which order, with which charts and tables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import pandas as pd
from altair.utils.schemapi import debug_mode

from wearstats.report.calls.table import warn_table
from wearstats.report.contact.figures import contact_figure
from wearstats.report.contact.sentences import contact_sentences
from wearstats.report.digest import INVENTED
from wearstats.report.gauging.chart import measurers_chart, plan_chart
from wearstats.report.gauging.sentences import gauging_sentences
from wearstats.report.gauging.tables import gauges_table, measurers_table, plans_table, strays_table
from wearstats.report.loosening.curve_figures import curve_figures
from wearstats.report.loosening.gap_figures import gap_figures
from wearstats.report.loosening.sentences import loosening_sentences
from wearstats.report.methods.figures import method_figures, methods_table
from wearstats.report.methods.sentences import methods_sentences
from wearstats.report.page.model import Figure, Page, Section, make_figure
from wearstats.report.remarks.say import say
from wearstats.report.rendering.charts import ready_to_draw
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.review.figures import review_figures
from wearstats.report.review.returns_chart import returns_chart
from wearstats.report.review.returns_sentences import REASON_WORDS, returns_sentences
from wearstats.report.review.sentences import action_lines, review_sentences
from wearstats.report.review.tables import ends_table, groups_table
from wearstats.report.shaft.history_chart import history_chart
from wearstats.report.shaft.map_chart import map_chart
from wearstats.report.shaft.sentences import advice_words, hub_words, shaft_sentences
from wearstats.report.shaft.tables import choices_table, history_table, map_table
from wearstats.report.stock.figures import stock_figures
from wearstats.report.stock.production_table import make_now_table
from wearstats.report.stock.sentences import stock_sentences
from wearstats.report.wear.chart import fleet_chart
from wearstats.report.wear.growth_chart import growth_chart
from wearstats.report.wear.sentences import how_much, wear_sentences
from wearstats.report.wear.tables import growth_table, shares_table
from wearstats.report.words.cautions import CAUTIONS, HEADING, caution_sentences
from wearstats.report.words.glossary import GLOSSARY
from wearstats.report.words.method_notes import METHOD_NOTES
from wearstats.report.words.phrases import count, day, millimetres, sentence
from wearstats.second_process import SecondProcess
from wearstats.studies.counts.returns import ReturnsStudy
from wearstats.studies.gauging.study import GaugingStudy
from wearstats.studies.inputs.coverage import ends_early
from wearstats.studies.loosening.study import LooseningStudy
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.overview import Picture
from wearstats.studies.review.study import ReviewStudy
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.wear.answer import WearStudy

RETURNS_HEADING: Final = "What came back, and why?"
TITLE: Final = "Hubs on worn shafts: the whole picture"

_QUALITY: Final = "How good are the records?"
_MOST_FINDINGS: Final = 12
_HEADINGS: Final = {
    "wear": "How worn are the shafts?",
    "gauging": "How far can the measurements be trusted?",
    "shaft": "Which hub for this shaft?",
    "loosening": "Do hubs stay tight?",
    "methods": "Does filing to fit help?",
    "stock": "Which sizes should be kept?",
    "review": "What does the quarter's review say?",
}


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
    names = [name for name in _SECTIONS if name != "actions" or picture.review]
    return Page(
        title=TITLE,
        known_until=day(picture.as_of),
        answer=tuple(answer_sentences(picture)),
        sections=(
            *(drawing.section(name, picture) for name in names),
            quality_section(picture),
            Section(name="method-notes", heading="How it was worked out, and what it assumes", points=METHOD_NOTES),
        ),
        cautions=CAUTIONS,
        cautions_heading=HEADING,
        glossary=GLOSSARY,
        invented=picture.invented,
    )


def answer_sentences(picture: Picture) -> list[str]:
    """Give the few sentences that stand on top: the first of each answer."""
    early = ends_early(picture.recorded_until, as_of=picture.as_of)
    lines = [] if early is None else [sentence(say(early))]
    if picture.wear is not None:
        lines.append(how_much(picture.wear))
    if picture.shaft is not None:
        lines.append(sentence(f"Shaft {picture.shaft.shaft}, measured last: {advice_words(picture.shaft.advice)}"))
    if picture.methods is not None:
        lines += methods_sentences(picture.methods)[:1]
    lines += returns_sentences(picture.returns)[:1]
    if picture.review is not None:
        lines += action_lines(picture.review.actions)[:1]
    return lines


def picture_sentences(picture: Picture) -> list[str]:
    """Give every answer for a terminal, each under its question, and the cautions last."""
    answers = {
        "wear": wear_sentences(picture.wear) if picture.wear else None,
        "gauging": gauging_sentences(picture.gauging) if picture.gauging else None,
        "shaft": shaft_sentences(picture.shaft) if picture.shaft else None,
        "loosening": loosening_sentences(picture.loosening) if picture.loosening else None,
        "methods": methods_sentences(picture.methods) if picture.methods else None,
        "stock": stock_sentences(picture.stock) if picture.stock else None,
        "review": review_sentences(picture.review) if picture.review else None,
    }
    lines: list[str] = [INVENTED, ""] if picture.invented else []
    for question, answer in answers.items():
        lines += [_HEADINGS[question].upper(), *(answer or _unanswered(picture, question).sentences), ""]
    return [*lines, RETURNS_HEADING.upper(), *returns_sentences(picture.returns), "", *caution_sentences(), ""]


def wear_section(study: WearStudy) -> Section:
    """Show how worn the shafts are: the fleet over the hubs on offer."""
    fleet, sizes, laws, shares = study.fleet, study.sizes, study.laws_frame(), study.shares_frame()
    summary = fleet.groupby("pattern", sort=True)["width_um_below_new"].describe(percentiles=[0.1, 0.5, 0.9])
    rows = pd.DataFrame({"pattern": summary.index.astype(str), "count": summary["count"].astype(int).to_numpy()})
    for name in ("10%", "50%", "90%", "max"):
        rows[name] = [millimetres(um) for um in summary[name]]
    columns = {"pattern": "pattern", "count": "shafts", "10%": "a tenth below", "50%": "half below"}
    columns |= {"90%": "nine tenths below", "max": "most"}
    table = table_of(rows, caption="Spline width below new, mm, mean of each shaft", columns=columns)
    figures = [
        make_figure(
            "fleet",
            wide=fleet_chart(fleet, sizes, laws=laws, shares=shares, width=WIDE),
            narrow=fleet_chart(fleet, sizes, laws=laws, shares=shares, width=NARROW),
            table=table,
        )
    ]
    if study.growing is not None and study.growing.shafts_again:
        points, band = study.growing.points, study.growing.band
        wide, narrow = (growth_chart(points, band, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("growth", wide=wide, narrow=narrow, table=growth_table(study.growing)))
    return Section(
        name="wear",
        heading=_HEADINGS["wear"],
        sentences=tuple(wear_sentences(study)),
        figures=tuple(figures),
        tables=(shares_table(study),) if len(study.shares_frame()) else (),
    )


def gauging_section(study: GaugingStudy) -> Section:
    """Show who reads too large or too small, and what each way of measuring achieves."""
    plans, measurers = study.plans_frame(), study.measurers
    step = study.size_step_um
    figures = [
        make_figure(
            "plan",
            wide=plan_chart(plans, size_step_um=step, width=WIDE),
            narrow=plan_chart(plans, size_step_um=step, width=NARROW),
            table=plans_table(plans),
        )
    ]
    tables = [gauges_table(study.gauges_frame())] if study.by_gauge else []
    if len(study.strays):
        tables.append(strays_table(study.strays))
    if len(measurers):
        wide, narrow = (measurers_chart(measurers, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("measurers", wide=wide, narrow=narrow, table=measurers_table(measurers)))
    return Section(
        name="gauging",
        heading=_HEADINGS["gauging"],
        sentences=tuple(gauging_sentences(study)),
        figures=tuple(figures),
        tables=tuple(tables),
    )


def shaft_section(study: ShaftStudy) -> Section:
    """Show one shaft: its map, and what each hub on offer would do."""
    return Section(
        name="shaft",
        heading=f"Which hub for shaft {study.shaft}?",
        sentences=("This is the shaft measured last of those that wait for a hub.", *shaft_sentences(study)),
        figures=tuple(_shaft_figures(study)),
        tables=(choices_table(study),) if study.choices else (),
    )


def _shaft_figures(study: ShaftStudy) -> list[Figure]:
    """Draw its map and, where it was measured more than once, its history."""
    history = study.history_frame()
    if len(history) < 2:
        return [_map_figure(study)]
    wide, narrow = (history_chart(history, shaft=study.shaft, width=width) for width in (WIDE, NARROW))
    return [_map_figure(study), make_figure("history", wide=wide, narrow=narrow, table=history_table(study))]


def _map_figure(study: ShaftStudy) -> Figure:
    shaft_map = study.map_frame()
    hub = None if study.advice.hub is None else hub_words(study.advice.hub.undersize_um)
    wide, narrow = (map_chart(shaft_map, shaft=study.shaft, hub=hub, width=width) for width in (WIDE, NARROW))
    return make_figure("map", wide=wide, narrow=narrow, table=map_table(study))


def quality_section(picture: Picture) -> Section:
    """Show what looks doubtful in the records, and whether hubs bore where the widths predicted it."""
    contact = picture.contact
    agree = () if contact is None or contact.seen is None else tuple(contact_sentences(contact.seen))
    figures = () if contact is None or contact.seen is None else (contact_figure(contact.seen, contact.fittings),)
    if contact is None and "contact" in picture.unanswered:
        why = say(picture.unanswered["contact"])
        agree = (sentence(f"whether hubs bear where it is predicted cannot be told yet: {why}"),)
    found = picture.findings
    if not found:
        lead = ("Nothing on record looks doubtful.", *agree)
        return Section(name="quality", heading=_QUALITY, sentences=lead, figures=figures)
    shown = found[:_MOST_FINDINGS]
    lead_words = f"{count(len(found), 'thing')} on record {'looks' if len(found) == 1 else 'look'} doubtful"
    rest = f"; the first {len(shown)} of them, all with: wearstats store check" if len(found) > len(shown) else ""
    return Section(
        name="quality",
        heading=_QUALITY,
        sentences=(*agree, sentence(lead_words + rest)),
        points=tuple(str(one) for one in shown),
        figures=figures,
    )


def loosening_section(study: LooseningStudy) -> Section:
    """Show whether hubs stay tight: the curves, and the chance against the gap."""
    return Section(
        name="loosening",
        heading=_HEADINGS["loosening"],
        sentences=tuple(loosening_sentences(study)),
        figures=(*curve_figures(study), *gap_figures(study)),
    )


def methods_section(study: MethodsStudy) -> Section:
    """Show what happened by method, and whether that is the method's doing."""
    return Section(
        name="methods",
        heading=_HEADINGS["methods"],
        sentences=tuple(methods_sentences(study)),
        figures=tuple(method_figures(study)),
        tables=(methods_table(study),),
    )


def stock_section(study: StockStudy) -> Section:
    """Show which sizes to keep: cost against their number, and which shafts go to which."""
    return Section(
        name="stock",
        heading=_HEADINGS["stock"],
        sentences=tuple(stock_sentences(study)),
        figures=tuple(stock_figures(study)),
        tables=tuple(make_now_table(part.make) for part in study.by_pattern.values() if part.make),
    )


def actions_section(study: ReviewStudy) -> Section:
    """Show what to do first."""
    actions = action_lines(study.actions)
    return Section(name="actions", heading=f"What is to be done after {study.quarter}?", points=tuple(actions))


def review_section(study: ReviewStudy) -> Section:
    """Show the quarter's review: what happened, and what is to come."""
    actions = action_lines(study.actions)
    return Section(
        name="review",
        heading=f"What does the review of {study.quarter} say?",
        sentences=tuple(line for line in review_sentences(study) if line not in actions),
        figures=tuple(review_figures(study)),
        tables=tuple(
            table for table in (_warn_table(study), groups_table(study), ends_table(study)) if table and table.rows
        ),
    )


def _warn_table(study: ReviewStudy) -> DataTable | None:
    return None if study.in_use is None else warn_table(study.in_use)


def returns_section(study: ReturnsStudy) -> Section:
    """Show what came back: the grid of reasons by quarters."""
    frame = study.to_frame()
    figures: tuple[Figure, ...] = ()
    if study.returned:
        table = DataTable(
            caption="Hubs returned, by quarter and reason",
            head=("quarter", "hubs sent", *(REASON_WORDS.get(reason, reason) for reason in study.reasons)),
            rows=tuple(
                (quarter, str(sent), *(str(count) for count in row))
                for quarter, sent, row in zip(study.quarters, study.sent, study.counts, strict=True)
            ),
        )
        wide, narrow = (returns_chart(frame, width=width) for width in (WIDE, NARROW))
        figures = (make_figure("returns", wide=wide, narrow=narrow, table=table),)
    return Section(name="back", heading=RETURNS_HEADING, sentences=tuple(returns_sentences(study)), figures=figures)


def _unanswered(picture: Picture, question: str) -> Section:
    why = say(picture.unanswered.get(question, "no shaft has been measured yet"))
    return Section(
        name=question, heading=_HEADINGS[question], sentences=(sentence(f"These data cannot answer: {why}"),)
    )


_SECTIONS: Final[dict[str, tuple[str, Callable[[Any], Section]]]] = {
    "wear": ("wear", wear_section),
    "gauging": ("gauging", gauging_section),
    "shaft": ("shaft", shaft_section),
    "loosening": ("loosening", loosening_section),
    "methods": ("methods", methods_section),
    "stock": ("stock", stock_section),
    "actions": ("review", actions_section),
    "review": ("review", review_section),
    "back": ("returns", returns_section),
}
"""The sections in the order of the page: which question each answers, and what draws it."""
