"""A part of a store in memory: some shafts with all that was ever said of them, for those who ask many times.

A question about a few thousand shafts of a million reads through all of them; asked for every past quarter anew, that
is most of the work. In the part stand whole rows, corrected ones too, so that what was known on any day can be asked of
it as of the store itself, and gets the same answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import pandas as pd

from wearstats.store.database.connection import Store

_WANTED: Final = (
    # hubs that ever had to do with the shafts; what became of them elsewhere belongs to their story
    """
    create temp table wanted_hubs as
    select hub from {whole}.fittings where shaft in (select shaft from wanted_shafts)
    union
    select hub from {whole}.history_fittings where shaft in (select shaft from wanted_shafts)
    union
    select hub from {whole}.dispatches where shaft in (select shaft from wanted_shafts)
    union
    select hub from {whole}.history_dispatches where shaft in (select shaft from wanted_shafts)
    """,
    """
    create temp table wanted_fittings as
    select fitting, shaft, inspections from {whole}.fittings where hub in (select hub from wanted_hubs)
    union
    select fitting, shaft, inspections from {whole}.history_fittings where hub in (select hub from wanted_hubs)
    """,
    # other shafts of the same hubs: a fitting there is told with its shaft's pattern and duty
    """
    insert into wanted_shafts
    select shaft from wanted_fittings
    union
    select shaft from {whole}.dispatches where hub in (select hub from wanted_hubs)
    union
    select shaft from {whole}.history_dispatches where hub in (select hub from wanted_hubs)
    """,
    """
    create temp table wanted_inspections as
    select inspection from {whole}.inspections where shaft in (select shaft from wanted_shafts)
    union
    select inspection from {whole}.history_inspections where shaft in (select shaft from wanted_shafts)
    union
    select unnest(inspections) from wanted_fittings
    """,
)
"""Which hubs, fittings, further shafts and inspections belong to the shafts that were asked for."""

_OF_SHAFTS: Final = "shaft in (select shaft from wanted_shafts)"
_OF_HUBS: Final = "hub in (select hub from wanted_hubs)"
_OF_INSPECTIONS: Final = "inspection in (select inspection from wanted_inspections)"
_RULES: Final = {
    "intakes": "true",
    "aliases": "true",
    "patterns": "true",
    "gauges": "true",
    "check_pieces": "true",
    "batches": "true",
    "costs": "true",
    "undersizes_offered": "true",
    "shafts": _OF_SHAFTS,
    "shaft_events": _OF_SHAFTS,
    "hubs": _OF_HUBS,
    "hub_spaces": _OF_HUBS,
    "dispatches": _OF_HUBS,
    "fittings": _OF_HUBS,
    "follow_ups": "fitting in (select fitting from wanted_fittings)",
    "returns": f"{_OF_HUBS} or fitting in (select fitting from wanted_fittings)",
    "inspections": _OF_INSPECTIONS,
    "readings": _OF_INSPECTIONS,
    "inspection_moments": _OF_INSPECTIONS,
    "reading_counts": _OF_INSPECTIONS,
    "reading_intakes": _OF_INSPECTIONS,
}
"""Which rows of each table stand in the part, and of its past; of the tables that are not named, none."""


def part_of_shafts(store: Store, shafts: Sequence[str]) -> Store:
    """Copy what was ever said of some shafts, and of hubs that had to do with them, into memory.

    Parameters
    ----------
    store : Store
        The whole.
    shafts : sequence of str
        Which; the queries that take a list of shafts give the same rows from the part, for these and no others.

    Returns
    -------
    Store
        It ends with the whole.
    """
    part = store.in_memory()
    whole = store.catalogue
    with part.frame("given_shafts", pd.DataFrame({"shaft": pd.Series(list(shafts), dtype="str")})):
        part.execute("create temp table wanted_shafts as select shaft from given_shafts")
    for statement in _WANTED:
        part.execute(statement.format(whole=whole))
    for name in part.tables():
        if rule := _RULES.get(name.removeprefix("history_")):
            part.execute(f"insert into {name} by name select * from {whole}.{name} where {rule}")
    part.write = False
    return part
