"""The page of one shaft: the answer first, then what it rests on, in pictures that a workshop can print."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd

from wearstats.analysis.advice.outcomes import AS_SUPPLIED, OWNER, WORKSHOP
from wearstats.analysis.advice.rule import Candidate
from wearstats.report.contact.sentences import fitting_seen_sentence
from wearstats.report.page.model import Figure, Page, Section, make_figure
from wearstats.report.rendering.charts import AnyChart
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.shaft.answer import ladder_rows, say_refusals
from wearstats.report.shaft.history_chart import history_chart
from wearstats.report.shaft.ladder_chart import ladder_chart
from wearstats.report.shaft.map_chart import map_chart
from wearstats.report.shaft.page_sentences import measure_again_lines, sitting_lines, wear_lines
from wearstats.report.shaft.section_chart import section_chart, section_rows
from wearstats.report.shaft.sentences import caution_lines, headline, hub_words, then_lines
from wearstats.report.shaft.tables import choices_table, history_table, map_table
from wearstats.report.words.cautions import CAUTIONS, HEADING
from wearstats.report.words.glossary import GLOSSARY
from wearstats.report.words.phrases import day, in_hundred, sentence
from wearstats.studies.shaft.answer import ShaftStudy

_OF_THE_FLEET: Final = {"still tight", "curve", "model", "predicted", "sides that marked", "hub-months", "p"}
_WORDS: Final = tuple(word for word in GLOSSARY if word not in _OF_THE_FLEET)


def shaft_page(study: ShaftStudy, *, invented: bool) -> Page:
    """Arrange the answer for one shaft on a page.

    Parameters
    ----------
    study : ShaftStudy
        The answer.
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
        sections=tuple(_sections(study)),
        cautions=CAUTIONS,
        cautions_heading=HEADING,
        glossary={word: GLOSSARY[word] for word in _WORDS},
        invented=invented,
    )


def _sections(study: ShaftStudy) -> list[Section]:
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
            figures=(_ladder(study),),
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


def _ladder(study: ShaftStudy) -> Figure:
    frame, currency = ladder_frame(study), study.currency
    title = ladder_title(study)
    return _figure(
        "ladder",
        lambda width: ladder_chart(frame, title=title, months=study.horizon_months, currency=currency, width=width),
        choices_table(study),
    )


def ladder_frame(study: ShaftStudy) -> pd.DataFrame:
    """Give the rows of the ladder: a hub of every size that is near, fitted as it would be."""
    hub = study.advice.hub
    told = ladder_rows(study, hub)
    return pd.DataFrame(
        {
            "hub": [_rung(each) for each in told],
            "minutes": [0.0 if each.method == AS_SUPPLIED else each.minutes for each in told],
            "slack": [100 * each.slack for each in told],
            "loose": [_hundredth(each.risk.value) for each in told],
            "low": [_hundredth(each.risk.low) for each in told],
            "high": [_hundredth(each.risk.high) for each in told],
            "cost": [np.nan if each.cost.value is None else each.cost.value for each in told],
            "limit": 100 * study.risk_limit,
            "refused": ["; ".join(say_refusals(each)) for each in told],
            "spoken": [each is hub for each in told],
        }
    )


_HOW: Final = {AS_SUPPLIED: "as it is", OWNER: "owner files", WORKSHOP: "workshop files"}


def _rung(each: Candidate) -> str:
    """Name a hub in a few letters: ``0.050, owner files``."""
    second = "" if each.second_um is None else f" or {each.second_um / 1000:.3f}"
    return f"{each.undersize_um / 1000:.3f}{second}{' special' if each.special else ''}, {_HOW[each.method]}"


def _hundredth(share: float | None) -> float:
    return np.nan if share is None else 100 * share


def ladder_title(study: ShaftStudy) -> str:
    """Say what the hub spoken of takes, or that none is named."""
    hub = study.advice.hub
    if hub is None:
        return "No hub is named; this is what each near its width would take"
    told = f"{_rung(hub)}: {hub.minutes:.0f} minutes" if hub.method != AS_SUPPLIED else f"{_rung(hub)}: no filing"
    if hub.risk.value is None:
        return f"{told}, its chance of working loose not known"
    return f"{told}, {in_hundred(hub.risk.value)} of 100 loose in {study.horizon_months:g} months"


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
