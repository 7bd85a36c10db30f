"""What to make now as a table, for the terminal, the page, and files."""

from __future__ import annotations

import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.studies.stock.production import MakeNow


def make_now_table(make: MakeNow) -> DataTable:
    """Print a row a size."""
    frame = make.make_frame()
    rows = pd.DataFrame(
        {
            "size": [
                print_um(row.undersize_um)
                + (", served by tighter ones" if row.from_tighter else "" if row.kept else ", no longer kept")
                for row in make.rows
            ],
            "on_hand": frame["on_hand"].astype(int),
            "needed": [
                f"{mean:.1f} ({low:.0f} to {high:.0f})"
                for mean, low, high in zip(frame["cover_demand"], frame["cover_low"], frame["cover_high"], strict=True)
            ],
            "make": frame["make"].astype(int),
            "until": frame["covers_until"].where(~frame["outlasts"], "beyond " + frame["covers_until"]),
        }
    )
    lasts = "lasts until, tighter ones filed out" if make.files else "lasts until"
    heads = ("undersize", "on hand", "needed until a later batch, 90 % sure", "make now", lasts)
    caption = f"Pattern {make.pattern}: what to make now"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def demand_table(make: MakeNow) -> DataTable:
    """Print a row a quarter: those on record, and those to come."""
    history, fan = make.history, make.fan
    rows = [
        (str(quarter), str(int(needed)), str(int(lost)))
        for quarter, needed, lost in zip(history["quarter"], history["needed"], history["lost"], strict=True)
    ]
    ahead = [
        (f"next {int(number)}", f"{mean:.1f} ({low:.0f} to {high:.0f})", "")
        for number, mean, low, high in zip(fan["quarters_ahead"], fan["mean"], fan["low95"], fan["high95"], strict=True)
    ]
    return DataTable(
        caption=f"Pattern {make.pattern}: hubs needed by quarter; those to come with 95 % sure",
        head=("quarter", "hubs needed", "of these served by no size"),
        rows=tuple(rows + ahead),
    )
