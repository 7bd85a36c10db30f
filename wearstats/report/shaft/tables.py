"""One shaft in tables: place by place, and what each hub on offer would do on it."""

from __future__ import annotations

import pandas as pd

from wearstats.analysis.advice.rule import Candidate
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import remark
from wearstats.domain.units import print_um
from wearstats.report.remarks.say import say
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.phrases import in_hundred, millimetres, whole
from wearstats.studies.shaft.answer import ShaftStudy

_MINUS = "\u2212"


def map_table(study: ShaftStudy) -> DataTable:
    """Print a row a spline: what each station has lost and, where a hub is advised, has to be filed, in um."""
    shaft_map = study.map_frame().sort_values(["spline", "station_index"])
    stations = shaft_map["station"].unique().tolist()
    parts = {"width_um_below_new": "lost"}
    if study.advice.hub is not None:
        parts |= {"filing_um": "to file", "gap_left_um": "gap left"}
    rows = pd.DataFrame({"spline": [f"{spline}" for spline in shaft_map["spline"].unique()]})
    heads = {"spline": "spline"}
    for column, word in parts.items():
        places = shaft_map.pivot_table(index="spline", columns="station", values=column)
        for station in stations:
            name = f"{column} {station}"
            rows[name] = [_whole(um) for um in places[station]]
            heads[name] = f"{word}, {station}"
    sd_um = float(shaft_map["sd_um"].mean())
    caption = f"Shaft {study.shaft} in µm (1000 µm = 1 mm), each width give or take {sd_um:.0f} µm"
    return table_of(rows, caption=caption, columns=heads)


def history_table(study: ShaftStudy) -> DataTable:
    """Print a row an inspection."""
    history = study.history_frame()
    rows = pd.DataFrame(
        {
            "inspection": history["inspection"],
            "day": [f"{day:%Y-%m-%d}" for day in history["measured_on"]],
            "by": history["measured_by"],
            "kind": history["kind"],
            "hubs": history["hubs_before"].astype(int),
            "lost": [_whole(um) for um in history["width_um_below_new"]],
            "sure": [_whole(um) for um in history["high_um_below_new"] - history["width_um_below_new"]],
        }
    )
    heads = [
        "inspection",
        "day",
        "by, with gauge",
        "where",
        "hubs run before",
        "mean width below new, µm",
        "± µm, 95 % sure",
    ]
    return table_of(
        rows,
        caption=f"What each inspection of shaft {study.shaft} tells by itself",
        columns=dict(zip(rows.columns, heads, strict=True)),
    )


def choices_table(study: ShaftStudy) -> DataTable:
    """Print a row a hub and method, with all that would become of it and why it may not be sent."""
    choices, hub = study.choices_frame(), study.advice.hub
    advised = [choice.candidate is hub for choice in study.choices]
    rows = pd.DataFrame(
        {
            "undersize": [
                _size(choice.candidate) + (", advised" if mine else "")
                for choice, mine in zip(study.choices, advised, strict=True)
            ],
            "method": choices["method"],
            "minutes": [_whole(minutes) for minutes in choices["filing_min"]],
            "slack": [in_hundred(share) for share in choices["slack"]],
            "clearance": [_minus(millimetres(um)) for um in choices["clearance_um"]],
            "gap": [
                f"{millimetres(um)} ({millimetres(low)} to {millimetres(high)})"
                for um, low, high in zip(
                    choices["gap_left_um"], choices["gap_left_um_low"], choices["gap_left_um_high"], strict=True
                )
            ],
            "bears": [in_hundred(share) for share in choices["contact_share"]],
            "risk": [_between(choice.candidate.risk) for choice in study.choices],
            "cost": [_whole(cost) for cost in choices["cost"]],
            "refused": ["; ".join(say(remark(code)) for code in each.candidate.refused) for each in study.choices],
        }
    )
    heads = ["undersize", "fitted", "filing, minutes", "slack on trial, in 100", "clearance, mm"]
    heads += ["gap left, mm", "places that bear, in 100", f"loose in {study.horizon_months:g} months, in 100"]
    heads += [f"expected cost, {study.currency}", "not allowed because"]
    caption = f"What each hub would do on shaft {study.shaft}; brackets enclose 95 %"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def _size(hub: Candidate) -> str:
    named = print_um(hub.undersize_um) + ("" if hub.second_um is None else f" and {print_um(hub.second_um)}")
    return named + ("" if hub.hub is None else f", {hub.hub}") + (", special" if hub.special else "")


def _between(risk: Estimate) -> str:
    if risk.value is None:
        return "not known"
    return f"{in_hundred(risk.value)} ({in_hundred(risk.low or 0.0)} to {in_hundred(risk.high or 1.0)})"


def _whole(number: float) -> str:
    return "" if pd.isna(number) else _minus(whole(round(number) + 0))


def _minus(text: str) -> str:
    return text.replace("-", _MINUS)
