"""What is on record of a shaft beside its width: damage, the hub on it, what asks for another, rows kept out."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace
from typing import Any

import pandas as pd

from wearstats.analysis.advice.gate import HubInUse, ShaftFacts
from wearstats.studies.shaft.background import ShaftBackground, shaft_digest
from wearstats.studies.snapshot import Snapshot

_WORDS = r"crac?k|craked|fractur|fissur|split|riss|gerissen|трещин|grieta|cricca|crepa|fêlure|sprick|revne|pękni|scheur"
"""Stems of what a crack is called, in some languages of owners, and as it is misspelt."""

_CRACK = re.compile(rf"({_WORDS})", re.IGNORECASE)
_NO_CRACK = re.compile(
    rf"\b(no|not|without|free of|keine?|без|sin)\s+(\w+\s+)?\w*({_WORDS})\w*"
    rf"|\w*({_WORDS})\w*\s*[:?]+\s*(no|none|keine?)\b",
    re.IGNORECASE,
)
_DOUBT = re.compile(r"\b(except|but|unless|although|though|sure|certain|maybe|perhaps|possibl\w*)\b", re.IGNORECASE)


def remarks_of(snapshot: Snapshot, shaft: str) -> tuple[str, ...]:
    """Give what was noted beside a shaft and its inspections, fittings and follow-ups, each with its place."""
    noted = snapshot.query("shaft/remarks", shaft=shaft).to_dict("records")
    return tuple(f"{row['name']}, {row['column_name']}: {row['value']}" for row in noted)


def with_records(
    facts: ShaftFacts, snapshot: Snapshot, shaft: str, *, background: ShaftBackground, wanted: bool
) -> ShaftFacts:
    """Add to what the readings tell what the records tell.

    Parameters
    ----------
    facts : ShaftFacts
        Of the readings.
    snapshot : Snapshot
        What is asked.
    shaft : str
        Its name.
    background : ShaftBackground
        What all shafts say.
    wanted : bool
        Whether somebody asks for a hub, whatever is on record.
    """
    hubs = [_hub(row) for row in snapshot.query("shaft/hubs_on", shaft=shaft).to_dict("records")]
    on = hubs[0] if hubs and not hubs[0][1] else None
    in_use = None if on is None else on[0]
    if in_use is not None and (chances := background.at_risk.get(shaft_digest(shaft))) is not None:
        in_use = replace(in_use, loose_now=chances[0], loose_soon=chances[1])
    since = hubs[0][0].fitted_on if hubs else None
    ran = [hub for hub, _ in hubs if (hub.heard_on or hub.fitted_on or snapshot.known_on) > facts.measured_on]
    # of those that ran since the readings one that came loose tells most
    ran.sort(key=lambda hub: not hub.loose)
    conditions = snapshot.query("shaft/conditions", shaft=shaft)
    lost = snapshot.query("shaft/lost", shaft=shaft)
    lost_on = {str(what): _day(day) for what, day in zip(lost["what"], lost["happened_on"], strict=True)}
    remarks = remarks_of(snapshot, shaft)
    changed = snapshot.query("shaft/changed", shaft=shaft, measured_on=facts.measured_on).to_dict("records")
    kept_out = snapshot.query("shaft/inspections_kept_out", shaft=shaft).to_dict("records")
    said = [
        *remarks,
        *(f"{row['inspection']}, condition, kept out: {row['condition']}" for row in kept_out),
    ]
    return replace(
        facts,
        conditions=tuple(zip(conditions["word"].astype(str), conditions["inspection"].astype(str), strict=True)),
        broke_on=lost_on.get("broken"),
        scrapped_on=lost_on.get("scrapped"),
        remarks=remarks,
        crack_remark=next((text for text in said if speaks_of_crack(text)), None),
        in_use=in_use,
        wanted=wanted or bool(snapshot.query("shaft/wanted", shaft=shaft, since=since)["asked"].iloc[0]),
        ran=ran[0] if ran else None,
        changed=(str(changed[0]["what"]), pd.Timestamp(changed[0]["happened_on"]).date()) if changed else None,
        rejected=int(snapshot.query("shaft/rows_kept_out", shaft=shaft)["kept_out"].iloc[0]),
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


def _hub(row: dict[Any, Any]) -> tuple[HubInUse, bool]:
    """Give a hub that went on, and whether it came off."""
    hub = HubInUse(
        hub=str(row["hub"]),
        fitted_on=_day(row["fitted_on"]),
        state=None if pd.isna(row["state"]) else str(row["state"]),
        heard_on=_day(row["heard_on"]),
        loose=bool(row["loose"]),
        withdrawn_batch=None if pd.isna(row["withdrawn_batch"]) else str(row["withdrawn_batch"]),
        withdrawn_because=None if pd.isna(row["withdrawn_because"]) else str(row["withdrawn_because"]),
    )
    return hub, bool(row["off"])
