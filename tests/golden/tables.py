"""Tables of the store as files bear them: read, written, and cut to some shafts with all that hangs on them."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

Row = dict[str, str]
Tables = dict[str, list[Row]]


def read_tables(folder: Path) -> Tables:
    """Read every CSV file of a folder, each a table named as the file."""
    tables = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            tables[path.stem] = list(csv.DictReader(file))
    return tables


def write_tables(tables: Mapping[str, Sequence[Row]], folder: Path) -> list[Path]:
    """Write every table that has rows, and give the files; a row need not have all columns."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, rows in sorted(tables.items()):
        if rows:
            columns = list(dict.fromkeys(column for row in rows for column in row))
            paths.append(folder / f"{name}.csv")
            with paths[-1].open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
                writer.writeheader()
                writer.writerows(rows)
    return paths


def values(rows: Sequence[Row], column: str) -> set[str]:
    """Give what stands in a column, without blanks."""
    return {row[column] for row in rows if row[column]}


def cut_to(tables: Tables, shafts: Collection[str]) -> Tables:
    """Keep some shafts and everything that hangs on them; patterns, sizes, stock and costs stay whole."""
    cut = {name: list(rows) for name, rows in tables.items()}
    for name in ("shafts", "shaft_events", "inspections", "dispatches", "fittings", "orders"):
        cut[name] = [row for row in tables[name] if row["shaft"] in shafts]
    hubs = values(cut["dispatches"], "hub") | values(cut["fittings"], "hub")
    fittings = values(cut["fittings"], "fitting")
    inspections = values(cut["inspections"], "inspection")
    gauges = values(cut["inspections"], "gauge")
    cut["hubs"] = [row for row in tables["hubs"] if row["hub"] in hubs]
    cut["hub_spaces"] = [row for row in tables.get("hub_spaces", []) if row["hub"] in hubs]
    batches = values(cut["hubs"], "batch")
    cut["batches"] = [row for row in tables["batches"] if row["batch"] in batches]
    cut["returns"] = [row for row in tables["returns"] if row["hub"] in hubs]
    cut["follow_ups"] = [row for row in tables["follow_ups"] if row["fitting"] in fittings]
    cut["readings"] = [row for row in tables["readings"] if row["inspection"] in inspections]
    cut["gauges"] = [row for row in tables["gauges"] if row["gauge"] in gauges]
    return cut


def measured_most(tables: Tables, shafts: Collection[str]) -> list[str]:
    """Order shafts by how often they were measured, the most often first, and by name."""
    often = Counter(row["shaft"] for row in tables["inspections"])
    return sorted(shafts, key=lambda shaft: (-often[shaft], shaft))
