"""How the answer to each question is shown: its sentences, its tables of numbers and its pictures, by name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any, Final

import pandas as pd

from wearstats.report.answers import short_answers, wording
from wearstats.report.calls.table import calls_frame
from wearstats.report.contact.figures import contact_figure
from wearstats.report.page.model import Figure
from wearstats.report.remarks.frames import in_words
from wearstats.report.rendering.short_answer import ShortAnswer
from wearstats.report.review.tables import at_risk_frame
from wearstats.report.sections import (
    gauging_section,
    loosening_section,
    methods_section,
    returns_section,
    review_section,
    shaft_section,
    stock_section,
    wear_section,
)
from wearstats.studies.counts.returns import ReturnsStudy
from wearstats.studies.gaps.contact import ContactStudy
from wearstats.studies.gauging.study import GaugingStudy
from wearstats.studies.limits.answer import LimitsStudy
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.review.study import ReviewStudy
from wearstats.studies.stock.answer import StockStudy

_ENDS: Final = {"": "value", "_low": "low", "_high": "high"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """An answer ready to be shown.

    Parameters
    ----------
    heading : str
        The question in words.
    short : tuple of ShortAnswer
        The verdict and a few lines; one a pattern where that is asked.
    sentences : tuple of str
        The whole answer in words.
    frames : dict of str to callable
        Tidy tables of numbers, the main one first.
    draw : callable
        Gives the pictures, the main one first; drawing takes a moment.
    drawn : bool
        Whether there are any pictures for this question.
    cautions : tuple of str
        What to beware of, where the answer is an advice.
    """

    heading: str
    short: tuple[ShortAnswer, ...]
    sentences: tuple[str, ...]
    frames: dict[str, Callable[[], pd.DataFrame]]
    draw: Callable[[], tuple[Figure, ...]]
    drawn: bool
    cautions: tuple[str, ...] = ()
    _figures: dict[str, Figure] = field(default_factory=dict)

    def figures(self) -> dict[str, Figure]:
        """Give the pictures by name, drawn once."""
        if self.drawn and not self._figures:
            self._figures.update({figure.name: figure for figure in self.draw()})
        return self._figures


def shown_as(question: str, result: Any) -> Shown:
    """Say how an answer is shown.

    Parameters
    ----------
    question : str
        The question's noun.
    result : Any
        What its study gave.
    """
    words, (frames, draw) = wording(question), _SHOWN[question]
    return Shown(
        heading=words.heading,
        short=short_answers(question, result),
        sentences=tuple(words.sentences(result)),
        frames=frames(result),
        draw=lambda: draw(result),
        drawn=draw is not _undrawn,
        cautions=words.cautions,
    )


def _named(*names: str) -> Callable[[Any], dict[str, Callable[[], pd.DataFrame]]]:
    """Take frames by the names of the methods that give them, or of the fields that they are."""

    def frame(result: Any, name: str) -> Callable[[], pd.DataFrame]:
        return getattr(result, f"{name}_frame", None) or (lambda: getattr(result, name))

    return lambda result: {name: frame(result, name) for name in names}


def _frame(name: str, given: Callable[[Any], pd.DataFrame]) -> Callable[[Any], dict[str, Callable[[], pd.DataFrame]]]:
    return lambda result: {name: lambda: given(result)}


def _figures(section: Callable[[Any], Any]) -> Callable[[Any], tuple[Figure, ...]]:
    return lambda result: section(result).all_figures


def _undrawn(_: Any) -> tuple[Figure, ...]:
    return ()


def _by_pattern(result: StockStudy) -> dict[str, Callable[[], pd.DataFrame]]:
    """Give the sizes of all patterns in one frame."""

    def plans() -> pd.DataFrame:
        parts = [part.plans_frame().assign(pattern=name) for name, part in result.by_pattern.items()]
        return pd.concat(parts, ignore_index=True)

    return {"plans": plans}


def _gauges(result: GaugingStudy) -> dict[str, Callable[[], pd.DataFrame]]:
    """Take the frames, every estimate of the gauges apart into numbers."""

    def gauges() -> pd.DataFrame:
        frame = result.gauges_frame()
        for name in ("bias_um", "bias_sd_um", "repeatability_um"):
            ends = {f"{name}{end}": [getattr(one, key) for one in frame[name]] for end, key in _ENDS.items()}
            frame = frame.drop(columns=name).assign(**ends)
        return frame

    return {**_named("plans", "measurers")(result), "strays": lambda: in_words(result.strays), "gauges": gauges}


def _methods(result: MethodsStudy) -> dict[str, Callable[[], pd.DataFrame]]:
    """Take the frames, why a difference is not told in words."""
    others = _named("methods", "table", "evidence", "chances")(result)
    return {"differences": lambda: in_words(result.differences_frame()), **others}


def _review(result: ReviewStudy) -> dict[str, Callable[[], pd.DataFrame]]:
    """Give the hubs most at risk with their reasons, and all to be warned."""
    return {
        "at_risk": lambda: at_risk_frame(result),
        "to_warn": lambda: pd.DataFrame() if result.in_use is None else result.in_use.to_warn,
    }


def _contact_figures(study: ContactStudy) -> tuple[Figure, ...]:
    return () if study.seen is None else (contact_figure(study.seen, study.fittings),)


_SHOWN: Final[dict[str, tuple[Any, Any]]] = {
    "wear": (_named("fleet", "shares", "laws", "sizes"), _figures(wear_section)),
    "gauging": (_gauges, _figures(gauging_section)),
    "shaft": (_named("choices", "map", "history"), _figures(shaft_section)),
    "loosening": (_named("curves", "at_risk"), _figures(loosening_section)),
    "methods": (_methods, _figures(methods_section)),
    "stock": (_by_pattern, _figures(stock_section)),
    "review": (_review, _figures(review_section)),
    "calls": (_frame("calls", calls_frame), _undrawn),
    "contact": (_frame("fittings", attrgetter("fittings")), _contact_figures),
    "limits": (_frame("fits", LimitsStudy.fits_frame), _undrawn),
    "shelf": (_named("hubs", "loans", "sizes", "disagreements"), _undrawn),
    "returns": (_frame("returns", ReturnsStudy.to_frame), _figures(returns_section)),
}
"""By question: its frames and pictures."""
