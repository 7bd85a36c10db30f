"""Which columns name a row of another table: what a row rests on, and what it only mentions."""

from __future__ import annotations

from dataclasses import dataclass

from wearstats.domain.tables import TABLE_BY_NAME


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A column that names rows of another table.

    Parameters
    ----------
    table, column : str
        Where the name stands.
    parent : str
        The table of the row that it names, by that table's first key column.
    """

    table: str
    column: str
    parent: str

    @property
    def rests(self) -> bool:
        """Whether the row means nothing without the one that it names; else it only mentions it."""
        return TABLE_BY_NAME[self.table].column(self.column).required

    @property
    def many(self) -> bool:
        """Whether it names several."""
        return TABLE_BY_NAME[self.table].column(self.column).kind == "list"


REFERENCES: tuple[Reference, ...] = tuple(
    Reference(table=table, column=column, parent=parent)
    for table, column, parent in (
        ("engine_types", "pattern", "patterns"),
        ("shafts", "pattern", "patterns"),
        ("shaft_events", "shaft", "shafts"),
        ("inspections", "shaft", "shafts"),
        ("inspections", "gauge", "gauges"),
        ("inspections", "piece", "check_pieces"),
        ("check_piece_loans", "piece", "check_pieces"),
        ("check_piece_loans", "shaft", "shafts"),
        ("readings", "inspection", "inspections"),
        ("batches", "pattern", "patterns"),
        ("hubs", "pattern", "patterns"),
        ("hubs", "batch", "batches"),
        ("hub_spaces", "hub", "hubs"),
        ("hub_spaces", "gauge", "gauges"),
        ("dispatches", "hub", "hubs"),
        ("dispatches", "shaft", "shafts"),
        ("dispatches", "order", "orders"),
        ("dispatches", "inspection", "inspections"),
        ("fittings", "shaft", "shafts"),
        ("fittings", "hub", "hubs"),
        ("fittings", "inspections", "inspections"),
        ("fittings", "refit_of", "fittings"),
        ("follow_ups", "fitting", "fittings"),
        ("photos", "shaft", "shafts"),
        ("photos", "fitting", "fittings"),
        ("photos", "inspection", "inspections"),
        ("returns", "hub", "hubs"),
        ("returns", "fitting", "fittings"),
        ("orders", "pattern", "patterns"),
        ("orders", "shaft", "shafts"),
        ("undersizes_offered", "pattern", "patterns"),
        ("stock_counts", "pattern", "patterns"),
        ("costs", "pattern", "patterns"),
    )
)
"""All of them, those of a table together."""
