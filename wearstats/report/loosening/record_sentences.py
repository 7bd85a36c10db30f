"""Which records the chance of working loose hangs on most, and which are probably wrong, in words."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from wearstats.errors import AnalysisError
from wearstats.report.words.phrases import in_hundred, joined, two_figures
from wearstats.store.checks import Finding
from wearstats.studies.loosening.moving_records import MovingRecords, moving_records, records_left_out
from wearstats.studies.snapshot import Snapshot

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Iterator

    import pandas as pd

    from wearstats.store.database.connection import Store

Doubt = tuple[str, str, str]
"""What is doubted, what looks wrong there, what to do."""

UNLIKE_OTHERS: Final = "unlike_all_others"
"""The check that needs the fitted model: it stands after those that are statements."""

_SHOWN: Final = 3
_THIMBLES_UM: Final = {250.0: "half a turn of a thimble in mm", 317.5: "half a turn of a thimble in inches"}
_NEAR: Final = 0.15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnlikeOthers:
    """What the model finds in a store.

    Parameters
    ----------
    findings : list of Finding
        Records that are probably wrong.
    moves_most : DataFrame or None
        ``shaft``, ``fittings``, ``slope_without``: what the slope hangs on; None where there is no model.
    notes : list of str
        The same in words.
    """

    findings: list[Finding] = field(default_factory=list)
    moves_most: pd.DataFrame | None = None
    notes: list[str] = field(default_factory=list)


def find_unlike(store: Store, *, as_of: datetime.date) -> UnlikeOthers:
    """Find records unlike all others; nothing where no shaft was measured."""
    snapshot = Snapshot(store=store, known_on=as_of)
    try:
        records = _records(snapshot)
    except AnalysisError:
        return UnlikeOthers()
    findings = [
        Finding(check=UNLIKE_OTHERS, place=place, found=found, next_step=step)
        for place, found, step in record_doubts(records)
    ]
    return UnlikeOthers(
        findings=findings, moves_most=None if records.slope is None else records.shafts, notes=moving_sentences(records)
    )


def _records(snapshot: Snapshot) -> MovingRecords:
    try:
        return moving_records(snapshot)
    except AnalysisError:
        return records_left_out(snapshot)


def record_sentences(records: MovingRecords) -> list[str]:
    """Say what was left out, what is doubted, and what moves the answer most."""
    doubts = list(record_doubts(records))
    named = [f"{place} ({found})" for place, found, _ in doubts[:_SHOWN]]
    more = [f"{len(doubts) - _SHOWN} more"] if len(doubts) > _SHOWN else []
    looks = [f"records that look wrong hardly count: {joined(named + more)}; all: wearstats store check"]
    return [*(looks if named else []), *moving_sentences(records)]


def moving_sentences(records: MovingRecords) -> list[str]:
    """Say without which shafts the slope would change most."""
    if records.slope is None:
        return []
    times = math.exp(records.slope)
    parts = [
        f"shaft {shaft} ({fittings}), without it {math.exp(without):.3g} times"
        for shaft, fittings, without in records.shafts.itertuples(index=False)
    ]
    return [f"what moves that rate of {times:.3g} times most: {'; '.join(parts)}"] if parts else []


def record_doubts(records: MovingRecords) -> Iterator[Doubt]:
    """Give every record that is left out or doubted, the surest first."""
    yield from _hubs(records.hubs.itertuples(index=False))
    yield from _inspections(records.inspections.itertuples(index=False))
    for fitting, shaft, hub, chance in records.doubted.itertuples(index=False):
        yield (
            f"fitting {fitting}, shaft {shaft}",
            f"its readings, hub {hub} and what became of it hardly fit: {in_hundred(chance)} in 100 that one is wrong",
            "check on paper the hub, the dates, the states and the readings in hand",
        )


def _hubs(rows: Iterable[tuple[str, float, float]]) -> Iterator[Doubt]:
    for hub, width_mm, off_um in rows:
        yield (
            f"hub {hub}",
            f"gauged {width_mm:.3f} mm, {two_figures(abs(off_um))} µm {'over' if off_um > 0 else 'under'} its size",
            "gauge it again, or correct space_width_mm; until then it is taken by its size",
        )


def _inspections(rows: Iterable[tuple[str, str, float]]) -> Iterator[Doubt]:
    for inspection, shaft, off_um in rows:
        far, way = two_figures(abs(off_um)), "wide" if off_um > 0 else "narrow"
        slip = next((name for um, name in _THIMBLES_UM.items() if abs(abs(off_um) - um) < _NEAR * um), None)
        yield (
            f"inspection {inspection}, shaft {shaft}",
            f"all of it about {far} µm too {way} for its shaft and hub{f', perhaps {slip}' if slip else ''}",
            "have it measured again, or correct the readings; until then it is left out",
        )
