"""One self-contained page: no network, no scripts, pictures inside, readable on a phone, on A4 and by ear."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined

import wearstats
from wearstats.report.render import AnyChart, chart_svg
from wearstats.report.tables import DataTable
from wearstats.resources import resource

TEMPLATES: Final = "reports/templates"


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
    """

    name: str
    wide: str
    narrow: str
    table: DataTable


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
    return Figure(
        name=name,
        wide=chart_svg(wide, name=f"{name}-wide"),
        narrow=chart_svg(narrow, name=f"{name}-narrow"),
        table=table,
    )


def render_page(page: Page) -> str:
    """Write a page as HTML.

    Returns
    -------
    str
        One file that needs no other; its own content-security policy forbids it to fetch or run anything.
    """
    environment = Environment(
        loader=FileSystemLoader(resource(TEMPLATES)),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    style = environment.get_template("page.css").render()
    text: str = environment.get_template("page.html").render(
        page=page, style=style, policy=content_policy([style]), version=wearstats.__version__
    )
    return text


def content_policy(styles: Iterable[str]) -> str:
    """Allow the given styles by their digest, and nothing else at all."""
    digests = [base64.b64encode(hashlib.sha256(style.encode()).digest()).decode() for style in styles]
    allowed = " ".join(f"'sha256-{digest}'" for digest in digests)
    return f"default-src 'none'; style-src {allowed}; base-uri 'none'; form-action 'none'"
