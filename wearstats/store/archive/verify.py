"""Reading a whole store, so that a damaged disk is found before the rows are needed."""

from __future__ import annotations

from wearstats.errors import StoreError, counted
from wearstats.store.database.connection import Store
from wearstats.store.database.failures import way_back
from wearstats.store.database.statements import quoted_name


def read_whole(store: Store) -> int:
    """Read every row of every table to its end, and compare the readings with the sums kept beside them.

    Returns
    -------
    int
        How many rows there are.

    Raises
    ------
    StoreError
        Some of the file's bytes are not those that were written.
    """
    rows = 0
    for name in store.tables():
        # a digest of whole rows reads every column; a count would read none
        found = store.rows(f"select count(*), bit_xor(hash(held)) from {quoted_name(name)} as held")
        rows += int(found[0][0])
    refuse_changed_readings(store)
    return rows


def refuse_changed_readings(store: Store) -> None:
    """Raise StoreError where readings do not give the sums kept beside them.

    The database's digest of a block is a sum without order over its words: two alike cancel, so that a stretch of words
    all alike can be lost unseen, and readings are full of such stretches.
    """
    changed = store.query("store/sums_at_odds")["inspection"]
    if len(changed):
        raise StoreError(
            f"{store.path}: is damaged (the readings of {counted(len(changed), 'inspection')} do not give "
            f"the sums kept beside "
            f"them, first {changed.iloc[0]}); nothing was changed; {way_back(store.path)}"
        )
