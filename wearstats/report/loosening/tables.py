"""Working loose in tables: the chance at some gaps, and where hubs on record sit."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.phrases import in_100, span
from wearstats.studies.loosening.gap_risk import NEAR_UM, GapRisk

NEAR = f"within {NEAR_UM:.0f} µm of each gap, in the last row all beyond too"


def near_rows(answer: GapRisk, horizon_months: float) -> list[tuple[str, str, str, str]]:
    """Give by gap, in um: the chance by the horizon in 100, and hubs near it, as supplied and filed."""
    chances = answer.risk[answer.risk["months"].eq(horizon_months) & answer.risk["status"].eq("ok")]
    rows = []
    for near in answer.hubs_near().to_dict("records"):
        chance = chances[np.isclose(chances["gap_left_um"], near["gap_left_um"])]
        if chance.empty:
            continue
        value, low, high = chance[["value", "low", "high"]].to_numpy(dtype=float)[0]
        told = in_100(Estimate(value=value, low=low, high=high))
        rows.append((f"{near['gap_left_um']:.0f}", told, str(near["supplied"]), str(near["filed"])))
    return rows


def near_heads(horizon_months: float) -> tuple[str, str, str, str]:
    """Head the columns of `near_rows`."""
    return ("gap left, µm", f"loose in {span(horizon_months)}, of 100", "hubs as supplied", "filed")


def near_table(answer: GapRisk, horizon_months: float) -> DataTable:
    """Print a row a gap."""
    names = ["gap", "loose", "supplied", "filed"]
    rows = pd.DataFrame(near_rows(answer, horizon_months), columns=names)
    heads = dict(zip(names, near_heads(horizon_months), strict=True))
    return table_of(rows, caption=f"The chance by gap left, and hubs on record {NEAR}", columns=heads)
