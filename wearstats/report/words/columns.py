"""What every column of every table means, in words; and the list of all columns, for a terminal and for a file.

``python -m wearstats.report.words.columns data/README.md`` writes the list anew between its two marks in a file.
"""

from __future__ import annotations

import sys
from pathlib import Path

from wearstats.domain.examples import example_of
from wearstats.domain.tables import TABLE_BY_NAME, TABLES, Column, Table
from wearstats.domain.tolerances.standard_splines import ISO_14
from wearstats.store.parsing.blocks import NAMED_BY

HEADINGS = ("column", "needed", "what it is", "allowed", "example")
BEGIN, END = "<!-- columns: written by make columns -->", "<!-- end of columns -->"

TABLE_WORDS = {
    "patterns": "a kind of shaft, new, with its standard hub; sizes of ISO 14 are known and need no row",
    "engine_types": "which engine types take which pattern, as you know it; rows that name an engine find theirs by it",
    "gauges": "what was measured with",
    "check_pieces": "a pin or block of known size that goes to owners along with a sheet, to tell their gauge's bias",
    "shafts": "one shaft",
    "shaft_events": "what was done to a shaft besides fitting hubs",
    "inspections": "one person measuring one shaft on one day",
    "readings": "one width of one spline at one place; or as on paper, a row a spline and a column a station",
    "check_piece_loans": "a check piece sent out: to the owner of a shaft, or to an owner by name",
    "batches": "hubs made together",
    "hubs": "one hub",
    "hub_spaces": "a space of a hub gauged at one end; or a row a space, with columns mouth and nut-face",
    "dispatches": "a hub sent off",
    "fittings": "a hub put on a shaft, and how it went on",
    "follow_ups": "what was heard of a fitted hub later",
    "photos": "a photo of contact marks or damage; wearstats store photo adds it with its file",
    "returns": "a hub that came back",
    "orders": "what was asked for",
    "undersizes_offered": "which undersizes are on offer, and since when",
    "stock_counts": "what lies on the shelf",
    "costs": "prices by which sizes are planned; the latest on or before a day holds",
}

_WORDS = {
    "pattern": "name of the pattern, or a size of ISO 14 such as 8x36x40; may be left out where one is on record",
    "splines": "number of splines",
    "width_mm": "width of a new spline",
    "space_width_mm": "width of the standard hub's spaces",
    "minor_mm": "minor diameter",
    "major_mm": "major diameter",
    "engaged_mm": "length over which hub and shaft engage",
    "register_mm": "diameter of the round register",
    "stations": "places along a spline where it is measured, from the shoulder to the nut end",
    "pull_on_mm": "last stretch over which a hub is pulled on",
    "grid_um": "step in which undersizes can be made",
    "lead_days": "days from ordering a batch to having it",
    "batch_size": "hubs made at a time",
    "deepest_um": "how deep a hub's spaces may be filed; 150 without",
    "engine_type": "type of engine, as it is written in orders; a number behind it does not matter",
    "gauge": "name of the gauge",
    "kind": "kind of gauge",
    "resolution": "smallest step that it shows, in its unit",
    "checked_on": "day on which the gauge was last checked",
    "shaft": "name of the shaft",
    "engine": "engine it sits in",
    "region": "where it runs",
    "duty": "how hard it runs",
    "first_seen_on": "day on which it was first seen",
    "happened_on": "day of the event",
    "what": "what was done",
    "inspection": "name of the inspection",
    "measured_on": "day of measuring",
    "measured_by": "who measured; a number will do",
    "measured_at": "at the owner's or here",
    "unit": 'unit of the sizes; inch, inches and " mean in',
    "hours": "running hours of the engine",
    "register": "measured diameter of the register",
    "major": "measured major diameter",
    "spline_1_marked": "whether spline 1 bears its pen dot",
    "check_piece": "size of the pin or block that was measured along, in mm",
    "check_reading": "what the gauge showed on it",
    "piece": "name of the check piece that was measured along, where it has one; its own size then counts",
    "size_mm": "its own size, as calibrated; a piece that has worn gets a new name",
    "size_u_um": "standard uncertainty of that size; counts as 0 where it is blank",
    "back_by": "day by which it is to be back",
    "back_on": "day on which it came back; blank while it is out",
    "photo": "name of the photo, made from its content",
    "taken_on": "day on which it was taken",
    "shows": "what it shows",
    "file_name": "name of the file as it was given",
    "sha256": "digest of the file as it is kept, SHA-256",
    "bytes": "size of the file as it is kept",
    "condition": "what was seen and felt; blank: nobody looked",
    "spline": "number of the spline, clockwise from the marked one",
    "station": "place along the spline",
    "trial": "which reading of that place",
    "width": "width as read",
    "batch": "name of the batch",
    "undersize_um": "how much narrower than standard the spaces are",
    "made_on": "day of making",
    "quantity": "hubs in the batch",
    "go_mm": "size of the plug gauge that goes in",
    "no_go_mm": "size of the plug gauge that does not",
    "material": "what they are made of",
    "hardened": "whether they are hardened",
    "hub": "name of the hub",
    "space_u_um": "standard uncertainty of the gauged space",
    "gauged_on": "day of gauging",
    "space": "number of the space, clockwise from the marked one as seen from the nut face",
    "end": "mouth: the end that goes on first; nut-face: the outer end",
    "sent_on": "day of sending",
    "order": "name of the order",
    "sent_as": "advised way of fitting",
    "told": "whether the owner has been warned",
    "fitting": "name of the fitting",
    "fitted_on": "day of fitting, or only its month",
    "method": "who filed it, if anybody",
    "inspections": "inspections by which the hub was chosen",
    "went_on": "how it went on",
    "pulled_mm": "stretch over which it was pulled",
    "seated": "whether it came to rest against the shoulder",
    "drive_marked": "driving flanks that marked",
    "coast_marked": "coasting flanks that marked",
    "play_um": "play measured at the fitting",
    "filing_min": "minutes of filing",
    "compound": "retaining compound used",
    "refit_of": "earlier fitting of the same hub",
    "known_from": "day from which the fitting was followed, where that is later",
    "seen_on": "day of the news",
    "state": "how the hub was",
    "prompted": "whether you had asked",
    "how": "how that was found",
    "cause": "why it came loose",
    "failed_on": "day it came loose, if the owner knows",
    "returned_on": "day on which it came back",
    "reason": "why it came back",
    "back_on_shelf": "whether it can be sent again",
    "ordered_on": "day of the order",
    "asked_undersize_um": "undersize that was asked for",
    "outcome": "what became of the order",
    "from_on": "first day on which it holds",
    "to_on": "last day on which it holds",
    "counted_on": "day of counting",
    "on_hand": "hubs on the shelf",
    "item": "what costs",
    "amount": "how much",
    "currency": "in which currency",
    "owner": "code under which you know its owner",
    "withdrawn_on": "day since which the batch is withdrawn",
    "withdrawn_because": "why it is withdrawn",
}
_OF_TABLE = {
    ("patterns", "pattern"): "name of the pattern",
    ("gauges", "unit"): 'unit that it shows; inch, inches and " mean in',
    ("check_pieces", "piece"): "name of the check piece, as it is marked",
    ("check_pieces", "checked_on"): "day on which it was last calibrated",
    ("check_piece_loans", "piece"): "name of the check piece",
    ("check_piece_loans", "shaft"): "shaft that is to be measured with it",
    ("check_piece_loans", "owner"): "code of the owner who has it, where no shaft is named",
    ("photos", "shaft"): "shaft that it shows, or whose hub",
    ("photos", "fitting"): "fitting that it shows",
    ("photos", "inspection"): "inspection that it belongs to",
    ("hubs", "space_width_mm"): "width of its spaces as gauged",
    ("hub_spaces", "width_mm"): "width of the space there",
    ("hubs", "register_mm"): "bore over the register",
    ("dispatches", "inspection"): "inspection by which it was chosen",
    ("dispatches", "back_by"): "day by which it is to come back, where two sizes were sent and one stays",
    ("dispatches", "shaft"): "shaft that it was sent for",
    ("orders", "shaft"): "shaft that it is wanted for",
}
_KINDS = {
    "text": "text",
    "number": "number",
    "integer": "whole number",
    "date": "date, YYYY-MM-DD",
    "day_or_month": "date, YYYY-MM-DD or YYYY-MM",
    "yes_no": "yes, no",
    "list": "names, set apart by ;",
    "width": "size in the inspection's unit",
}
_STANDARD = "Sizes of ISO 14 known by their names, which need no sizes here"
_UNITS = {"mm": "mm", "um": "\u00b5m", "min": "minutes", "days": "days"}


def column_rows(table: str | None = None) -> list[dict[str, str]]:
    """List all columns of all tables, or of one.

    Parameters
    ----------
    table : str, optional
        One table only; KeyError where there is none such.

    Returns
    -------
    list of dict
        Keys ``table`` and those of `HEADINGS`.
    """
    tables = TABLES if table is None else (TABLE_BY_NAME[table],)
    return [
        {"table": item.name} | dict(zip(HEADINGS, _row(item, column), strict=True))
        for item in tables
        for column in item.columns
    ]


def column_lines(table: str | None = None) -> list[str]:
    """Write the list of all columns, or of those of one table, in plain lines."""
    lines = []
    for item in TABLES if table is None else (TABLE_BY_NAME[table],):
        lines += [f"{item.name}: {TABLE_WORDS[item.name]}; one row for each {', '.join(item.key)}"]
        lines += [
            f"  {name:<18} {needed}; {words}; {allowed}; for example {example}"
            for name, needed, words, allowed, example in (_row(item, column) for column in item.columns)
        ]
        lines += [f"  {_STANDARD}: {', '.join(ISO_14)}"] if item.name == "patterns" else []
        lines += [""]
    return lines[:-1]


def columns_markdown() -> str:
    """Write the list of all columns in Markdown, a part a table."""
    parts = []
    for table in TABLES:
        rows = [f"| {' | '.join(row[name] for name in HEADINGS)} |" for row in column_rows(table.name)]
        head = f"| {' | '.join(HEADINGS)} |\n|{'---|' * len(HEADINGS)}"
        key = ", ".join(f"`{name}`" for name in table.key)
        parts.append(f"### {table.name}\n\n{_capital(TABLE_WORDS[table.name])}. One row for each {key}.\n\n{head}")
        parts[-1] += "\n" + "\n".join(rows)
        if table.name == "patterns":
            parts[-1] += f"\n\n{_STANDARD}: {', '.join(ISO_14)}."
    return "\n\n".join(parts)


def with_columns(text: str) -> str:
    """Put the list of all columns between its two marks in a text; ValueError where they are not there."""
    before, _, rest = text.partition(BEGIN)
    _, mark, after = rest.partition(END)
    if not mark:
        raise ValueError(f"the marks {BEGIN} and {END} are not there")
    return f"{before}{BEGIN}\n\n{columns_markdown()}\n\n{END}{after}"


def _row(table: Table, column: Column) -> tuple[str, ...]:
    words = _OF_TABLE.get((table.name, column.name)) or _WORDS[column.name]
    return column.name, _needed(table, column), words, _allowed(column), example_of(column)


def _needed(table: Table, column: Column) -> str:
    """Say whether a column must be there, or when it need not."""
    if column.default is not None:
        return f"no: {column.default}"
    if not column.required:
        return "no"
    made = table.name != "inspections" or column.name != "gauge"
    if column.name in NAMED_BY and table.name in ("readings", "inspections", "gauges") and made:
        return "yes, or made from what an owner's sheet says"
    return "yes, where several are on record" if column.name == "pattern" and table.name != "patterns" else "yes"


def _allowed(column: Column) -> str:
    if column.choices:
        return ", ".join(column.choices) + ("; several with ;" if column.kind == "list" else "")
    kind = _KINDS[column.kind]
    unit = _UNITS.get(column.name.rpartition("_")[2], "")
    if column.low is None or column.high is None:
        return f"{kind}{', ' + unit if unit else ''}"
    return f"{kind}, {column.low:.12g} to {column.high:.12g}{' ' + unit if unit else ''}"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


if __name__ == "__main__":
    for name in sys.argv[1:]:
        file = Path(name)
        file.write_text(with_columns(file.read_text(encoding="utf-8")), encoding="utf-8")
