"""Contact predicted and contact marked, as a table."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.gaps.contact_check import ContactSeen
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.phrases import in_hundred


def contact_table(seen: ContactSeen) -> DataTable:
    """Print a row a band of like predicted share."""
    bands = seen.bands
    rows = pd.DataFrame(
        {
            "band": bands["band"].astype(int),
            "fittings": bands["fittings"].astype(int),
            "predicted": [in_hundred(share) for share in bands["predicted"]],
            "marked": [in_hundred(share) for share in bands["marked"]],
            "sure": [
                f"{in_hundred(low)} to {in_hundred(high)}" if pd.notna(low) and pd.notna(high) else ""
                for low, high in zip(bands["low"], bands["high"], strict=True)
            ],
        }
    )
    heads = ["group", "hubs", "predicted to bear, in 100", "marked, in 100", "95 % sure"]
    caption = "Sides predicted to bear and sides that marked, from the least predicted to the most"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))
