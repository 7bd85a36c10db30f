"""Measuring in tables: what each way of measuring achieves, and each measurer's bias."""

from __future__ import annotations

import pandas as pd

from wearstats.report.sentences.phrases import in_hundred
from wearstats.report.tables import DataTable, table_of

_MINUS = "\u2212"


def plans_table(plans: pd.DataFrame) -> DataTable:
    """Print a row a way of measuring; uncertainties are one standard deviation, in um."""
    again = [
        f"{times}, {'same hand' if same else 'another hand'}" if times > 1 else "1"
        for times, same in zip(plans["inspections"], plans["same_measurer"], strict=True)
    ]
    rows = pd.DataFrame(
        {
            "what": [f"{a} splines, {b} stations" for a, b in zip(plans["splines"], plans["stations"], strict=True)],
            "trials": plans["trials"].astype(int),
            "inspections": again,
            "piece": ["yes" if piece else "no" for piece in plans["check_piece"]],
            "mean": _one_decimal(plans["width_u_um"]),
            "widest": _one_decimal(plans["widest_u_um"]),
            "narrowest": _one_decimal(plans["narrowest_u_um"]),
            "hollow": _one_decimal(plans["hollow_u_um"]),
            "right": [in_hundred(share) for share in plans["right_size_probability"]],
        }
    )
    heads = ["measured", "readings a place", "inspections", "check piece", "mean width, ± µm", "widest place, ± µm"]
    heads += ["narrowest place, ± µm", "depth of a hollow, ± µm", "right size, in 100"]
    return table_of(
        rows, caption="What each way of measuring achieves", columns=dict(zip(rows.columns, heads, strict=True))
    )


def measurers_table(measurers: pd.DataFrame) -> DataTable:
    """Print a row a repeated measurer."""
    rows = measurers[["measurer", "class", "inspections"]].assign(
        bias=_one_decimal(measurers["bias_um"]),
        range=[
            f"{low} to {high}"
            for low, high in zip(_one_decimal(measurers["low"]), _one_decimal(measurers["high"]), strict=True)
        ],
    )
    heads = ["who, with which gauge", "kind", "inspections", "bias, µm", "95 % sure, µm"]
    return table_of(
        rows,
        caption="Bias of those who measured more than once, against the mean of their kind",
        columns=dict(zip(rows.columns, heads, strict=True)),
    )


def _one_decimal(values: pd.Series) -> list[str]:
    return [f"{value:.1f}".replace("-", _MINUS) for value in values]
