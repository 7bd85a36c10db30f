"""The answer for one shaft: what comes first, what would be sent then, and what every hub would do."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import Annotated, Any

import pandas as pd

from wearstats.analysis.advice.remarks import NO_HUB, First
from wearstats.analysis.advice.rule import Candidate, Decision, Do
from wearstats.analysis.estimate import Z95, Estimate, no_estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.store.advice import GivenAdvice
from wearstats.studies.gaps.contact_of_fitting import FittingSeen
from wearstats.studies.register.of_shaft import Register
from wearstats.studies.shaft.remarks import ShaftRemark

_DONE_NOW: dict[First, Do] = {
    First.DO_NOT_RUN: "decline",
    First.STOP_AND_CHECK: "decline",
    First.SEND_SHAFT_HERE: "send-shaft-here",
    First.NOTHING_TO_SEND: "decline",
    First.DRESS_AND_MEASURE: "measure-again",
    First.MEASURE_AGAIN: "measure-again",
    First.MEASURE_FIRST: "measure-again",
}

CHOICE_COLUMNS = (
    "undersize_um",
    "method",
    "hub",
    "second_um",
    "special",
    *(
        f"{name}{end}"
        for name in ("clearance_um", "gap_left_um", "contact_share", "risk", "cost")
        for end in ("", "_low", "_high")
    ),
    "filing_min",
    "slack",
    "allowed",
    "refused_because",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Advice:
    """What to do.

    Parameters
    ----------
    first : First or None
        What comes before any hub; None where a hub may be sent now.
    second : First or None
        What has to be done between that and a hub; None where nothing has.
    then : Decision
        What the rule chooses, once that is done; nothing where no hub may be named.
    because : tuple of Remark
        Why, the reason of the headline first.
    beside : tuple of Remark
        Readings that hardly belong, but change nothing.
    """

    first: First | None
    second: First | None = None
    then: Decision
    because: tuple[Remark, ...]
    beside: tuple[Remark, ...] = field(default=())

    @property
    def names_no_hub(self) -> bool:
        """Whether no hub is named at all, whatever anybody asks."""
        return self.first in NO_HUB or self.then.chosen is None

    @property
    def hub(self) -> Candidate | None:
        """The hub that is spoken of: to be sent now, or once what comes first is done."""
        return None if self.names_no_hub else self.then.chosen

    @property
    def runner_up(self) -> Candidate | None:
        """The hub that it was measured against."""
        return None if self.names_no_hub else self.then.runner_up

    @property
    def sent_now(self) -> Candidate | None:
        """The hub to be sent now."""
        return self.hub if self.first is None else None

    @property
    def do(self) -> Do:
        """What to do now."""
        return self.then.do if self.first is None else _DONE_NOW[self.first]

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        now = self.sent_now
        return {
            "first": self.do if self.first is None else str(self.first),
            "second": self.second,
            "because": [
                {"code": str(told.code), "words": told, **told.facts} for told in (*self.because, *self.beside)
            ],
            "do": self.do,
            "undersize_um": None if now is None else now.undersize_um,
            "method": None if now is None else now.method,
            "hub": None if now is None else now.hub,
            "then": _named(self.hub),
            "runner_up": _named(self.runner_up),
            "why": self.because[0] if self.because else None,
        }


def _named(hub: Candidate | None) -> dict[str, Any] | None:
    if hub is None:
        return None
    names = ("undersize_um", "method", "hub", "second_um", "special", "minutes", "cost", "risk", "slack")
    return {"do": hub.do, **{name: getattr(hub, name) for name in names}}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """One hub fitted by one method.

    Parameters
    ----------
    candidate : Candidate
        Which, and what would become of it.
    clearance_um, gap_left_um, contact_share : Estimate
        What it would leave.
    filing_um : ndarray, shape (splines, stations)
        What has to come off at each place.
    risk : tuple of (months, Estimate)
        Chance of working loose.
    """

    candidate: Candidate
    clearance_um: Estimate
    gap_left_um: Estimate
    contact_share: Estimate
    filing_um: FloatArray
    risk: tuple[tuple[float, Estimate], ...]

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        hub = self.candidate
        return {
            **{name: getattr(hub, name) for name in ("undersize_um", "method", "hub", "second_um", "special")},
            **{name: getattr(self, name) for name in ("clearance_um", "gap_left_um", "contact_share", "filing_um")},
            "filing_min": hub.minutes,
            "trials": hub.trials,
            "slack_on_trial": hub.slack,
            "risk": [{"months": months, **risk.to_dict()} for months, risk in self.risk],
            "cost": hub.cost,
            "allowed": hub.allowed,
            "refused_because": [str(code) for code in hub.refused],
        }

    def to_row(self) -> dict[str, Any]:
        """Give the row of `ShaftStudy.choices_frame`."""
        hub, risk = self.candidate, self.risk[0][1] if self.risk else no_estimate(remark(ShaftRemark.NO_MODEL))
        row: dict[str, Any] = {name: getattr(hub, name) for name in CHOICE_COLUMNS[:5]}
        told = {"clearance_um": self.clearance_um, "gap_left_um": self.gap_left_um, "contact_share": self.contact_share}
        for name, estimate in (told | {"risk": risk, "cost": hub.cost}).items():
            row |= {name: estimate.value, f"{name}_low": estimate.low, f"{name}_high": estimate.high}
        reasons = "; ".join(str(code) for code in hub.refused)
        return row | {
            "filing_min": hub.minutes, "slack": hub.slack, "allowed": hub.allowed, "refused_because": reasons
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftStudy:
    """The answer for one shaft.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    shaft, pattern : str
        Which.
    inspections : tuple of str
        The readings in hand: since the last hub came off.
    measured_on : datetime.date
        Day of the last of them.
    width_um_below_new : Estimate
        Mean wear.
    map : DataFrame
        See `map_frame`.
    choices : tuple of Choice
        What can be sent, by method; none where no hub may be named.
    risk_limit, horizon_months : float
        The chance of working loose that is accepted within that time.
    currency : str
        Of the costs; minutes of filing where the shop has given no price.
    assumed_prices : tuple of str
        Items that are guesses.
    advice : Advice
        What to do.
    measuring_saves : float
        What another inspection is expected to save, less its price.
    holds_at_half_and_double : bool or None
        Whether the same hub would be chosen were a failure half or twice as dear; None where its price is known.
    cautions : tuple of Remark
        What to beware of on this shaft.
    remarks : tuple of str
        What was noted beside its records.
    history : DataFrame
        See `history_frame`.
    seen : FittingSeen or None
        Contact predicted and marked at its last fitting; None where no marks were noted.
    register : Register or None
        The round register as read; None where it was not.
    bore : Remark or None
        What to do with the hub's bore over the register, `BoreRemark`; None where no hub is named or no register read.
    maps_um : ndarray, shape (draws, splines, stations), or None
        What is known of it now, drawn; None where many shafts were asked about at once.
    """

    as_of: datetime.date
    shaft: str
    pattern: str
    inspections: tuple[str, ...]
    measured_on: datetime.date
    width_um_below_new: Estimate
    map: Annotated[
        pd.DataFrame,
        columns(
            text="station",
            number="width_um_below_new sd_um reading_um_below_new filing_um gap_left_um",
            whole="spline station_index",
        ),
    ]
    choices: tuple[Choice, ...]
    risk_limit: float
    horizon_months: float
    currency: str
    assumed_prices: tuple[str, ...]
    advice: Advice
    measuring_saves: float
    holds_at_half_and_double: bool | None
    cautions: tuple[Remark, ...]
    remarks: tuple[str, ...]
    history: Annotated[
        pd.DataFrame,
        columns(
            text="inspection measured_by kind",
            number="width_um_below_new sd_um low_um_below_new high_um_below_new",
            whole="hubs_before",
            day="measured_on",
        ),
    ]
    seen: FittingSeen | None = None
    register: Register | None = None
    bore: Remark | None = None
    maps_um: FloatArray | None = None

    def history_frame(self) -> pd.DataFrame:
        """One row an inspection of the shaft, before earlier hubs too, by day.

        ``inspection``, ``measured_on``, ``measured_by``, ``kind``, ``hubs_before``, ``width_um_below_new``, ``sd_um``,
        as its readings alone have it, and ``low_um_below_new`` and ``high_um_below_new``, which enclose 95 %.
        """
        return self.history

    def map_frame(self) -> pd.DataFrame:
        """One row a place: ``spline``, ``station``, ``station_index``, widths, and what the advised hub does there."""
        return self.map

    def choices_frame(self) -> pd.DataFrame:
        """One row a choice, with intervals as ``…_low`` and ``…_high``; ``risk`` is that within 12 months."""
        return pd.DataFrame([choice.to_row() for choice in self.choices], columns=list(CHOICE_COLUMNS))

    def choice_of(self, hub: Candidate | None) -> Choice | None:
        """Find the choice that a hub stands in; None where there is no hub."""
        return next((choice for choice in self.choices if choice.candidate is hub), None)

    def given(self, *, version: str) -> GivenAdvice:
        """Give the advice as the store keeps it, by a version of the program."""
        now = self.advice.sent_now
        choice = self.choice_of(now)
        return GivenAdvice(
            shaft=self.shaft,
            given_on=self.as_of,
            inspections=self.inspections,
            do=self.advice.do,
            undersize_um=None if now is None else now.undersize_um,
            method=None if now is None else now.method,
            risk=choice.risk[0][1].value if choice is not None and choice.risk else None,
            version=version,
        )

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        stations = self.map.sort_values(["spline", "station_index"])
        method = remark(ShaftRemark.MAP)
        grid = [
            [
                Estimate(value=lost, low=lost - Z95 * sd, high=lost + Z95 * sd, method=method)
                for lost, sd in zip(rows["width_um_below_new"], rows["sd_um"], strict=True)
            ]
            for _, rows in stations.groupby("spline", sort=True)
        ]
        return {
            "shaft": self.shaft,
            "pattern": self.pattern,
            "inspections": self.inspections,
            "stations": stations["station"].head(stations["station_index"].nunique()).tolist(),
            "width_um_below_new": self.width_um_below_new,
            "map_um": grid,
            "currency": self.currency,
            "assumed_prices": self.assumed_prices,
            "choices": self.choices,
            "advice": self.advice,
            "measuring_again_saves": self.measuring_saves,
            "same_at_half_and_double_the_price_of_a_failure": self.holds_at_half_and_double,
            "register": self.register,
            "bore": self.bore,
            "cautions": self.cautions,
            "remarks": self.remarks,
            "last_fitting": self.seen,
            "history": self.history,
        }
