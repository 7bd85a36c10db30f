"""One self-contained page: no network, pictures inside, read on a phone, on A4 and by ear; a script only if asked."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wearstats.report.rendering.charts import AnyChart, chart_spec, spec_svg
from wearstats.report.rendering.spreadsheet import harmless_rows
from wearstats.report.rendering.tables import DataTable, table_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A picture with the table behind it.

    Parameters
    ----------
    name : str
        Letters and hyphens, one for each picture of the page.
    wide, narrow : str
        The picture as SVG, for a desk or paper and for a phone.
    table : DataTable
        The same numbers.
    specs : tuple of dict
        What the wide and the narrow picture were drawn from, in the house style.
    """

    name: str
    wide: str
    narrow: str
    table: DataTable
    specs: tuple[dict[str, Any], dict[str, Any]]

    @property
    def title(self) -> str:
        """What it shows, as its heading."""
        title = self.specs[0].get("title") or {}
        text = title.get("text", self.name) if isinstance(title, dict) else title
        return " ".join(text) if isinstance(text, list) else str(text)

    @property
    def csv(self) -> str:
        """Its numbers as an address of a CSV file that needs no network."""
        text = harmless_rows(table_rows(self.table)).to_csv(index=False, lineterminator="\n")
        return "data:text/csv;charset=utf-8;base64," + base64.b64encode(text.encode()).decode()

    @property
    def description(self) -> str:
        """What it shows, in words."""
        return str(self.specs[0].get("description", self.name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A verdict with a few lines.

    Parameters
    ----------
    about : str
        What it is about where a section has several; else empty.
    verdict : str
        One sentence.
    sentences : tuple of str
        At most three.
    tables : tuple of DataTable
        Small ones.
    urgent : bool
        Whether somebody is to stop or to be warned before anything else.
    """

    verdict: str
    about: str = ""
    sentences: tuple[str, ...] = ()
    tables: tuple[DataTable, ...] = ()
    urgent: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One question and its answer: open what answers it, folded how we know.

    Parameters
    ----------
    name : str
        Its anchor, letters and hyphens.
    heading : str
        The question in plain words.
    short : str
        One word or two for the contents.
    said : tuple of Said
        The verdicts.
    sentences : tuple of str
        More of the answer, one paragraph each.
    figures : tuple of Figure
        Pictures, in order.
    tables : tuple of DataTable
        Tables that stand open in the text.
    points : tuple of str
        A list below the answer.
    more : Section or None
        What stands folded below it.
    """

    name: str
    heading: str
    short: str = ""
    said: tuple[Said, ...] = ()
    sentences: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    tables: tuple[DataTable, ...] = ()
    points: tuple[str, ...] = ()
    more: Section | None = None

    @property
    def all_figures(self) -> tuple[Figure, ...]:
        """The pictures, folded ones too."""
        return (*self.figures, *(self.more.all_figures if self.more else ()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do, on top of a page.

    Parameters
    ----------
    number : str
        How many.
    what : str
        What is to be done.
    names : str
        To whom or to what, the first few.
    to : str
        Anchor of the section that tells more.
    urgent : bool
        Whether it cannot wait.
    """

    number: str
    what: str
    names: str
    to: str
    urgent: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyFigure:
    """A number that a reviewer looks for, and how it has changed.

    Parameters
    ----------
    number, what, change : str
        In words.
    """

    number: str
    what: str
    change: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """What a reader with a minute sees: what to do, and four figures.

    Parameters
    ----------
    actions : tuple of Action
        At most five.
    figures : tuple of KeyFigure
        Four.
    """

    actions: tuple[Action, ...]
    figures: tuple[KeyFigure, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """Everything that stands on a page.

    Parameters
    ----------
    title : str
        The page's name.
    known_until : str
        The day up to which things were known, in words.
    answer : tuple of str
        The answer first, a few sentences.
    sections : tuple of Section
        In order.
    cautions : tuple of str
        What to beware of.
    cautions_heading : str
        Its heading.
    glossary : mapping of str to str
        Words and what they mean.
    invented : bool
        Whether the data are invented; then the page says so on top.
    panel : Panel or None
        What to do and what has changed, on top.
    """

    title: str
    known_until: str
    answer: tuple[str, ...]
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]
    cautions_heading: str
    glossary: Mapping[str, str]
    invented: bool = False
    panel: Panel | None = None

    @property
    def figures(self) -> tuple[Figure, ...]:
        """All pictures, folded ones too."""
        return tuple(figure for section in self.sections for figure in section.all_figures)


def make_figure(name: str, *, wide: AnyChart, narrow: AnyChart, table: DataTable) -> Figure:
    """Draw a picture for a desk and for a phone, and put its table beside it."""
    specs = (chart_spec(wide, check=False), chart_spec(narrow, check=False))
    return Figure(
        name=name,
        wide=spec_svg(specs[0], name=f"{name}-wide"),
        narrow=spec_svg(specs[1], name=f"{name}-narrow"),
        table=table,
        specs=specs,
    )
