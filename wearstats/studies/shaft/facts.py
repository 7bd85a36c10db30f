"""What is on record of a shaft beside its width: damage, the hub on it, what asks for another, rows kept out."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace
from typing import Any, Final

import pandas as pd

from wearstats.analysis.advice.gate import HubInUse, ShaftFacts
from wearstats.studies.shaft.background import ShaftBackground
from wearstats.studies.shaft.records import ShaftRecords

_WORDS = r"crac?k|craked|fractur|fissur|split|riss|gerissen|трещин|grieta|cricca|crepa|fêlure|sprick|revne|pękni|scheur"
"""Stems of what a crack is called, in some languages of owners, and as it is misspelt."""

_WITHDRAWN: Final = ("withdrawn_batch", "withdrawn_because")

_CRACK = re.compile(rf"({_WORDS})", re.IGNORECASE)
_NO_CRACK = re.compile(
    rf"\b(no|not|without|free of|keine?|без|sin)\s+(\w+\s+)?\w*({_WORDS})\w*"
    rf"|\w*({_WORDS})\w*\s*[:?]+\s*(no|none|keine?)\b",
    re.IGNORECASE,
)
_DOUBT = re.compile(r"\b(except|but|unless|although|though|sure|certain|maybe|perhaps|possibl\w*)\b", re.IGNORECASE)


def with_records(
    facts: ShaftFacts,
    records: ShaftRecords,
    shaft: str,
    *,
    known_on: datetime.date,
    background: ShaftBackground,
    wanted: bool,
) -> ShaftFacts:
    """Add to what the readings tell what the records tell.

    Parameters
    ----------
    facts : ShaftFacts
        Of the readings.
    records : ShaftRecords
        What is on record of it, and perhaps of others.
    shaft : str
        Its name.
    known_on : datetime.date
        The day up to which things were known.
    background : ShaftBackground
        What all shafts say.
    wanted : bool
        Whether somebody asks for a hub, whatever is on record.
    """
    hubs = [_hub(row) for row in records.rows("shaft/hubs_on", shaft)]
    on = hubs[0] if hubs and not hubs[0][1] else None
    in_use = None if on is None else on[0]
    if in_use is not None and (chances := background.at_risk.get(shaft)) is not None:
        in_use = replace(in_use, loose_now=chances[0], loose_soon=chances[1])
    sent = next((_sent(row) for row in records.rows("shaft/hubs_sent", shaft)), None)
    last = sent or (hubs[0][0] if hubs else None)
    since = None if last is None else last.fitted_on
    went_on = [*([sent] if sent else []), *(hub for hub, _ in hubs)]
    ran = [hub for hub in went_on if (hub.heard_on or hub.fitted_on or known_on) > facts.measured_on]
    # of those that ran since the readings one that came loose tells most
    ran.sort(key=lambda hub: not hub.loose)
    lost_on = {str(row["what"]): _day(row["happened_on"]) for row in records.rows("shaft/lost", shaft)}
    # what was noted beside its records, each with its place
    remarks = tuple(
        f"{row['name']}, {row['column_name']}: {row['value']}" for row in records.rows("shaft/remarks", shaft)
    )
    changed = [(str(row["what"]), _day(row["happened_on"])) for row in records.rows("shaft/changed", shaft)]
    asked_on = [_day(row["asked_on"]) for row in records.rows("shaft/wanted", shaft)]
    kept_out = records.rows("shaft/inspections_kept_out", shaft)
    said = [
        *remarks,
        *(f"{row['inspection']}, condition, kept out: {row['condition']}" for row in kept_out),
    ]
    return replace(
        facts,
        conditions=tuple((str(row["word"]), str(row["inspection"])) for row in records.rows("shaft/conditions", shaft)),
        broke_on=lost_on.get("broken"),
        scrapped_on=lost_on.get("scrapped"),
        remarks=remarks,
        crack_remark=next((text for text in said if speaks_of_crack(text)), None),
        in_use=in_use,
        sent=sent,
        wanted=wanted or any(since is None or (day is not None and day > since) for day in asked_on),
        ran=ran[0] if ran else None,
        changed=next(((what, day) for what, day in changed if day is not None and day > facts.measured_on), None),
        rejected=sum(int(row["kept_out"]) for row in records.rows("shaft/rows_kept_out", shaft)),
        inspections_kept_out=tuple(str(row["inspection"]) for row in kept_out),
    )


def _day(value: Any) -> datetime.date | None:
    return None if pd.isna(value) else pd.Timestamp(value).date()


def speaks_of_crack(text: str) -> bool:
    """Whether a remark speaks of a crack, and not only of there being none; in doubt it does."""
    if not _CRACK.search(text):
        return False
    # what is left once every plain denial is taken out may still name one
    return bool(_DOUBT.search(text)) or bool(_CRACK.search(_NO_CRACK.sub("", text)))


def _sent(row: dict[Any, Any]) -> HubInUse:
    """Give a hub that was sent, and may have gone on at once for all we know."""
    return HubInUse(hub=str(row["hub"]), fitted_on=_day(row["sent_on"]), **_said(row, "back_as", *_WITHDRAWN))


def _said(row: dict[Any, Any], *names: str) -> dict[str, Any]:
    return {name: None if pd.isna(row[name]) else str(row[name]) for name in names}


def _hub(row: dict[Any, Any]) -> tuple[HubInUse, bool]:
    """Give a hub that went on, and whether it came off."""
    hub = HubInUse(
        hub=str(row["hub"]),
        fitted_on=_day(row["fitted_on"]),
        state=None if pd.isna(row["state"]) else str(row["state"]),
        heard_on=_day(row["heard_on"]),
        loose=bool(row["loose"]),
        **_said(row, *_WITHDRAWN),
    )
    return hub, bool(row["off"])
