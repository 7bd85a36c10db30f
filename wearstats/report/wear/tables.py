"""Wear in tables: which share of the shafts each hub on offer would serve, and what shafts lost between two looks."""

from __future__ import annotations

import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.wear.answer import WearStudy
from wearstats.studies.wear.growth import GrowthStudy


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


def growth_table(study: GrowthStudy) -> DataTable:
    """Print a row a shaft looked at again."""
    points = study.points
    again = points[points["since_h"] > 0].sort_values(["pattern", "shaft", "since_h"])
    rows = pd.DataFrame(
        {
            "shaft": again["shaft"],
            "duty": again["duty"],
            "hub": again["between"],
            "since": [f"{hours:.0f}" for hours in again["since_h"]],
            "lost": [_um(um) for um in again["lost_um"]],
            "range": [
                f"{_um(low)} to {_um(high)}"
                for low, high in zip(again["lost_low_um"], again["lost_high_um"], strict=True)
            ],
        }
    )
    heads = ["shaft", "duty", "hub in between", "hours run since", "width lost since, µm", "95 % sure, µm"]
    return table_of(
        rows,
        caption="What shafts lost between the first look and a later one",
        columns=dict(zip(rows.columns, heads, strict=True)),
    )


def _um(number: float) -> str:
    return f"{number:.1f}".replace("-", "\u2212")
