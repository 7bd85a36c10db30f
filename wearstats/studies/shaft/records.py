"""What is on record of some shafts, read once for all that are asked about together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from wearstats.errors import AnalysisError
from wearstats.studies.inputs.widths import WidthReadings, read_widths
from wearstats.studies.snapshot import Snapshot, part

_READ: Final = (
    "shaft/changed",
    "shaft/conditions",
    "shaft/hubs_on",
    "shaft/hubs_sent",
    "shaft/inspections_kept_out",
    "shaft/lost",
    "shaft/majors",
    "shaft/remarks",
    "shaft/rows_kept_out",
    "shaft/wanted",
    "fittings/last_fitting",
)

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftRecords:
    """Records of some shafts.

    Parameters
    ----------
    by_shaft : dict of str to dict of str to list of Row
        By the statement that gave them and by shaft, in the statement's order.
    readings : dict of str to WidthReadings
        By shaft; none of those without readings.
    """

    by_shaft: dict[str, dict[str, list[Row]]]
    readings: dict[str, WidthReadings]

    def rows(self, name: str, shaft: str) -> list[Row]:
        """Give the rows that a statement has of a shaft."""
        return self.by_shaft[name].get(shaft, [])


@part("known_on")
def shaft_records(snapshot: Snapshot, shafts: tuple[str, ...]) -> ShaftRecords:
    """Read what is on record of some shafts.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    shafts : tuple of str
        Their names.
    """
    by_shaft: dict[str, dict[str, list[Row]]] = {}
    for name in _READ:
        found: dict[str, list[Row]] = {}
        for row in snapshot.query(name, shafts=list(shafts)).to_dict("records"):
            found.setdefault(str(row["shaft"]), []).append({str(key): value for key, value in row.items()})
        by_shaft[name] = found
    return ShaftRecords(by_shaft=by_shaft, readings=_readings(snapshot, shafts))


def _readings(snapshot: Snapshot, shafts: tuple[str, ...]) -> dict[str, WidthReadings]:
    try:
        readings = read_widths(snapshot, shafts=list(shafts))
    except AnalysisError:
        return {}
    parts = readings.apart()
    return {shaft: part for shaft, part in parts.items() if len(part.moments)}
