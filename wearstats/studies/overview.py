"""The whole picture: every question asked of one store, for the page that shows them together."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any, TypeVar

from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.numerics.one_thread import one_thread
from wearstats.errors import AnalysisError
from wearstats.second_process import Beside
from wearstats.store.checks import ABOUT_FITTINGS, CHECKS, Finding, run_checks
from wearstats.store.database.connection import Store
from wearstats.studies.counts.all_hubs import count_fittings, count_hubs
from wearstats.studies.counts.returns import ReturnsStudy, study_returns
from wearstats.studies.demo import is_invented
from wearstats.studies.gaps.contact import ContactStudy, study_contact_seen
from wearstats.studies.gauging.study import GaugingStudy, study_gauging
from wearstats.studies.inputs.coverage import record_end
from wearstats.studies.inputs.sampling import of_large_fleet
from wearstats.studies.inputs.width_fit import FittedWidths, fit_fleet
from wearstats.studies.loosening.fit_from_store import KnownLaw, model_of
from wearstats.studies.loosening.study import LooseningStudy, study_loosening
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.methods.study import study_methods
from wearstats.studies.review.study import ReviewStudy, last_finished, study_review
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.background import make_background
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.study import study_stock
from wearstats.studies.wear.answer import WearStudy
from wearstats.studies.wear.study import study_wear

_Study = TypeVar("_Study")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """The answers; None where the data could not give one.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    horizon_months : float
        How far ahead chances are given.
    returns : ReturnsStudy
        What came back.
    wear, gauging, shaft, loosening, methods, stock, review : studies or None
        The other answers.
    unanswered : dict of str to str
        Question to the reason why it has no answer.
    findings : tuple of Finding
        What looks doubtful in the store.
    invented : bool
        Whether the demo's invented files are in the store.
    recorded_until : datetime.date or None
        The last day of which anything is on record.
    """

    as_of: datetime.date
    horizon_months: float
    returns: ReturnsStudy
    wear: WearStudy | None = None
    gauging: GaugingStudy | None = None
    shaft: ShaftStudy | None = None
    loosening: LooseningStudy | None = None
    methods: MethodsStudy | None = None
    stock: StockStudy | None = None
    review: ReviewStudy | None = None
    contact: ContactStudy | None = None
    unanswered: dict[str, str] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    invented: bool = False
    recorded_until: datetime.date | None = None

    def to_dict(self) -> dict[str, Any]:
        """Give the answers as the ``--json`` document has them, one key a question."""
        answers = {
            "wear": self.wear,
            "gauging": self.gauging,
            "shaft": self.shaft,
            "loosening": self.loosening,
            "methods": self.methods,
            "stock": self.stock,
            "review": self.review,
            "contact": self.contact,
        }
        return {
            **{name: None if answer is None else answer.to_dict() for name, answer in answers.items()},
            "returns": self.returns.to_dict(),
            "unanswered": self.unanswered,
            "findings": [finding.to_dict() for finding in self.findings],
            "invented": self.invented,
            "recorded_until": None if self.recorded_until is None else self.recorded_until.isoformat(),
        }


@one_thread
def study_picture(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    horizon_months: float,
    risk_limit: float,
    draws: NamedDraws,
    beside: Beside | None = None,
    told: Callable[[str, Any], None] | None = None,
) -> Picture:
    """Ask every question; one that the data cannot answer says why and does not hold up the others.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    horizon_months : float
        How far ahead chances are given.
    risk_limit : float
        Highest acceptable chance of working loose within that time, 0 to 1.
    draws : NamedDraws
        For all questions, so that the page says what the single commands say.
    beside : Beside, optional
        Where the questions about widths are asked while those about hubs are asked here.
    told : callable, optional
        Is told each question that has an answer, and the answer, as soon as it is there.

    Returns
    -------
    Picture
    """
    answers = _Answers(told=told)
    ask = answers.ask
    asked: dict[str, Any] = {"as_of": as_of, "pattern": pattern}
    ahead: dict[str, Any] = {"horizon_months": horizon_months}
    limited = ahead | {"risk_limit": risk_limit}

    beside = beside or Beside()
    # first what the answers about hubs wait for, last what waits for nobody: whichever process is free then does it
    fleet = of_large_fleet(beside, store, **asked)
    fittings = fleet.begin(count_fittings, store, **asked)
    hubs_counted = fleet.begin(count_hubs, store, **asked, quarter=last_finished(as_of))
    # the questions about widths are answered from one fit; without readings each says so itself
    fitted = _attempt(lambda: fit_fleet(store, **asked))[0]
    widths = beside.begin(_about_widths, store, asked, fitted, draws)
    findings = [
        beside.begin(run_checks, store, as_of=as_of, checks=checks)
        for checks in (CHECKS[:ABOUT_FITTINGS], CHECKS[ABOUT_FITTINGS:])
    ]

    hubs = ask(
        "loosening", lambda: study_loosening(store, **asked, **limited, fitted=fitted, counting=fittings, draws=draws)
    )
    gap = hubs.gap if hubs else None
    # what a hub costs and whether it may go hang on the shafts of all patterns, as the commands have it
    of_all: dict[str, Any] = {
        "fitted": None if pattern else fitted,
        "risk_model": model_of(gap.fit) if gap and not pattern else None,
    }
    known = KnownLaw(gaps=hubs.known_gaps, law=gap.fit if gap else None, why_not=hubs.why_no_gap) if hubs else None
    stock = ask("stock", lambda: study_stock(store, **asked, **ahead, **of_all, draws=draws))
    # where there is no answer the review is told why, lest it ask again
    make = answers.unanswered["stock"] if stock is None else stock
    about_review: dict[str, Any] = {"fitted": fitted, "known": known, "stock": make, "counting": hubs_counted}
    ask("review", lambda: study_review(store, **asked, **limited, **about_review, draws=draws))
    about_methods: dict[str, Any] = {
        "readings": None if fitted is None or fitted.readings.of_shafts is not None else fitted.readings,
        "same_gap": gap.same_gap if gap else None,
    }
    ask("methods", lambda: study_methods(store, **asked, **ahead, **about_methods, draws=draws))
    ask(
        "contact",
        lambda: study_contact_seen(store, **asked, gaps=hubs.known_gaps if hubs else None, draws=draws),
    )
    if (shaft := shaft_to_show(store, **asked)) is not None:
        background = partial(make_background, store, as_of=as_of, **of_all)
        ask(
            "shaft",
            lambda: study_shaft(
                store, as_of=as_of, **limited, shaft=shaft, background=background(draws=draws), draws=draws
            ),
        )
    answers.take("returns", study_returns(store, **asked))
    # the last first: the other process is at the one begun before it, or not that far yet
    found = [begun() for begun in reversed(findings)]
    answers.take("findings", tuple(finding for part in reversed(found) for finding in part))
    answers.take_all(widths())
    return Picture(
        as_of=as_of,
        horizon_months=horizon_months,
        unanswered=answers.unanswered,
        invented=is_invented(store, as_of=as_of),
        recorded_until=record_end(store, as_of=as_of),
        **answers.given,
    )


@one_thread
def _about_widths(store: Store, asked: dict[str, Any], fitted: FittedWidths | None, draws: NamedDraws) -> _Answers:
    """Ask how worn shafts are, and how well they are measured."""
    answers = _Answers()
    answers.ask("wear", lambda: study_wear(store, **asked, fitted=fitted, draws=draws))
    answers.ask("gauging", lambda: study_gauging(store, **asked, fitted=fitted, draws=draws))
    return answers


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answers:
    """The answers that are there, by question, and why others are not."""

    given: dict[str, Any] = field(default_factory=dict)
    unanswered: dict[str, str] = field(default_factory=dict)
    told: Callable[[str, Any], None] | None = None

    def ask(self, question: str, study: Callable[[], _Study]) -> _Study | None:
        """Ask one; None where the data cannot answer."""
        answer, why = _attempt(study)
        if answer is None:
            self.unanswered[question] = why
        else:
            self.take(question, answer)
        return answer

    def take(self, question: str, answer: Any) -> None:
        """Take an answer, and tell who wants to know."""
        self.given[question] = answer
        if self.told is not None:
            self.told(question, answer)

    def take_all(self, others: _Answers) -> None:
        """Take answers that were found elsewhere."""
        self.unanswered.update(others.unanswered)
        for question, answer in others.given.items():
            self.take(question, answer)


def _attempt(study: Callable[[], _Study]) -> tuple[_Study | None, str]:
    """Give an answer, or why the data cannot give one."""
    try:
        return study(), ""
    except AnalysisError as error:
        return None, str(error)


def shaft_to_show(store: Store, *, as_of: datetime.date, pattern: str | None = None) -> str | None:
    """Choose the shaft that waits for its hub and was measured last; None where none has been measured."""
    rows = store.query("forms/shaft_to_show", as_of=as_of, pattern=pattern)
    return None if rows.empty else str(rows["shaft"].iloc[0])
