"""Measuring in tables: what each way of measuring achieves, and each measurer's bias."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.report.remarks.say import say
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.phrases import count, in_hundred

_MINUS = "\u2212"


def plans_table(plans: pd.DataFrame) -> DataTable:
    """Print a row a way of measuring; uncertainties are one standard deviation, in um."""
    again = [
        f"{times}, {'same hand' if same else 'another hand'}" if times > 1 else "1"
        for times, same in zip(plans["inspections"], plans["same_measurer"], strict=True)
    ]
    rows = pd.DataFrame(
        {
            "what": [
                f"{count(splines, 'spline')}, {count(stations, 'station')}"
                for splines, stations in zip(plans["splines"], plans["stations"], strict=True)
            ],
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


def gauges_table(gauges: pd.DataFrame) -> DataTable:
    """Print a row a sort of gauge."""
    rows = pd.DataFrame(
        {
            "gauge": [
                f"{kind}, {unit}, steps of {step:g} µm"
                for kind, unit, step in zip(gauges["gauge_kind"], gauges["unit"], gauges["step_um"], strict=True)
            ],
            "where": gauges["measured_at"],
            "inspections": gauges["inspections"].astype(int),
            **{name: [_sure(estimate) for estimate in gauges[name]] for name in ("bias_um", "bias_sd_um")},
            "repeatability_um": [_sure(estimate) for estimate in gauges["repeatability_um"]],
        }
    )
    heads = ["gauge", "where", "inspections", "mean bias, µm", "shared error of an inspection, ± µm"]
    heads += ["scatter of readings, ± µm"]
    return table_of(
        rows,
        caption="By sort of gauge, 95 % sure in brackets",
        columns=dict(zip(rows.columns, heads, strict=True)),
    )


def strays_table(strays: pd.DataFrame, *, most: int = 20) -> DataTable:
    """Print a row a reading, spline or inspection that hardly belongs where it stands, the worst first."""
    shown = strays.head(most)
    rows = pd.DataFrame(
        {
            "inspection": shown["inspection"],
            "spline": ["all" if pd.isna(spline) else f"{int(spline)}" for spline in shown["spline"]],
            "station": ["all" if pd.isna(station) else str(station) for station in shown["station"]],
            "found": ["" if pd.isna(um) else _whole(um) for um in shown["found_um"]],
            "expected": ["" if pd.isna(um) else _whole(um) for um in shown["expected_um"]],
            "why": [say(why) for why in shown["why"]],
        }
    )
    heads = ["inspection", "spline", "station", "read, µm from new", "expected, µm from new", "why"]
    left = "" if len(strays) <= most else f"; the worst {most} of {len(strays)}"
    return table_of(
        rows,
        caption=f"Readings that hardly belong where they stand{left}",
        columns=dict(zip(rows.columns, heads, strict=True)),
    )


def _whole(um: float) -> str:
    return f"{um:.0f}".replace("-", _MINUS)


def _sure(estimate: Estimate) -> str:
    if estimate.value is None:
        return "not told"
    text = f"{estimate.value:.1f}"
    if estimate.status == "assumed":
        text += " assumed"
    elif estimate.low is not None and estimate.high is not None:
        text += f" ({estimate.low:.1f} to {estimate.high:.1f})"
    return text.replace("-", _MINUS)


def _one_decimal(values: pd.Series) -> list[str]:
    return [f"{value:.1f}".replace("-", _MINUS) for value in values]
