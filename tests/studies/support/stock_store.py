"""A store of one pattern with whatever a stock question needs, written as a newcomer would write it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path

from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files

PATTERN = (
    "pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm,grid_um,lead_days,batch_size\n"
    "P10,10,4.41,4.43,26,31.75,30,25,30,6\n"
)
AMOUNTS = {
    "failure": 900.0,
    "return": 30.0,
    "filing_minute": 0.9,
    "size_kept": 60.0,
    "hub_made": 50.0,
    "hub_held": 7.0,
    "batch_setup": 90.0,
    "lost_sale": 75.0,
    "special": 150.0,
    "workshop_fit": 130.0,
    "postage": 26.0,
    "measure_again": 25.0,
    "check_piece_sent": 35.0,
    "day_waiting": 4.0,
}


def cost_rows(amounts: Mapping[str, float] = AMOUNTS, *, currency: str = "EUR", from_on: str = "2024-01-01") -> str:
    """Rows of the costs table, without its head."""
    return "".join(f"P10,{item},{from_on},{amount},{currency}\n" for item, amount in amounts.items())


COSTS_HEAD = "pattern,item,from_on,amount,currency\n"


def make_stock_store(path: Path, tables: Mapping[str, str]) -> Path:
    """Make a store from the texts of its files; the pattern is P10."""
    files = {"patterns": PATTERN, **tables}
    paths = []
    for name, text in files.items():
        file = path.parent / f"{name}.csv"
        file.write_text(text, encoding="utf-8")
        paths.append(file)
    create_store(path)
    with open_store(path, write=True) as store:
        report = add_files(store, paths, added_on=datetime.date(2026, 1, 3))
        assert report.kept_out == 0
    return path
