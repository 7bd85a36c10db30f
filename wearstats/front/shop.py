"""A store opened on a day, with the questions as its methods."""

from __future__ import annotations

import datetime
import os
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from numbers import Integral, Real
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from wearstats.domain.quarters import parse_quarter
from wearstats.errors import StoreError, UsageError
from wearstats.front.answer import Answer
from wearstats.report.remarks.say import say
from wearstats.store.cache.results import KeptResults
from wearstats.store.database.connection import open_store as open_file
from wearstats.store.left_out import leave_out_impossible
from wearstats.studies.counts.returns import study_returns
from wearstats.studies.gaps.contact import study_contact_seen
from wearstats.studies.gauging.study import study_gauging
from wearstats.studies.inputs.coverage import records_end_early
from wearstats.studies.limits.study import study_limits
from wearstats.studies.loosening.study import study_loosening
from wearstats.studies.methods.study import study_methods
from wearstats.studies.review.calls import study_calls
from wearstats.studies.review.study import study_review
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.shelf.study import study_shelf
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.study import study_stock
from wearstats.studies.wear.study import study_wear

if TYPE_CHECKING:
    pass

MOST_MONTHS = 1200.0
"""No chance is given further ahead than that."""


def open_store(
    path: str | Path,
    *,
    as_of: datetime.date | str | None = None,
    pattern: str | None = None,
    horizon_months: float = 12.0,
    risk_limit: float = 0.05,
    seed: int = 1,
) -> Shop:
    """Open a store for questions; use it in a ``with`` statement, or close it.

    Parameters
    ----------
    path : str or pathlib.Path
        The store's file.
    as_of : datetime.date or str, optional
        Only what was known on that day counts, as a date or ``2026-09-30``; today if not given.
    pattern : str, optional
        Look at one spline pattern only.
    horizon_months : float
        How far ahead chances are given.
    risk_limit : float
        Highest chance of working loose within that time that is acceptable, 0 to 1.
    seed : int
        Seed of everything random.

    Returns
    -------
    Shop

    Raises
    ------
    StoreError
        When there is no store, or another process holds it.
    UsageError, InputError
        When the day is none, the store does not know the pattern, or its sizes cannot be (others are left out).
    """
    day = _day(as_of)
    months = _between("horizon_months", horizon_months, 0.0, MOST_MONTHS)
    limit = _between("risk_limit", risk_limit, 0.0, 1.0)
    if isinstance(seed, bool) or not isinstance(seed, Integral) or seed < 0:
        raise UsageError(f"seed: {seed!r}; allowed: a whole number from 0 on")
    if not isinstance(path, str | os.PathLike):
        raise UsageError(f"path: {path!r}; allowed: the store's file, as text or a path")
    store = open_file(Path(path))
    for left in leave_out_impossible(store):
        if left.pattern == pattern:
            store.close()
            raise left.refusal()
        warnings.warn(str(left), stacklevel=2)
    snapshot = Snapshot(store=store, known_on=day, pattern=pattern, seed=int(seed), kept=KeptResults(store))
    if pattern is not None and (known := sorted(snapshot.query("store/patterns")["pattern"])) and pattern not in known:
        store.close()
        raise UsageError(f"pattern: {pattern!r} was not known on {day}; allowed: {', '.join(known)}")
    return Shop(snapshot=snapshot, horizon_months=months, risk_limit=limit)


def _day(said: datetime.date | str | None) -> datetime.date:
    """Take a day however it is said; a time of day is dropped."""
    if said is None:
        return datetime.date.today()
    try:
        # pandas' and numpy's times too; what is no time at all becomes no day
        day = datetime.date.fromisoformat(said) if isinstance(said, str) else _to_day(said)
    except (ValueError, TypeError, AttributeError):
        day = None
    if day is None:
        raise UsageError(f"as_of: {said!r}; allowed: a day as 2026-09-30")
    return day


def _to_day(said: Any) -> datetime.date | None:
    import pandas as pd

    if isinstance(said, Integral | Real):
        return None
    moment = pd.to_datetime(said)
    return None if pd.isna(moment) else pd.Timestamp(moment).date()


def _between(name: str, value: Any, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not low < float(value) < high:
        raise UsageError(f"{name}: {value!r}; allowed: a number above {low:g} and below {high:g}")
    return float(value)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Shop:
    """A store as known on a day, which answers questions; what one question has worked out serves the others.

    Parameters
    ----------
    snapshot : Snapshot
        The store, day, pattern and seed.
    horizon_months, risk_limit : float
        How far ahead chances are given, and the highest that is acceptable.
    """

    snapshot: Snapshot
    horizon_months: float = 12.0
    risk_limit: float = 0.05

    def __enter__(self) -> Self:
        self._require_open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        """Say which store it is, how far its records reach, and what may be asked."""
        of = f", pattern {self.snapshot.pattern}" if self.snapshot.pattern else ""
        if self.snapshot.store.closed:
            return f"<Shop {self.snapshot.store.path}, closed>"
        early = records_end_early(self.snapshot)
        of += f"; {say(early)}" if early else ""
        return (
            f"<Shop {self.snapshot.store.path} as known on {self.snapshot.known_on}{of}; ask .wear() .gauging() "
            ".shaft(name) .loosening() .methods() .stock() .shelf() .review() .calls() .contact() .limits() .returns()>"
        )

    def close(self) -> None:
        """Let go of the file."""
        self.snapshot.store.close()

    def wear(self) -> Answer:
        """Say how worn the shafts are."""
        return self._answer("wear", study_wear(self._require_open()))

    def gauging(self) -> Answer:
        """Say how far the measurements can be trusted."""
        return self._answer("gauging", study_gauging(self._require_open()))

    def shaft(self, name: str, *, wanted: bool = False) -> Answer:
        """Say which hub to send for a shaft; `wanted`: one is asked for, though the one on it holds."""
        asked = {**self._limited, "wanted": wanted}
        return self._answer("shaft", study_shaft(self._require_open(), _text("shaft", name), **asked))

    def loosening(self) -> Answer:
        """Say how long hubs stay tight."""
        return self._answer("loosening", study_loosening(self._require_open(), **self._limited))

    def methods(self) -> Answer:
        """Compare hubs as supplied with those filed to fit."""
        return self._answer("methods", study_methods(self._require_open(), horizon_months=self.horizon_months))

    def stock(
        self, *, past: bool = False, sizes: int | None = None, hubs: int | None = None, budget: float | None = None
    ) -> Answer:
        """Say which sizes to keep and what to make now.

        Parameters
        ----------
        past : bool
            Whether past quarters are run through too.
        sizes : int, optional
            How many sizes to keep; as many as pay if not given.
        hubs, budget : int, float, optional
            Most hubs made now, and most money for that, of all patterns together.
        """
        asked: dict[str, Any] = {"past": past, "sizes": sizes, "hubs": hubs, "budget": budget}
        return self._answer("stock", study_stock(self._require_open(), **asked, **self._limited))

    def making_list(
        self, folder: Path | str, *, sizes: int | None = None, hubs: int | None = None, budget: float | None = None
    ) -> str:
        """Write what to make now as pages to print and as rows to add once it is made; gives what was written.

        Parameters
        ----------
        folder : pathlib.Path or str
            Where to; a list that is there already is never overwritten.
        sizes, hubs, budget
            As for `stock`.
        """
        from wearstats.report.making.files import room_for_making, write_making
        from wearstats.studies.making.study import study_making

        room_for_making(Path(folder))
        snapshot = self._require_open()
        asked: dict[str, Any] = {"sizes": sizes, "hubs": hubs, "budget": budget}
        stock = study_stock(snapshot, past=False, **asked, **self._limited)
        return write_making(study_making(snapshot, stock), Path(folder))

    def shelf(self) -> Answer:
        """Say what is on the shelf by number, and what is out on loan."""
        return self._answer("shelf", study_shelf(self._require_open()))

    def review(self, quarter: str | None = None, *, ask_all: bool = False) -> Answer:
        """Review a quarter, such as ``2026Q3``; the last that is over if not given.

        Parameters
        ----------
        quarter : str, optional
            Which.
        ask_all : bool
            Whether the failures to come are those that would become known if all owners were asked now and answered.
        """
        asked = parse_quarter(_text("quarter", quarter)) if quarter is not None else None
        study = study_review(self._require_open(), quarter=asked, ask_all=ask_all, **self._limited)
        return self._answer("review", study)

    def calls(self) -> Answer:
        """Say whom to ask next how the hub is doing."""
        return self._answer("calls", study_calls(self._require_open()))

    def contact(self, fittings: str | Iterable[str] = ()) -> Answer:
        """Say whether hubs bore where that was predicted: over all fittings, or of one or some by name."""
        names = (fittings,) if isinstance(fittings, str) else tuple(_text("fitting", name) for name in fittings or ())
        return self._answer("contact", study_contact_seen(self._require_open(), fittings=names))

    def limits(self) -> Answer:
        """Say what standard limits and fits give, on new shafts and on worn ones."""
        return self._answer("limits", study_limits(self._require_open()))

    def returns(self) -> Answer:
        """Say what came back, and why."""
        return self._answer("returns", study_returns(self._require_open(), trials=True))

    def _require_open(self) -> Snapshot:
        if self.snapshot.store.closed:
            raise StoreError(f"{self.snapshot.store.path}: was closed; open it again with wearstats.open_store")
        return self.snapshot

    @property
    def _limited(self) -> dict[str, Any]:
        return {"horizon_months": self.horizon_months, "risk_limit": self.risk_limit}

    def _answer(self, question: str, result: Any) -> Answer:
        return Answer(question=question, known_on=self.snapshot.known_on, result=result)


def _text(what: str, said: Any) -> str:
    if not isinstance(said, str):
        raise UsageError(f"{what}: {said!r}; allowed: its name as text")
    return said
