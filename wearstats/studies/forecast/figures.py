"""Whom to warn and whom to ask, and the figures that several answers show: each has its one meaning here."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.advice.limits import WARN_FROM
from wearstats.analysis.estimate import Estimate
from wearstats.domain.frames import columns
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.studies.forecast.study import ForecastStudy

DUE_MONTHS = (1.0, 3.0, 6.0, 12.0)
"""When an owner is asked after a hub: so many months after it went on, then every year; the shop's habit, a setting."""
_YEARLY = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What is known of the hubs in use, in numbers; review, calls and the page read them here.

    Parameters
    ----------
    hubs_in_use : int
        Hubs in use, of all shafts; reckoned up where only some were looked at.
    hubs_looked_at : int
        Of how many of them the numbers of the next six lines speak.
    to_warn : int
        Whose owner was not yet warned though the hub is of a withdrawn batch, or the chance that it is loose within a
        quarter, or already, is `WARN_FROM` or more.
    already_warned : int
        The same, but the owner was warned.
    to_ask : int
        Others whose owner should be asked by now: warned and not heard of since, or due by `DUE_MONTHS`.
    of_withdrawn_batches : int
        Of a withdrawn batch, warned or not.
    loose_now, loose_within_quarter : float or None
        How many are expected to be loose already without word, and by then; None where no model tells.
    failures_next_quarter, failures_next_year : Estimate
        How many of all hubs in use will become known to be loose; never more than there are.
    """

    hubs_in_use: int
    hubs_looked_at: int
    to_warn: int
    already_warned: int
    to_ask: int
    of_withdrawn_batches: int
    loose_now: float | None
    loose_within_quarter: float | None
    failures_next_quarter: Estimate
    failures_next_year: Estimate


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InUse:
    """The hubs in use, sorted by what is to be done about each.

    Parameters
    ----------
    frame : DataFrame
        Rows of `ForecastStudy.running` with ``due_on``, ``overdue_days`` (0 where not yet due), ``to_warn``,
        ``at_risk`` (to be warned or warned), ``to_ask``.
    figures : Figures
        How many they are.
    """

    frame: Annotated[
        pd.DataFrame,
        columns(carried=True, whole="overdue_days", flag="to_warn at_risk to_ask", day="due_on"),
    ]
    figures: Figures

    @property
    def to_warn(self) -> pd.DataFrame:
        """Those to be warned: of withdrawn batches first, then by the chance to be loose within a quarter."""
        found = self.frame[self.frame["to_warn"]]
        order = np.lexsort((found["fitting"], -found["risk_quarter"].fillna(0.0), ~found["withdrawn"]))
        return found.iloc[order].reset_index(drop=True)

    def held_by_first(self, first: int) -> float | None:
        """Give how many of the first so many to be warned are expected to be loose already; None where no model tells.

        Parameters
        ----------
        first : int
            How many from the top of `to_warn`.
        """
        if self.figures.loose_now is None:
            return None
        return float(self.to_warn["loose_now"].head(first).sum())


def hubs_in_hand(forecast: ForecastStudy) -> InUse:
    """Sort the hubs in use by what is to be done, and count them.

    Parameters
    ----------
    forecast : ForecastStudy
        What is predicted of them; with or without its past quarters.
    """
    frame = with_due(forecast.running, forecast.as_of)
    at_risk = frame["withdrawn"] | (frame["risk_quarter"] >= WARN_FROM)
    to_warn = at_risk & ~frame["told"]
    frame = frame.assign(at_risk=at_risk, to_warn=to_warn, to_ask=~to_warn & (at_risk | (frame["overdue_days"] > 0)))
    predicted = len(frame) > 0 and not frame["loose_now"].isna().all()
    return InUse(
        frame=frame,
        figures=Figures(
            hubs_in_use=forecast.hubs,
            hubs_looked_at=len(frame),
            to_warn=int(to_warn.sum()),
            already_warned=int((at_risk & frame["told"]).sum()),
            to_ask=int(frame["to_ask"].sum()),
            of_withdrawn_batches=int(frame["withdrawn"].sum()),
            loose_now=float(frame["loose_now"].sum()) if predicted else None,
            loose_within_quarter=float(frame["risk_quarter"].sum()) if predicted else None,
            failures_next_quarter=forecast.next_quarter,
            failures_next_year=forecast.next_year,
        ),
    )


def with_due(running: pd.DataFrame, as_of: datetime.date) -> pd.DataFrame:
    """Put to each hub when its owner is to be asked next: the first due month after the last word.

    Parameters
    ----------
    running : DataFrame
        ``fitted_on``, ``last_word_on``.
    as_of : datetime.date
        The day asked about.

    Returns
    -------
    DataFrame
        The same with ``due_on`` and ``overdue_days``, 0 where not yet due.
    """
    heard = ((running["last_word_on"] - running["fitted_on"]).dt.days / MEAN_MONTH_DAYS).to_numpy(dtype=float)
    years = np.arange(1, int(np.ceil(max(float(heard.max(initial=0.0)), 0.0) / _YEARLY)) + 3) * _YEARLY
    months = np.unique(np.concatenate([DUE_MONTHS, years]))
    next_month = months[np.searchsorted(months, heard + 1e-9, side="right")]
    due = running["fitted_on"] + pd.to_timedelta(np.round(next_month * MEAN_MONTH_DAYS), unit="D")
    late = (pd.Timestamp(as_of) - due).dt.days.clip(lower=0)
    return running.assign(due_on=due, overdue_days=late.astype(int))
