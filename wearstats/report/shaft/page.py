"""The page of one shaft: the answer first, then what it rests on, in pictures that a workshop can print."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import pandas as pd

from wearstats.report.contact.sentences import fitting_seen_sentence
from wearstats.report.page.model import Figure, Page, Section, make_figure
from wearstats.report.rendering.charts import AnyChart
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.shaft.choices_chart import choices_chart
from wearstats.report.shaft.history_chart import history_chart
from wearstats.report.shaft.map_chart import map_chart
from wearstats.report.shaft.page_sentences import measure_again_lines, sitting_lines, wear_lines
from wearstats.report.shaft.section_chart import section_chart, section_rows
from wearstats.report.shaft.sentences import caution_lines, headline, hub_words, then_lines
from wearstats.report.shaft.tables import choices_table, history_table, map_table
from wearstats.report.words.cautions import CAUTIONS, HEADING
from wearstats.report.words.glossary import GLOSSARY
from wearstats.report.words.phrases import day, sentence
from wearstats.studies.shaft.answer import ShaftStudy

_OF_THE_FLEET: Final = {"still tight", "curve", "law", "foretold", "sides that marked", "hub-months", "p"}
_WORDS: Final = tuple(word for word in GLOSSARY if word not in _OF_THE_FLEET)


def shaft_page(study: ShaftStudy, *, risk_limit: float | None, invented: bool) -> Page:
    """Arrange the answer for one shaft on a page.

    Parameters
    ----------
    study : ShaftStudy
        The answer.
    risk_limit : float or None
        Chance of working loose within a year that the shop accepts; None where its limit is for another time.
    invented : bool
        Whether the data are invented.

    Returns
    -------
    Page
    """
    return Page(
        title=f"Shaft {study.shaft} ({study.pattern}): which hub?",
        known_until=day(study.as_of),
        answer=(sentence(headline(study.advice)), *then_lines(study)),
        sections=tuple(_sections(study, risk_limit)),
        cautions=CAUTIONS,
        cautions_heading=HEADING,
        glossary={word: GLOSSARY[word] for word in _WORDS},
        invented=invented,
    )


def _sections(study: ShaftStudy, risk_limit: float | None) -> list[Section]:
    worn = Section(
        name="worn", heading="How worn is it, and where?", sentences=tuple(wear_lines(study)), figures=(_map(study),)
    )
    sits = Section(
        name="sits",
        heading="How would the hub sit?" if sitting_lines(study) else "What does a spline look like?",
        sentences=tuple(sitting_lines(study)),
        figures=(_section_figure(study),),
    )
    sections = [worn, sits]
    # where no hub may be named there is none to show
    if study.choices:
        hubs = Section(
            name="hubs",
            heading="What would each hub do?",
            sentences=(_lead(study),),
            figures=(_choices_figure(study, risk_limit),),
        )
        sections.insert(0, hubs)
    orders = study.advice.sent_now is None
    seen = () if study.seen is None else (fitting_seen_sentence(study.seen, orders=orders),)
    if measured := len(study.history_frame()):
        # one point makes no picture
        figures = (_history(study),) if measured > 1 else ()
        tables = () if measured > 1 else (history_table(study),)
        heading = "What was found before?"
        sections.append(Section(name="earlier", heading=heading, sentences=seen, figures=figures, tables=tables))
    again = Section(name="again", heading="What is worth measuring again?", points=tuple(measure_again_lines(study)))
    lines = caution_lines(study)
    beware = Section(name="beware", heading="What to beware of on this shaft", points=tuple(lines))
    return [*sections, again, *([beware] if lines else [])]


def _lead(study: ShaftStudy) -> str:
    """Say what the picture of the hubs shows, and of which hub the next sentences speak."""
    hub = _hub(study)
    if hub is None:
        return "No hub is named; the picture shows what each on offer would leave."
    return sentence(f"the picture shows all hubs on offer; {hub} is the one spoken of above")


def _choices_figure(study: ShaftStudy, risk_limit: float | None) -> Figure:
    hub, choices = study.advice.hub, one_by_size(study)

    def drawn(width: int) -> AnyChart:
        return choices_chart(
            choices,
            undersize_um=None if hub is None else hub.undersize_um,
            method=None if hub is None else hub.method,
            risk_limit=risk_limit,
            width=width,
        )

    return _figure("choices", drawn, choices_table(study))


def _map(study: ShaftStudy) -> Figure:
    shaft_map, hub = study.map_frame(), _hub(study)
    return _figure("map", lambda width: map_chart(shaft_map, shaft=study.shaft, hub=hub, width=width), map_table(study))


def _section_figure(study: ShaftStudy) -> Figure:
    shaft_map, hub = study.map_frame(), _hub(study)
    return _figure(
        "section",
        lambda width: section_chart(shaft_map, shaft=study.shaft, hub=hub, width=width),
        section_table(study),
    )


def _history(study: ShaftStudy) -> Figure:
    history = study.history_frame()
    return _figure(
        "history", lambda width: history_chart(history, shaft=study.shaft, width=width), history_table(study)
    )


def one_by_size(study: ShaftStudy) -> pd.DataFrame:
    """Give the choices that a picture has room for: no pairs, a hub by number only where it is the one spoken of."""
    hub = study.advice.hub
    kept = [
        choice.candidate is hub
        or (choice.candidate.second_um is None and choice.candidate.hub is None and not choice.candidate.special)
        for choice in study.choices
    ]
    frame = study.choices_frame()[kept]
    spoken = [choice.candidate is hub for choice, keep in zip(study.choices, kept, strict=True) if keep]
    # the hub spoken of stands for its size and method
    return frame.assign(_last=spoken).sort_values("_last").drop_duplicates(["undersize_um", "method"], keep="last")


def section_table(study: ShaftStudy) -> DataTable:
    """Print a row a station of the splines that are drawn cut open."""
    told = section_rows(study.map_frame())
    rows = pd.DataFrame(
        {"spline": told["spline"].astype(str), "station": told["station"], "lost": _whole(told["lost"])}
    )
    heads = {"spline": "spline", "station": "station", "lost": "lost, µm"}
    if told["gap"].notna().all():
        rows = rows.assign(off=_whole(told["off"]), gap=_whole(told["gap"]))
        heads |= {"off": "comes off the hub, µm", "gap": "gap left, µm"}
    return table_of(rows, caption="The splines drawn, both sides together", columns=heads)


def _whole(numbers: pd.Series[float]) -> list[str]:
    return [f"{round(um) + 0:d}".replace("-", "\u2212") for um in numbers]


def _hub(study: ShaftStudy) -> str | None:
    hub = study.advice.hub
    return None if hub is None else hub_words(hub.undersize_um)


def _figure(name: str, draw: Callable[[int], AnyChart], table: DataTable) -> Figure:
    return make_figure(name, wide=draw(WIDE), narrow=draw(NARROW), table=table)
