"""The whole picture: every question asked of one store, for the page that shows them together."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields
from typing import Any

from wearstats.analysis.remark import Remark, refused
from wearstats.errors import AnalysisError
from wearstats.store.checks import ABOUT_FITTINGS, CHECKS, Finding, run_checks
from wearstats.studies.counts.all_hubs import fittings_on_record, quarter_on_record
from wearstats.studies.counts.returns import ReturnsStudy, study_returns
from wearstats.studies.demo import is_invented
from wearstats.studies.gaps.contact import ContactStudy, study_contact_seen
from wearstats.studies.gauging.study import GaugingStudy, study_gauging
from wearstats.studies.inputs.coverage import records_end_early
from wearstats.studies.inputs.sampling import require_room, shaft_sample
from wearstats.studies.inputs.width_fit import width_components
from wearstats.studies.loosening.study import LooseningStudy, study_loosening
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.methods.study import study_methods
from wearstats.studies.review.study import ReviewStudy, last_finished, study_review
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.study import study_stock
from wearstats.studies.wear.answer import WearStudy
from wearstats.studies.wear.study import study_wear

_BYTES_OF_SHAFT = 2_100
"""Held of every shaft of a large fleet (`tests/benchmarks/at_once.md`)."""


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
    unanswered : dict of str to Remark
        Question to the reason why it has no answer.
    findings : tuple of Finding
        What looks doubtful in the store.
    invented : bool
        Whether the demo's invented files are in the store.
    records_early : Remark or None
        That what is on record ends long before the day asked about.
    """

    as_of: datetime.date
    horizon_months: float
    wear: WearStudy | None = None
    gauging: GaugingStudy | None = None
    shaft: ShaftStudy | None = None
    loosening: LooseningStudy | None = None
    methods: MethodsStudy | None = None
    stock: StockStudy | None = None
    review: ReviewStudy | None = None
    contact: ContactStudy | None = None
    returns: ReturnsStudy
    unanswered: dict[str, Remark] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    invented: bool = False
    records_early: Remark | None = None

    def to_dict(self) -> dict[str, Any]:
        """Give the answers as the ``--json`` document has them, one key a question."""
        asked = {"as_of", "horizon_months"}
        return {each.name: getattr(self, each.name) for each in fields(self) if each.name not in asked}


def study_picture(
    snapshot: Snapshot,
    *,
    horizon_months: float,
    risk_limit: float,
    told: Callable[[str, Any], None] | None = None,
) -> Picture:
    """Ask every question; one that the data cannot answer says why and does not hold up the others.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked; the questions about widths are asked in its second process while those about hubs are asked here.
    horizon_months : float
        How far ahead chances are given.
    risk_limit : float
        Highest acceptable chance of working loose within that time, 0 to 1.
    told : callable, optional
        Is told each question that has an answer, and the answer, as soon as it is there.
    """
    answers = _Answers(told=told)
    ask = answers.ask
    ahead: dict[str, Any] = {"horizon_months": horizon_months}
    limited = ahead | {"risk_limit": risk_limit}

    require_room(snapshot, bytes_of_shaft=_BYTES_OF_SHAFT)
    # first what the answers about hubs wait for, last what waits for nobody: whichever process is free then does it
    asked_there = snapshot
    if shaft_sample(snapshot) is not None:
        fittings_on_record.begin(snapshot)
        quarter_on_record.begin(snapshot, last_finished(snapshot.known_on))
        # of a large fleet the model is fitted here and goes along; of a small one two fits side by side are quicker
        with suppress(AnalysisError):
            asked_there = snapshot.carrying(width_components)
    widths = snapshot.second.begin(_about_widths, asked_there)
    findings = [
        snapshot.second.begin(_findings, snapshot, checks)
        for checks in (CHECKS[:ABOUT_FITTINGS], CHECKS[ABOUT_FITTINGS:])
    ]

    ask("loosening", lambda: study_loosening(snapshot, **limited))
    ask("stock", lambda: study_stock(snapshot, **limited))
    ask("review", lambda: study_review(snapshot, **limited))
    ask("methods", lambda: study_methods(snapshot, **ahead))
    ask("contact", lambda: study_contact_seen(snapshot))
    if (shaft := shaft_to_show(snapshot)) is not None:
        ask("shaft", lambda: study_shaft(snapshot, shaft, **limited))
    answers.take("returns", study_returns(snapshot, trials=True))
    # the last first: the other process is at the one begun before it, or not that far yet
    found = [begun() for begun in reversed(findings)]
    answers.take("findings", tuple(finding for part in reversed(found) for finding in part))
    answers.take_all(widths())
    return Picture(
        as_of=snapshot.known_on,
        horizon_months=horizon_months,
        unanswered=answers.unanswered,
        invented=is_invented(snapshot),
        records_early=records_end_early(snapshot),
        **answers.given,
    )


def _about_widths(snapshot: Snapshot) -> _Answers:
    """Ask how worn shafts are, and how well they are measured."""
    answers = _Answers()
    answers.ask("wear", lambda: study_wear(snapshot))
    answers.ask("gauging", lambda: study_gauging(snapshot))
    return answers


def _findings(snapshot: Snapshot, checks: Sequence[str]) -> list[Finding]:
    return run_checks(snapshot.store, as_of=snapshot.known_on, checks=checks)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answers:
    """The answers that are there, by question, and why others are not."""

    given: dict[str, Any] = field(default_factory=dict)
    unanswered: dict[str, Remark] = field(default_factory=dict)
    told: Callable[[str, Any], None] | None = None

    def ask(self, question: str, study: Callable[[], Any]) -> None:
        """Ask one, and keep why where the data cannot answer."""
        try:
            self.take(question, study())
        except AnalysisError as error:
            self.unanswered[question] = refused(error)

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


def shaft_to_show(snapshot: Snapshot) -> str | None:
    """Choose the shaft that waits for its hub and was measured last; None where none has been measured."""
    rows = snapshot.query("forms/shaft_to_show")
    return None if rows.empty else str(rows["shaft"].iloc[0])
