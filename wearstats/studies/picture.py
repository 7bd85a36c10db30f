"""The whole picture: every question asked of one store, for the page that shows them together."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any, TypeVar

import numpy as np

from wearstats.errors import AnalysisError
from wearstats.store.checks import Finding, run_checks
from wearstats.store.connection import Store
from wearstats.studies.contact_seen import ContactStudy, study_contact_seen
from wearstats.studies.demo import is_invented
from wearstats.studies.fitted_widths import FittedWidths, fit_fleet
from wearstats.studies.gauging import GaugingStudy, study_gauging
from wearstats.studies.loosening import LooseningStudy, study_loosening
from wearstats.studies.methods import MethodsStudy, study_methods
from wearstats.studies.one_thread import one_thread
from wearstats.studies.returns import ReturnsStudy, study_returns
from wearstats.studies.review import ReviewStudy, study_review
from wearstats.studies.shaft import study_shaft
from wearstats.studies.shaft_answer import ShaftStudy
from wearstats.studies.shaft_background_made import make_background
from wearstats.studies.stock import study_stock
from wearstats.studies.stock_answer import StockStudy
from wearstats.studies.store_gap_risk import KnownLaw, model_of
from wearstats.studies.wear import WearStudy, study_wear

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
        }


@one_thread
def study_picture(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    horizon_months: float,
    risk_limit: float,
    new_rng: Callable[[], np.random.Generator],
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
    new_rng : callable
        Makes the generator for one question, alike each time: so the page says what the single commands say.

    Returns
    -------
    Picture
    """
    unanswered: dict[str, str] = {}

    def ask(question: str, study: Callable[[], _Study]) -> _Study | None:
        try:
            return study()
        except AnalysisError as error:
            unanswered[question] = str(error)
            return None

    # both questions about widths are answered from one fit; without readings each says so itself
    fitted: FittedWidths | None = ask("widths", lambda: fit_fleet(store, as_of=as_of, pattern=pattern))
    unanswered.pop("widths", None)
    all_read = None if fitted is None or fitted.readings.of_shafts is not None else fitted.readings
    shaft = shaft_to_show(store, as_of=as_of, pattern=pattern)
    about_shaft = partial(study_shaft, store, as_of=as_of, horizon_months=horizon_months, risk_limit=risk_limit)
    about_wear = partial(study_wear, store, as_of=as_of, pattern=pattern, fitted=fitted)
    about_gauging = partial(study_gauging, store, as_of=as_of, pattern=pattern, fitted=fitted)
    about_fittings = partial(study_loosening, store, as_of=as_of, pattern=pattern, risk_limit=risk_limit, fitted=fitted)
    about_stock = partial(study_stock, store, as_of=as_of, pattern=pattern, horizon_months=horizon_months)
    about_methods = partial(study_methods, store, as_of=as_of, pattern=pattern, readings=all_read)
    loosening = ask("loosening", lambda: about_fittings(horizon_months=horizon_months, rng=new_rng()))
    same_gap = loosening.gap.same_gap if loosening and loosening.gap else None
    law = None if pattern or loosening is None or loosening.gap is None else model_of(loosening.gap.fit)
    stock = ask("stock", lambda: about_stock(rng=new_rng(), fitted=None if pattern else fitted, risk_model=law))
    about_review = partial(
        study_review, store, as_of=as_of, pattern=pattern, horizon_months=horizon_months, risk_limit=risk_limit
    )
    known = (
        None
        if loosening is None
        else KnownLaw(
            gaps=loosening.known_gaps, law=loosening.gap.fit if loosening.gap else None, why_not=loosening.why_no_gap
        )
    )
    return Picture(
        as_of=as_of,
        horizon_months=horizon_months,
        returns=study_returns(store, as_of=as_of, pattern=pattern),
        wear=ask("wear", lambda: about_wear(rng=new_rng())),
        gauging=ask("gauging", lambda: about_gauging(rng=new_rng())),
        shaft=None
        if shaft is None
        # its map hangs on the shafts of all patterns, as the command has it
        else ask(
            "shaft",
            lambda: about_shaft(
                shaft=shaft,
                rng=new_rng(),
                background=make_background(
                    store, as_of=as_of, rng=new_rng(), fitted=None if pattern else fitted, risk_model=law
                ),
            ),
        ),
        loosening=loosening,
        methods=ask(
            "methods",
            lambda: about_methods(horizon_months=horizon_months, rng=new_rng(), same_gap=same_gap),
        ),
        stock=stock,
        contact=ask(
            "contact",
            lambda: study_contact_seen(
                store, as_of=as_of, pattern=pattern, gaps=loosening.known_gaps if loosening else None, rng=new_rng()
            ),
        ),
        review=ask("review", lambda: about_review(fitted=fitted, known=known, stock=stock, rng=new_rng())),
        unanswered=unanswered,
        findings=tuple(run_checks(store, as_of=as_of)),
        invented=is_invented(store, as_of=as_of),
    )


def shaft_to_show(store: Store, *, as_of: datetime.date, pattern: str | None = None) -> str | None:
    """Choose the shaft that waits for its hub and was measured last; None where none has been measured."""
    rows = store.query("shaft_to_show", as_of=as_of, pattern=pattern)
    return None if rows.empty else str(rows["shaft"].iloc[0])
