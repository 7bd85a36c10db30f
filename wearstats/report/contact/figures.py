"""Contact foretold beside contact marked: the picture with its table."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.gaps.contact_check import ContactSeen
from wearstats.report.contact.chart import contact_chart
from wearstats.report.page.model import Figure, make_figure
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.words.phrases import in_hundred


def contact_figure(seen: ContactSeen, fittings: pd.DataFrame) -> Figure:
    """Draw sides marked against sides foretold to bear."""
    wide, narrow = (contact_chart(seen.bands, fittings, width=width) for width in (WIDE, NARROW))
    return make_figure("contact", wide=wide, narrow=narrow, table=contact_table(seen))


def contact_table(seen: ContactSeen) -> DataTable:
    """Print a row a band of like foretold share."""
    bands = seen.bands
    rows = pd.DataFrame(
        {
            "band": bands["band"].astype(int),
            "fittings": bands["fittings"].astype(int),
            "foretold": [in_hundred(share) for share in bands["foretold"]],
            "marked": [in_hundred(share) for share in bands["marked"]],
            "sure": [
                f"{in_hundred(low)} to {in_hundred(high)}" if pd.notna(low) and pd.notna(high) else ""
                for low, high in zip(bands["low"], bands["high"], strict=True)
            ],
        }
    )
    heads = ["group", "hubs", "foretold to bear, in 100", "marked, in 100", "95 % sure"]
    caption = "Sides foretold to bear and sides that marked, from the least foretold to the most"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))
