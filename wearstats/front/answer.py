"""An answer that shows itself: as words at a prompt, with a picture and a table in a notebook."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from html import escape
from typing import TYPE_CHECKING, Any

from wearstats.errors import UsageError
from wearstats.report.answers import full_sentences
from wearstats.report.questions import shown_as
from wearstats.report.words.cautions import HEADING

if TYPE_CHECKING:
    import altair as alt
    import pandas as pd

    from wearstats.report.questions import Shown

_WIDTH = 100
_FEW = 3
"""So many cautions stand in an answer's short form, the heading among them."""

_ROWS = 8
"""So many rows of its table a notebook shows."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Answer:
    """An answer that shows itself: sentences as text, a chart and a table in a notebook.

    Parameters
    ----------
    question : str
        The question's noun: ``wear``.
    known_on : datetime.date
        The day up to which things were known.
    result : Any
        All that was found, as the studies give it; shared with later answers, so not to be changed.
    """

    question: str
    known_on: datetime.date
    result: Any
    _shown: list[Shown] = field(default_factory=list)

    def sentences(self) -> list[str]:
        """Give the answer in words."""
        return list(self._as_shown().sentences)

    @property
    def frames(self) -> tuple[str, ...]:
        """Names of the tables of numbers that `frame` gives, the main one first."""
        return tuple(self._as_shown().frames)

    @property
    def charts(self) -> tuple[str, ...]:
        """Names of the pictures that `chart` gives, the main one first."""
        return tuple(self._as_shown().figures())

    def frame(self, name: str | None = None) -> pd.DataFrame:
        """Give a tidy table of numbers, units in the columns' names.

        Parameters
        ----------
        name : str, optional
            One of `frames`; the first if not given.
        """
        frames = self._as_shown().frames
        # a copy: what is done to it must not change what the shop answers next
        return frames[_chosen(name, frames, "frame")]().copy()

    def chart(self, name: str | None = None) -> alt.Chart:
        """Give a picture, to show, change or save.

        Parameters
        ----------
        name : str, optional
            One of `charts`; the first if not given.
        """
        import altair as alt

        figures = self._as_shown().figures()
        drawn: alt.Chart = alt.Chart.from_dict(figures[_chosen(name, figures, "chart")].specs[0])
        return drawn

    def to_dict(self) -> dict[str, Any]:
        """Give the document that ``--json`` prints, but for its head."""
        from wearstats.report.remarks.document import plain

        document: dict[str, Any] = plain(self.result.to_dict())
        return document

    def cautions(self) -> list[str]:
        """Give what to beware of before anybody works on the engine; none where the answer is no advice."""
        return list(self._as_shown().cautions)

    def full(self) -> str:
        """Give the whole answer as text, one paragraph a sentence; and with an advice all cautions."""
        shown = self._as_shown()
        said = full_sentences(self.question, self.result)
        said += [HEADING, *shown.cautions] if shown.cautions else []
        return "\n".join(textwrap.fill(line, _WIDTH, subsequent_indent="  ") for line in said)

    def __repr__(self) -> str:
        """Give the short answer, and with an advice the first cautions."""
        drawn = ".chart()  " if self._as_shown().drawn else ""
        return "\n".join(
            [
                f"{self.question}, as known on {self.known_on}",
                *self._short_lines(),
                *(textwrap.fill(line, _WIDTH, subsequent_indent="  ") for line in self._beware()),
                f"more: .full()  .sentences()  .frame({' | '.join(map(repr, self.frames))})  {drawn}.to_dict()",
            ]
        )

    def __getstate__(self) -> tuple[str, datetime.date, Any]:
        return self.question, self.known_on, self.result

    def __setstate__(self, state: tuple[str, datetime.date, Any]) -> None:
        for name, value in zip(("question", "known_on", "result", "_shown"), (*state, []), strict=True):
            object.__setattr__(self, name, value)

    def _repr_html_(self) -> str:
        shown = self._as_shown()
        figure = next(iter(shown.figures().values()), None)
        said = escape("\n".join(self._short_lines()))
        beware = "".join(f"<p>{escape(line)}</p>" for line in self._beware())
        lines = f"<pre>{said}</pre>{beware}"
        picture = "" if figure is None else figure.wide
        table = f'<div style="overflow-x:auto">{_html_table(self.frame().head(_ROWS))}</div>' if self.frames else ""
        return f"<h4>{escape(shown.heading)}</h4>{lines}{picture}{table}"

    def _short_lines(self) -> list[str]:
        """Give the short answers as on a terminal; here `full` says more, not a command."""
        return [line for short in self._as_shown().short for line in replace(short, more="").lines()]

    def _beware(self) -> list[str]:
        """Give the first cautions, where the answer is an advice that does not have them yet."""
        shown = self._as_shown()
        if not shown.cautions or all(short.cautions for short in shown.short):
            return []
        return [f"{HEADING}: {' '.join(shown.cautions[1:_FEW])} All: .cautions()"]

    def _as_shown(self) -> Shown:
        if not self._shown:
            self._shown.append(shown_as(self.question, self.result))
        return self._shown[0]


def _chosen(name: str | None, there: Mapping[str, Callable[..., Any] | Any], what: str) -> str:
    """Take the first, or the one that was named; UsageError where there is none of that name."""
    if name is None and there:
        return next(iter(there))
    if not isinstance(name, str) or name not in there:
        raise UsageError(f"{what}: {name!r}; allowed: {', '.join(map(repr, there)) or 'none, this answer has none'}")
    return name


def _html_table(frame: pd.DataFrame) -> str:
    return str(frame.to_html(index=False, border=0, float_format=lambda number: f"{number:.4g}"))
