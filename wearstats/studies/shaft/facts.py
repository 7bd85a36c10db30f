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

_CRACK = re.compile(r"\b(crack|fractur|fissur|split)", re.IGNORECASE)
_NO_CRACK = re.compile(r"\b(no|not|without|free of)\b[^.;,]{0,20}\b(crack|fractur|fissur|split)", re.IGNORECASE)


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
    broke = _day(snapshot.query("shaft/broke", shaft=shaft)["broke_on"].iloc[0])
    scrapped = _day(snapshot.query("shaft/scrapped", shaft=shaft)["scrapped_on"].iloc[0])
    return replace(
        facts,
        conditions=tuple(zip(conditions["word"].astype(str), conditions["inspection"].astype(str), strict=True)),
        broke_on=broke,
        scrapped_on=scrapped,
        crack_remark=next((text for text in remarks_of(snapshot, shaft) if speaks_of_crack(text)), None),
        in_use=in_use,
        wanted=wanted or bool(snapshot.query("shaft/wanted", shaft=shaft, since=since)["asked"].iloc[0]),
        ran=ran[0] if ran else None,
        rejected=int(snapshot.query("shaft/rows_kept_out", shaft=shaft)["kept_out"].iloc[0]),
    )


def _day(value: Any) -> datetime.date | None:
    return None if pd.isna(value) else pd.Timestamp(value).date()


def speaks_of_crack(text: str) -> bool:
    """Whether a remark speaks of a crack, and not of there being none."""
    return bool(_CRACK.search(text)) and not _NO_CRACK.search(text)


def _hub(row: dict[Any, Any]) -> tuple[HubInUse, bool]:
    """Give a hub that went on, and whether it came off."""
    hub = HubInUse(
        hub=str(row["hub"]),
        fitted_on=_day(row["fitted_on"]),
        state=None if pd.isna(row["state"]) else str(row["state"]),
        heard_on=_day(row["heard_on"]),
        loose=bool(row["loose"]),
    )
    return hub, bool(row["off"])
