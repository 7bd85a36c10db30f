"""Hubs that are to come back: who has them, since when, how late they are."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from wearstats.domain.frames import columns
from wearstats.studies.snapshot import Snapshot, part

LOAN_COLUMNS: Final = columns(
    any="hubs", text="pattern shaft owner", whole="to_come overdue_days", day="sent_on back_by"
)


@part("known_on", "pattern")
def hub_loans(snapshot: Snapshot) -> pd.DataFrame:
    """Read who has hubs that are to come back, overdue first; the columns are those of `ShelfStudy.loans`.

    Each owner goes by the code under which the shop knows it.
    """
    loans = snapshot.query("shelf/loans")
    owners = snapshot.query("review/owners", shafts=sorted(loans["shaft"].dropna().unique().tolist()))
    return loans.assign(hubs=loans["hubs"].map(tuple)).merge(owners, on="shaft", how="left")


def overdue_loans(snapshot: Snapshot) -> pd.DataFrame:
    """Give those whose day is over."""
    loans = hub_loans(snapshot)
    return loans[loans["overdue_days"] > 0]


def loan_facts(loan: dict[Any, Any]) -> dict[str, Any]:
    """Give what a remark says of a loan."""
    return {
        "hub": tuple(loan["hubs"]),
        "owner": None if pd.isna(loan["owner"]) else str(loan["owner"]),
        "shaft": None if pd.isna(loan["shaft"]) else str(loan["shaft"]),
        "back_by": None if pd.isna(loan["back_by"]) else pd.Timestamp(loan["back_by"]).date(),
        "days": 0 if pd.isna(loan["overdue_days"]) else int(loan["overdue_days"]),
        "sent_on": pd.Timestamp(loan["sent_on"]).date(),
    }
