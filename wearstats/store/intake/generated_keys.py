"""Names for what an owner's sheet does not name: its inspection and its gauge, made from what it says of them."""

from __future__ import annotations

from dataclasses import replace

from wearstats.domain.units import unit_or_none
from wearstats.store.parsing.blocks import NAMED_BY
from wearstats.store.parsing.staging import Staging

MADE = {name: f"made_{name}" for name in NAMED_BY}
"""The staging column that holds a name made here."""
TURN = "turn"
"""Column that tells apart several inspections of a shaft by one person on one day; the first has no turn, or 1."""


def name_unnamed(staging: Staging) -> None:
    """Give each staged row the name of its inspection or gauge where its file bears none but all the parts of one."""
    for place, incoming in enumerate(staging.staged):
        columns = dict(incoming.columns)
        for name, parts in NAMED_BY.items():
            if name in columns or not {*parts} <= {*columns}:
                continue
            if name == "inspection":
                staging.notes += _take_known_shaft(staging, incoming.relation, columns["shaft"], place=incoming.file)
            written = [f"coalesce(nullif(trim({columns[part]}), ''), '?')" for part in parts]
            if name == "inspection" and TURN in columns:
                written.append(f"nullif(nullif(trim({columns[TURN]}), ''), '1')")
            held = MADE[name]
            staging.store.execute(f"alter table {incoming.relation} add column {held} varchar")
            staging.store.execute(f"update {incoming.relation} set {held} = concat_ws(' ', {', '.join(written)})")
            columns[name] = held
        if columns != incoming.columns:
            said = (*incoming.said, *(name for name in columns if name not in incoming.columns))
            staging.staged[place] = replace(incoming, columns=columns, said=said)


def write_units_alike(staging: Staging) -> None:
    """Write units that mean the same in one way, so that a gauge in ``inch`` is no other than one in ``in``."""
    for incoming in staging.staged:
        held = incoming.columns.get("unit")
        if held is None:
            continue
        for (text,) in staging.store.rows(f"select distinct {held} from {incoming.relation} where {held} is not null"):
            unit = unit_or_none(text)
            if unit not in (None, text):
                staging.store.execute(
                    f"update {incoming.relation} set {held} = $unit where {held} = $text", {"unit": unit, "text": text}
                )


def _take_known_shaft(staging: Staging, relation: str, held: str, *, place: str) -> list[str]:
    """Take a shaft whose name an owner's sheet writes in other capitals or blanks for the one known; tell it."""
    bare = "lower(regexp_replace({}, '\\s', '', 'g'))"
    found = staging.store.rows(
        f"select written.{held}, any_value(shafts.shaft) from (select distinct {held} from {relation}) as written "
        f"join shafts on {bare.format('shafts.shaft')} = {bare.format(f'written.{held}')} "
        f"where trim(written.{held}) not in (select shaft from shafts) group by 1 having count(*) = 1 order by 1"
    )
    for written, known in found:
        staging.store.execute(
            f"update {relation} set {held} = $known where {held} = $written", {"known": known, "written": written}
        )
    return [f"{place}, shaft: '{written.strip()}' was taken for {known}, which is known" for written, known in found]
