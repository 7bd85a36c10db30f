"""How the contract's columns lie in the store, and how they are written back as files bear them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from wearstats.domain.tables import Column, Table


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreColumn:
    """One column of a table in the store.

    Parameters
    ----------
    name : str
        Its name there.
    source : str
        The contract's column that it is made from.
    sql_type : str
        Its type.
    compared : bool
        Whether two rows of one key that differ in it say different things; not for a text whose value stands beside it.
    """

    name: str
    source: str
    sql_type: str
    compared: bool = True

    @property
    def quoted(self) -> str:
        """Its name as SQL takes it, whatever the word."""
        return f'"{self.name}"'


_TYPES = {
    "text": "varchar",
    "choice": "varchar",
    "number": "double",
    "integer": "integer",
    "date": "date",
    "yes_no": "boolean",
    "list": "varchar[]",
}


def _laid_out(table: Table, column: Column) -> list[StoreColumn]:
    """Say how one column of the contract lies in the store."""
    name = column.name
    if table.name == "readings" and name == "width":
        return [
            StoreColumn(name="width_tenth_um", source=name, sql_type="integer"),
            StoreColumn(name="typed", source=name, sql_type="varchar", compared=False),
        ]
    if name == "check_piece":
        return [StoreColumn(name="check_piece_mm", source=name, sql_type="double")]
    if column.kind == "width":
        return [
            StoreColumn(name=name, source=name, sql_type="varchar", compared=False),
            StoreColumn(name=f"{name}_mm", source=name, sql_type="double"),
        ]
    if column.kind == "day_or_month":
        return [
            StoreColumn(name=name, source=name, sql_type="varchar", compared=False),
            StoreColumn(name="fitted_from", source=name, sql_type="date"),
            StoreColumn(name="fitted_to", source=name, sql_type="date"),
        ]
    made = [StoreColumn(name=name, source=name, sql_type=_TYPES[column.kind])]
    if table.name == "gauges" and name == "resolution":
        made.append(StoreColumn(name="resolution_um", source=name, sql_type="double"))
    return made


@lru_cache
def store_columns(table: Table) -> tuple[StoreColumn, ...]:
    """Give the store's columns of a table in their order, without ``intake``."""
    return tuple(laid for column in table.columns for laid in _laid_out(table, column))


@lru_cache
def key_columns(table: Table) -> tuple[StoreColumn, ...]:
    """Give the store's columns that tell the rows of a table apart."""
    return tuple(column for column in store_columns(table) if column.name in table.key)


def contract_text(table: Table) -> dict[str, str]:
    """Give, for each of the contract's columns, the SQL that writes it from the store as files bear it.

    Whole numbers are written without a decimal point, lists with ``;``, yes and no as words.
    """
    written = {}
    for column in table.columns:
        laid = _laid_out(table, column)[0]
        if table.name == "readings" and column.name == "width":
            written[column.name] = "typed"
        elif laid.sql_type == "double":
            written[column.name] = _number_text(laid.quoted)
        elif laid.sql_type == "varchar[]":
            written[column.name] = f"array_to_string({laid.quoted}, ';')"
        elif laid.sql_type == "boolean":
            written[column.name] = f"case when {laid.quoted} then 'yes' when not {laid.quoted} then 'no' end"
        else:
            written[column.name] = f"{laid.quoted}::varchar"
    return written


def _number_text(name: str) -> str:
    """Give the SQL that writes a number plainly: no exponent, no needless decimal point."""
    # a double prints itself shortest and exact, but small ones with an exponent, which intake refuses
    plain = (
        f"case when contains({name}::varchar, 'e') then {name}::decimal(38, 12)::varchar || '' else {name}::varchar end"
    )
    return f"regexp_replace({plain}, '(\\.[0-9]*[1-9])0+$|\\.0+$', '\\1')"


def key_json(table: Table) -> str:
    """Give the SQL that writes a row's key as a JSON list of texts, as files bear them."""
    written = contract_text(table)
    return f"to_json([{', '.join(written[name] for name in table.key)}])::varchar"
