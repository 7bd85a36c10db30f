"""Names of the store that a shell completes: shafts and patterns."""

from __future__ import annotations

import os
from pathlib import Path

import typer

DEFAULT_STORE = "wearstats.duckdb"
STORE_VARIABLE = "WEARSTATS_STORE"


def complete_shaft(context: typer.Context, incomplete: str) -> list[str]:
    """Give the shafts whose names begin so."""
    return _names(context, incomplete, "shaft", "known_shafts")


def complete_pattern(context: typer.Context, incomplete: str) -> list[str]:
    """Give the patterns whose names begin so."""
    return _names(context, incomplete, "pattern", "known_patterns")


def _names(context: typer.Context, incomplete: str, column: str, known: str) -> list[str]:
    """Read names from the store that the line so far names; none where that cannot be, for nobody asked a question."""
    from wearstats.errors import WearstatsError
    from wearstats.store.database.connection import open_store

    given = context.params.get("store") or os.environ.get(STORE_VARIABLE) or DEFAULT_STORE
    sql = (
        f"select distinct {column} from {known}(current_date) where starts_with({column}, $begun) order by 1 limit 200"
    )
    try:
        with open_store(Path(given), wait_s=0.0) as store:
            return [str(name) for (name,) in store.rows(sql, {"begun": incomplete})]
    except WearstatsError:
        return []
