"""Who has a hub of a batch: in use, sent and not heard of, or come off; and what of it lies here."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from typing import Annotated, Any

import pandas as pd

from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError, UsageError
from wearstats.studies.forecast.running_frame import days_written
from wearstats.studies.forecast.study import study_forecast
from wearstats.studies.inputs.histories import all_histories
from wearstats.studies.inputs.hubs_in_use import read_hubs_in_use
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

_NAMED = 5


class Place(StrEnum):
    """Where a hub is, as far as is known; the first three with an owner."""

    IN_USE = "in-use"
    SENT = "sent"
    OFF = "came-off"
    BACK = "came-back"
    SHELF = "on-shelf"


WITH_OWNERS = (Place.IN_USE, Place.SENT, Place.OFF)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchStudy:
    """The hubs of a batch.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    batch, pattern : str
        Which.
    undersize_um : float
        Its size.
    quantity : int or None
        How many were made; None where the batch itself is not on record, only hubs of it.
    withdrawn : bool
        Whether it is withdrawn.
    withdrawn_on : datetime.date or None
        Since when.
    withdrawn_because : str or None
        Why.
    hubs : DataFrame
        One row a hub with a number, those in use first, the likeliest to be loose first: ``place`` (a `Place`),
        ``owner`` (code; None where none is on record), ``shaft``, ``order``, ``hub``, ``since`` (fitted, sent or back;
        NaT where it never left), ``told`` (whether the owner was warned), ``risk`` (to be loose within a quarter; NaN
        where nothing tells).
    """

    as_of: datetime.date
    batch: str
    pattern: str | None
    undersize_um: float | None
    quantity: int | None
    withdrawn: bool
    withdrawn_on: datetime.date | None
    withdrawn_because: str | None
    hubs: Annotated[
        pd.DataFrame, columns(text="owner shaft order hub", flag="told", day="since", number="risk", any="place")
    ]

    @property
    def with_owners(self) -> pd.DataFrame:
        """Those that an owner has."""
        return self.hubs[self.hubs["place"].isin(list(WITH_OWNERS))]

    def counts(self) -> dict[str, int]:
        """Count hubs by `Place`; those without a number, as far as the quantity tells, lie on the shelf."""
        found = self.hubs["place"].value_counts()
        counts = {str(place): int(found.get(place, 0)) for place in Place}
        counts[Place.SHELF] += max((self.quantity or 0) - len(self.hubs), 0)
        return counts

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {
            "batch": self.batch,
            "pattern": self.pattern,
            "undersize_um": self.undersize_um,
            "quantity": self.quantity,
            "withdrawn": self.withdrawn,
            "withdrawn_on": self.withdrawn_on,
            "withdrawn_because": self.withdrawn_because,
            "counts": self.counts(),
            "hubs": days_written(self.hubs),
        }


@part(*EVERYTHING, kept=True)
def study_batch(snapshot: Snapshot, batch: str) -> BatchStudy:
    """Say where the hubs of a batch are.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked; of all patterns, whatever its own is.
    batch : str
        Its name.

    Raises
    ------
    UsageError
        When neither the batch nor a hub of it is on record.
    """
    snapshot = snapshot.of(None)
    stated = snapshot.query("review/batches").drop_duplicates("batch").set_index("batch")
    hubs = snapshot.query("review/batch_hubs", batch=batch)
    if batch not in stated.index and hubs.empty:
        known = [str(name) for name in stated.index]
        near = get_close_matches(batch, known, n=_NAMED) or known[-_NAMED:]
        raise UsageError(
            f"--batch: {batch!r} is not on record on {snapshot.known_on}; "
            + (f"allowed: one of {len(known)} batches, for instance {', '.join(near)}" if known else "no batch is")
            + "; add it with: wearstats store add batches.csv"
        )
    row = stated.loc[batch].to_dict() if batch in stated.index else None
    return BatchStudy(
        as_of=snapshot.known_on,
        batch=batch,
        pattern=None if row is None else str(row["pattern"]),
        undersize_um=None if row is None else float(row["undersize_um"]),
        quantity=None if row is None else int(row["quantity"]),
        withdrawn=row is not None and bool(row["withdrawn"]),
        withdrawn_on=None if row is None or pd.isna(row["withdrawn_on"]) else pd.Timestamp(row["withdrawn_on"]).date(),
        withdrawn_because=None if row is None or pd.isna(row["withdrawn_because"]) else str(row["withdrawn_because"]),
        hubs=_placed(snapshot, hubs),
    )


def _placed(snapshot: Snapshot, hubs: pd.DataFrame) -> pd.DataFrame:
    """Say where each hub is, and who has it."""
    ran = read_hubs_in_use(snapshot, all_histories(snapshot))
    last = (
        ran.frame.assign(running=ran.running).sort_values("from_on", kind="stable").drop_duplicates("hub", keep="last")
    )
    last = last.rename(columns={"shaft": "shaft_ran", "told": "told_ran"}).set_index("hub")
    frame = hubs.astype({"hub": "str"}).join(last[["running", "shaft_ran", "from_on", "told_ran"]], on="hub")
    running = frame["running"].fillna(False).astype(bool)
    # on a shaft now, or once, and not sent to another since
    ran_there = frame["from_on"].notna() & ~(frame["sent_on"] > frame["from_on"])
    came_back = frame["returned_on"].notna()
    place = pd.Series(Place.SENT, index=frame.index, dtype=object)
    place = place.mask(ran_there, Place.OFF).mask(frame["sent_on"].isna() & ~ran_there, Place.SHELF)
    place = place.mask(came_back, Place.BACK).mask(came_back & frame["back_on_shelf"], Place.SHELF)
    place = place.mask(running, Place.IN_USE)
    shaft = frame["shaft_ran"].where(running | ran_there, frame["shaft"])
    since = frame["from_on"].where(running | ran_there, frame["sent_on"])
    placed = pd.DataFrame(
        {
            "place": place,
            "shaft": shaft,
            "order": frame["order"],
            "hub": frame["hub"],
            "since": pd.to_datetime(since.where(~came_back | running, frame["returned_on"])),
            "told": frame["told_ran"].where(running, frame["told"]).fillna(False).astype(bool),
        }
    )
    owners = snapshot.query("review/owners", shafts=sorted(shaft.dropna().unique().tolist()))
    placed = placed.assign(
        owner=placed["shaft"].map(owners.set_index("shaft")["owner"]).fillna(placed["order"]),
        risk=placed["hub"].map(_risks(snapshot)).astype(float),
        rank=place.map({each: at for at, each in enumerate(Place)}),
    )
    placed = placed.sort_values(["rank", "risk", "hub"], ascending=[True, False, True], kind="stable")
    return placed.drop(columns="rank").reset_index(drop=True)


def _risks(snapshot: Snapshot) -> dict[str, float]:
    """Give the chance of each hub in use to be loose within a quarter, by its number; of those looked at."""
    try:
        running = study_forecast(snapshot, past=False).running
    except AnalysisError:
        return {}
    return dict(zip(running["hub"].astype(str), running["risk_quarter"].astype(float), strict=True))
