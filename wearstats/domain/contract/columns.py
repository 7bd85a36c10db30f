"""What a column and a table of the contract are, and how plain ones are written down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "number", "integer", "date", "day_or_month", "yes_no", "choice", "list", "width"]
"""What a cell holds.

``width`` and the sizes measured together with it (``register``, ``major``, ``check_piece``, ``check_reading``) stand in
the unit of their inspection; all other numbers carry their unit in the column's name. ``list`` is ``;``-separated.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    name : str
        As it stands in files and in the store.
    kind : str
        See `Kind`.
    required : bool
        Whether an intake file must bear it and every row must fill it.
    choices : tuple of str
        The words allowed where ``kind`` is ``choice``, or ``list`` of some words.
    low, high : float or None
        Plausible range of a number; outside it the row is rejected.
    default : str or None
        What a missing cell means.
    """

    name: str
    kind: Kind = "text"
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    default: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of the store.

    Parameters
    ----------
    name : str
        Plural noun, the name of its file or sheet.
    key : tuple of str
        The columns that tell its rows apart.
    columns : tuple of Column
        In the order in which files bear them.
    """

    name: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def required(self) -> tuple[str, ...]:
        """Names of the columns that must be there."""
        return tuple(column.name for column in self.columns if column.required)

    def column(self, name: str) -> Column:
        """Find a column by name; KeyError when the table has none such."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)


def text(name: str, *, required: bool = False) -> Column:
    """Declare a text."""
    return Column(name=name, kind="text", required=required)


def number(name: str, low: float | None, high: float | None, *, required: bool = False) -> Column:
    """Declare a number, of a plausible range."""
    return Column(name=name, kind="number", required=required, low=low, high=high)


def integer(name: str, low: float, high: float, *, required: bool = False, default: str | None = None) -> Column:
    """Declare a whole number of a range."""
    return Column(name=name, kind="integer", required=required, low=low, high=high, default=default)


def date(name: str, *, required: bool = False) -> Column:
    """Declare a day."""
    return Column(name=name, kind="date", required=required)


def choice(name: str, choices: tuple[str, ...], *, required: bool = False) -> Column:
    """Declare one of some words."""
    return Column(name=name, kind="choice", required=required, choices=choices)


def yes_no(name: str) -> Column:
    """Declare yes or no."""
    return Column(name=name, kind="yes_no")
