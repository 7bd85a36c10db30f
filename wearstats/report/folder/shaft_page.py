"""The page of one shaft: the warning or the answer first, then the hubs, where to file, and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearstats.analysis.advice.remarks import First
from wearstats.report.contact.sentences import fitting_seen_sentence
from wearstats.report.folder.ladder_rows import Ladder, ladder_of
from wearstats.report.folder.photos import Picture, pictures_of
from wearstats.report.folder.places import Grid, grids_of, names_filing, rings_of
from wearstats.report.folder.section_drawing import Section, section_words, sections_of
from wearstats.report.folder.shaft_sentences import measure_again_lines, sitting_lines, wear_lines
from wearstats.report.folder.small_pictures import interval
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import capital
from wearstats.report.rendering.tables import DataTable
from wearstats.report.shaft.history_chart import history_title
from wearstats.report.shaft.sentences import advice_words, caution_lines, headline, hub_words, then_lines
from wearstats.report.shaft.tables import choices_table, history_table
from wearstats.report.words.cautions import CAUTIONS, HEADING
from wearstats.report.words.glossary import GLOSSARY
from wearstats.report.words.phrases import day, sentence
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft_photos import ShaftPhoto

WARNED: Final = frozenset({First.DO_NOT_RUN, First.STOP_AND_CHECK, First.SEND_SHAFT_HERE})
"""What is said in a box on top, before anything else is read."""

_OF_THE_FLEET: Final = {"still tight", "curve", "model", "predicted", "sides that marked", "hub-months", "p"}
_BY_SIZE: Final = (
    "Hubs are weighed as sizes here, for a number goes to one shaft only. Which of the shelf, and its chance: "
    "wearstats shaft {shaft}."
)
_WORDS: Final = {word: meaning for word, meaning in GLOSSARY.items() if word not in _OF_THE_FLEET}


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What each inspection tells by itself, with a picture a row.

    Parameters
    ----------
    title : str
        What it shows.
    table : DataTable
        A row an inspection.
    pictures : tuple of str
        Its number with its interval, on one scale.
    """

    title: str
    table: DataTable
    pictures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftPage:
    """Everything that stands on the page of a shaft; fields that a shaft has nothing for are empty.

    Parameters
    ----------
    title, shaft : str
        The page's name, and the shaft's.
    owner : str
        The code of its owner.
    known_until : str
        The day up to which things were known, in words.
    invented : bool
        Whether the data are invented.
    warning, because : str
        The order in the box on top, and why.
    answer : tuple of str
        What is answered first, or after the warning.
    ladder : Ladder or None
        What each hub would do.
    every_hub : DataTable or None
        The same with every way of fitting, and more numbers.
    by_size : str
        That hubs are weighed as sizes, where they are not told by number.
    rings : str
        The hub's spaces, in the shades of what must come off.
    hub : str
        The hub spoken of, in words.
    wear : tuple of str
        How worn it is.
    grids : tuple of Grid
        Numbers place by place.
    doubt : str
        How sure a place's number is.
    sitting : tuple of str
        How the hub would sit.
    sections : tuple of Section
        Splines cut open.
    section_words : str
        How these are read.
    seen : tuple of str
        What the marks of the last fitting told.
    history : History or None
        What was found before.
    pictures : tuple of Picture
        Photos of contact marks and damage.
    again, beware : tuple of str
        What is worth measuring again; what to beware of on this shaft.
    glossary, cautions, cautions_heading
        As on every page.
    """

    title: str
    shaft: str
    owner: str
    known_until: str
    invented: bool
    warning: str
    because: str
    answer: tuple[str, ...]
    ladder: Ladder | None
    every_hub: DataTable | None
    by_size: str
    rings: str
    hub: str
    wear: tuple[str, ...]
    grids: tuple[Grid, ...]
    doubt: str
    sitting: tuple[str, ...]
    sections: tuple[Section, ...]
    section_words: str
    seen: tuple[str, ...]
    history: History | None
    pictures: tuple[Picture, ...]
    again: tuple[str, ...]
    beware: tuple[str, ...]
    glossary: Mapping[str, str]
    cautions: tuple[str, ...] = CAUTIONS
    cautions_heading: str = HEADING


def shaft_page(study: ShaftStudy, *, invented: bool, owner: str = "", photos: Sequence[ShaftPhoto] = ()) -> ShaftPage:
    """Arrange the answer for one shaft on a page.

    Parameters
    ----------
    study : ShaftStudy
        The answer.
    invented : bool
        Whether the data are invented.
    owner : str
        The code of its owner, if known.
    photos : sequence of ShaftPhoto
        Its photos.
    """
    advice, shaft_map = study.advice, study.map_frame()
    warned = advice.first in WARNED
    because = say(advice.because[0]) if warned and advice.because else ""
    orders = advice.sent_now is None
    return ShaftPage(
        title=f"Shaft {study.shaft} ({study.pattern}): which hub?",
        shaft=study.shaft,
        owner=owner,
        known_until=day(study.as_of),
        invented=invented,
        warning=sentence(advice_words(advice)) if warned else "",
        because=sentence(because),
        answer=(*(() if warned else (sentence(headline(advice)),)), *then_lines(study)),
        ladder=ladder_of(study),
        every_hub=choices_table(study) if study.choices else None,
        by_size=_BY_SIZE.format(shaft=study.shaft) if study.maps_um is None else "",
        rings=rings_of(study),
        hub=capital(hub_words(advice.hub.undersize_um)) if advice.hub is not None and names_filing(study) else "",
        wear=tuple(wear_lines(study)),
        grids=grids_of(study),
        doubt=f"Each width give or take {shaft_map['sd_um'].mean():.0f} µm (1000 µm = 1 mm).",
        sitting=tuple(sitting_lines(study)),
        sections=tuple(sections_of(shaft_map)),
        section_words=section_words(shaft_map),
        seen=() if study.seen is None else (fitting_seen_sentence(study.seen, orders=orders),),
        history=_history(study),
        pictures=pictures_of(photos),
        again=tuple(measure_again_lines(study)),
        beware=tuple(caution_lines(study)),
        glossary=_WORDS,
    )


def _history(study: ShaftStudy) -> History | None:
    """Put to each inspection its number and interval on one scale; no scale where there is one only."""
    frame = study.history_frame()
    if frame.empty:
        return None
    ends = frame[["low_um_below_new", "high_um_below_new"]].to_numpy(dtype=float)
    scale = {"least": float(np.nanmin(ends)), "most": float(np.nanmax(ends))}
    columns = ["width_um_below_new", "low_um_below_new", "high_um_below_new"]
    pictures = [interval(*(float(um) for um in row), **scale) for row in frame[columns].to_numpy(dtype=float)]
    return History(
        title=f"{history_title(frame, shaft=study.shaft)}.",
        table=history_table(study),
        pictures=tuple(pictures) if len(frame) > 1 else (),
    )
