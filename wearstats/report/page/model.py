"""One self-contained page: no network, pictures inside, read on a phone, on A4 and by ear; a script only if asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wearstats.report.rendering.charts import AnyChart, chart_spec, spec_svg
from wearstats.report.rendering.tables import DataTable


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
    def description(self) -> str:
        """What it shows, in words."""
        return str(self.specs[0].get("description", self.name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One question and its answer.

    Parameters
    ----------
    name : str
        Its anchor, letters and hyphens.
    heading : str
        The question in plain words.
    sentences : tuple of str
        The answer, one paragraph each.
    figures : tuple of Figure
        Pictures, in order.
    tables : tuple of DataTable
        Tables that stand open in the text.
    points : tuple of str
        A list below the answer.
    """

    name: str
    heading: str
    sentences: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    tables: tuple[DataTable, ...] = ()
    points: tuple[str, ...] = ()


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
    """

    title: str
    known_until: str
    answer: tuple[str, ...]
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]
    cautions_heading: str
    glossary: Mapping[str, str]
    invented: bool = False


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
