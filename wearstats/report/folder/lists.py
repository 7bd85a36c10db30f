"""The lists of the folder: all shafts with what comes first for each, and everybody to be warned."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from wearstats.analysis.advice.remarks import First
from wearstats.analysis.remark import remark
from wearstats.report.calls.table import FIRSTS, warn_table
from wearstats.report.folder.shaft_page import WARNED
from wearstats.report.remarks.review import about
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import capital
from wearstats.report.rendering.tables import DataTable
from wearstats.report.shaft.all_shafts import counted_words, table_cells
from wearstats.report.words.cautions import CAUTIONS, HEADING
from wearstats.report.words.phrases import count, day, in_hundred, joined, sentence
from wearstats.studies.all_shafts import AllShafts
from wearstats.studies.forecast.figures import InUse
from wearstats.studies.shaft_pages import ShaftPages

_STOPPED: Final = say(remark(First.STOP_AND_CHECK))
_CAPTION: Final = "Owners to warn, the most urgent first; loose: of 100 such hubs"


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexRow:
    """One shaft.

    Parameters
    ----------
    shaft, href : str
        Its name, and where its page is; no page where there is no answer.
    cells : tuple of str
        Pattern, owner, what comes first, the chance that the hub in use is loose, the hub that would go on, its chance.
    urgent : bool
        Whether its page begins with a warning.
    """

    shaft: str
    href: str
    cells: tuple[str, ...]
    urgent: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexPage:
    """All shafts.

    Parameters
    ----------
    title, known_until : str
        Its name, and the day up to which things were known.
    invented : bool
        Whether the data are invented.
    counted : str
        How many of what.
    without : tuple of str
        What is said of shafts without an answer.
    caption : str
        Of the table.
    heads : tuple of str
        Headings, the shaft's first.
    rows : tuple of IndexRow
        In the order of what comes first.
    """

    title: str
    known_until: str
    invented: bool
    counted: str
    without: tuple[str, ...]
    caption: str
    heads: tuple[str, ...]
    rows: tuple[IndexRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WarnPage:
    """Everybody to be warned.

    Parameters
    ----------
    title, known_until : str
        Its name, and the day up to which things were known.
    invented : bool
        Whether the data are invented.
    order : str
        What they are to do, or that there is nobody.
    held : tuple of str
        How many of the first ten, twenty and fifty may be loose already.
    table : DataTable or None
        A row a hub, the most urgent first.
    hrefs : mapping of str to str
        Where the page of a shaft is.
    """

    title: str
    known_until: str
    invented: bool
    order: str
    held: tuple[str, ...]
    table: DataTable | None
    hrefs: Mapping[str, str]
    cautions: tuple[str, ...] = CAUTIONS
    cautions_heading: str = HEADING


def index_page(asked: ShaftPages, hrefs: Mapping[str, str]) -> IndexPage:
    """List all shafts, those without an answer last.

    Parameters
    ----------
    asked : ShaftPages
        The answers.
    hrefs : mapping of str to str
        Where the page of a shaft is.
    """
    shafts: AllShafts = asked.shafts
    loose = _loose_now(asked.in_use)
    firsts = list(shafts.counts())
    rows = []
    for study in sorted(shafts.studies, key=lambda each: (firsts.index(each.advice.first), -loose.get(each.shaft, 0))):
        shaft, pattern, do, *hub = table_cells(study)
        now = in_hundred(loose[shaft]) if shaft in loose else ""
        cells = (pattern, asked.owners.get(shaft, ""), do, now, *hub)
        rows.append(IndexRow(shaft=shaft, href=hrefs[shaft], cells=cells, urgent=study.advice.first in WARNED))
    rows += [
        IndexRow(shaft=name, href="", cells=("", asked.owners.get(name, ""), "no answer", "", "", ""), urgent=False)
        for name in shafts.unanswered
    ]
    months = f"{shafts.studies[0].horizon_months:.3g}" if shafts.studies else ""
    without = [f"no answer for {name}: {say(why)}" for name, why in list(shafts.unanswered.items())[:3]]
    if len(shafts.unanswered) > len(without):
        without.append(f"nor for {len(shafts.unanswered) - len(without)} more, which stand at the end of the list")
    counted = [sentence(f"{count(len(rows), 'shaft')}: {counted_words(shafts) or 'no answer for any'}")]
    if asked.in_use is not None and (told := asked.in_use.figures.already_warned):
        warn = asked.in_use.figures.to_warn
        counted.append(sentence(f"{count(warn, 'owner')} to warn, {told} more {'was' if told == 1 else 'were'} warned"))
    return IndexPage(
        title="All shafts: what comes first for each",
        known_until=day(asked.as_of),
        invented=asked.invented,
        counted=" ".join(counted),
        without=tuple(sentence(text) for text in without),
        caption="What comes first, the most urgent on top; hubs as engraved",
        heads=(
            "shaft", "pattern", "owner", "do", "its hub is loose now, in 100", "hub that would go on, mm",
            f"of 100 such, loose in {months} months",
        ),
        rows=tuple(rows),
    )  # fmt: skip


def _loose_now(in_use: InUse | None) -> dict[str, float]:
    """Give the chance that the hub of a shaft is loose already, for shafts whose hub it can be told of."""
    if in_use is None:
        return {}
    told = in_use.frame.dropna(subset=["loose_now"])
    most = told.groupby("shaft")["loose_now"].max()
    return dict(zip(most.index.astype(str), most.to_numpy(dtype=float), strict=True))


def warn_page(asked: ShaftPages, hrefs: Mapping[str, str]) -> WarnPage:
    """List everybody to be warned, the most urgent first, each with what the page of the shaft says first."""
    in_use = asked.in_use
    number = 0 if in_use is None else in_use.figures.to_warn
    table = None
    if in_use is not None and number:
        table = _with_other_orders(warn_table(in_use), asked.shafts)
    return WarnPage(
        title="Whom to warn",
        known_until=day(asked.as_of),
        invented=asked.invented,
        order=capital(_STOPPED) if number else "Nobody is to be warned.",
        held=() if in_use is None or not number else held_lines(in_use),
        table=table,
        hrefs=hrefs,
    )


def _with_other_orders(told: DataTable, shafts: AllShafts) -> DataTable:
    """Put to the list what a shaft's own page says first where that is another order than to stop and check."""
    first = {study.shaft: study.advice.first for study in shafts.studies}
    at = told.head.index("shaft")
    codes = [first.get(row[at]) for row in told.rows]
    orders = ["" if code in (None, First.STOP_AND_CHECK) else capital(say(remark(code))) for code in codes]
    if not any(orders):
        return dataclasses.replace(told, caption=_CAPTION)
    rows = tuple((*row, order) for row, order in zip(told.rows, orders, strict=True))
    return DataTable(caption=_CAPTION, head=(*told.head, "and first of all"), rows=rows)


def held_lines(in_use: InUse) -> tuple[str, ...]:
    """Say how many are to be warned, and how many hubs that may be loose already the first of them hold."""
    number, loose = in_use.figures.to_warn, in_use.figures.loose_now
    lines = [f"the owners of {count(number, 'hub')} are to be told so, from the top of this list down"]
    if loose is not None:
        firsts = [first for first in FIRSTS if first < number]
        names = [*(f"the first {first}" for first in firsts), f"all {number}"]
        held = [about(in_use.held_by_first(first) or 0.0) for first in (*firsts, number)]
        parts = [
            f"{name} {'' if at else 'hold '}{many}" for at, (name, many) in enumerate(zip(names, held, strict=True))
        ]
        lines.append(f"of {about(loose)} hubs in use that may be loose already {joined(parts)}")
    return tuple(sentence(line) for line in lines)
