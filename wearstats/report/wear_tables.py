"""Wear in tables: which share of the shafts each hub on offer would serve."""

from __future__ import annotations

import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.sentences.phrases import in_hundred
from wearstats.report.tables import DataTable, table_of
from wearstats.studies.wear import WearStudy


def shares_table(study: WearStudy) -> DataTable:
    """Print a row a pattern and size: the loosest that grips is the one that serves."""
    shares = study.shares_frame()
    rows = pd.DataFrame(
        {
            "pattern": shares["pattern"],
            "size": ["none on offer" if pd.isna(um) else print_um(float(um)) for um in shares["undersize_um"]],
            "share": [in_hundred(share) for share in shares["share"]],
            "range": [
                f"{in_hundred(low)} to {in_hundred(high)}"
                for low, high in zip(shares["low"], shares["high"], strict=True)
            ],
        }
    )
    heads = {
        "pattern": "pattern",
        "size": "undersize",
        "share": "shafts it serves, in 100",
        "range": "95 % sure, in 100",
    }
    return table_of(rows, caption="The loosest hub that grips four splines in five", columns=heads)
