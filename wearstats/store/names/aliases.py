"""Names that stand for others since a merging or renaming: files that bear the old name count under the new one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from wearstats.store.database.connection import Store

if TYPE_CHECKING:
    from wearstats.store.parsing.incoming import Incoming
    from wearstats.store.parsing.staging import Staging

GIVEN: Final = ("shaft", "hub", "measured_by")
"""What people name, by the column in which they do."""
MADE: Final = ("inspection", "gauge")
"""What intake itself names from shaft, day and measurer, or from measurer, kind and step."""


def settle_names(staging: Staging, kinds: Sequence[str]) -> None:
    """Put the name that is stood for in place of one that stands for another, in all staged rows; tell it.

    Parameters
    ----------
    staging : Staging
        What arrived.
    kinds : sequence of str
        Of `GIVEN` or `MADE`.
    """
    known = staging.store.rows(
        "select kind, name, stands_for, intake from aliases where ended_by is null "
        "and list_contains($kinds::varchar[], kind) order by kind, name",
        {"kinds": list(kinds)},
    )
    for kind, name, stands_for, intake in known:
        for incoming in staging.staged:
            rows = _replace(staging.store, incoming, kind, name, stands_for)
            if rows and kind in GIVEN:
                staging.notes.append(
                    f"{incoming.file}, {kind}: '{name}' stands for {stands_for} since intake {intake}, "
                    f"and was taken for it in {rows} {'row' if rows == 1 else 'rows'}"
                )


def _replace(store: Store, incoming: Incoming, kind: str, name: str, stands_for: str) -> int:
    """Write another name into the rows of a staged file; gives how many."""
    named = {"name": name, "other": stands_for}
    if (listed := incoming.columns.get(f"{kind}s")) is not None and incoming.table.name == "fittings":
        parts = f"string_split({listed}, ';')"
        store.execute(
            f"update {incoming.relation} set {listed} = array_to_string(list_transform({parts}, "
            f"lambda part: case when trim(part) = $name then $other else part end), ';') "
            f"where list_contains(list_transform({parts}, lambda part: trim(part)), $name)",
            named,
        )
    held = incoming.columns.get(kind)
    if held is None:
        return 0
    count = int(store.value(f"select count(*) from {incoming.relation} where trim({held}) = $name", {"name": name}))
    if count:
        store.execute(f"update {incoming.relation} set {held} = $other where trim({held}) = $name", named)
    return count


def begin_alias(store: Store, kind: str, name: str, stands_for: str, *, intake: int) -> None:
    """Let a name stand for another; what stood for that name stands for the other too, and the other for itself.

    Parameters
    ----------
    store : Store
        In a transaction.
    kind : str
        Of `GIVEN` or `MADE`.
    name, stands_for : str
        The old name and the one that counts.
    intake : int
        By which it is so.
    """
    told = {"kind": kind, "other": stands_for, "intake": intake}
    store.execute(
        "insert into aliases (kind, name, stands_for, intake) "
        "select $kind, name, $other, $intake::integer from aliases "
        "where kind = $kind and stands_for = $name and name <> $other and ended_by is null "
        "union all select $kind, $name, $other, $intake::integer",
        told | {"name": name},
    )
    store.execute(
        "update aliases set ended_by = $intake::integer where kind = $kind and ended_by is null "
        "and intake <> $intake::integer "
        "and (name = $other or name in (select name from aliases where kind = $kind and intake = $intake::integer))",
        told,
    )


def end_aliases(store: Store, *, of: int, by: int) -> None:
    """Take back what an intake did to names: those it let stand for others are their own again, by another intake."""
    store.execute(
        "update aliases set ended_by = $by::integer where intake = $of::integer and ended_by is null",
        {"of": of, "by": by},
    )
    store.execute("update aliases set ended_by = null where ended_by = $of::integer", {"of": of})
