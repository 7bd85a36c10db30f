"""One shaft in tables: place by place, and what each hub on offer would do on it."""

from __future__ import annotations

import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.phrases import in_hundred, millimetres
from wearstats.studies.shaft.answer import ShaftStudy

_MINUS = "\u2212"


def map_table(study: ShaftStudy) -> DataTable:
    """Print a row a spline: what each station has lost and, where a hub is advised, has to be filed, in um."""
    shaft_map = study.map_frame().sort_values(["spline", "station_index"])
    stations = shaft_map["station"].unique().tolist()
    parts = {"width_um_below_new": "lost"}
    if study.advice.undersize_um is not None:
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
    """Print a row a hub: the geometry is the same whoever fits it, so the minutes are those of filing by hand."""
    choices = study.choices_frame()
    minutes = choices.groupby("undersize_um")["filing_min"].max()
    sizes = choices.drop_duplicates("undersize_um").sort_values("undersize_um")
    # the advised hub as advised, the others filed by hand
    this = choices["undersize_um"] == study.advice.undersize_um
    method = study.advice.method or "owner-fitted"
    told = choices[choices["method"].eq("owner-fitted").where(~this, choices["method"].eq(method))]
    told = told.drop_duplicates("undersize_um").set_index("undersize_um").reindex(sizes["undersize_um"])
    rows = pd.DataFrame(
        {
            "undersize": [
                print_um(um) + (", advised" if um == study.advice.undersize_um else "") for um in sizes["undersize_um"]
            ],
            "clearance": [_minus(millimetres(um)) for um in sizes["clearance_um"]],
            "gap": [millimetres(um) for um in sizes["gap_left_um"]],
            "range": [
                f"{millimetres(low)} to {millimetres(high)}" if pd.notna(low) and pd.notna(high) else ""
                for low, high in zip(sizes["gap_left_um_low"], sizes["gap_left_um_high"], strict=True)
            ],
            "bears": [in_hundred(share) for share in sizes["contact_share"]],
            "risk": [in_hundred(share) if pd.notna(share) else "" for share in told["risk"]],
            "minutes": [_whole(minutes[um]) for um in sizes["undersize_um"]],
        }
    )
    if study.currency is not None:
        rows["cost"] = [_whole(cost) for cost in told["cost"]]
    heads = ["undersize", "clearance, mm", "gap left, mm", "gap left, 95 % sure, mm", "places that bear, in 100"]
    heads += ["loose in a year, in 100", "filing by hand, minutes"]
    heads += [f"expected cost, {study.currency}"] if study.currency is not None else []
    caption = f"What each hub on offer would do on shaft {study.shaft}"
    return table_of(rows, caption=caption, columns=dict(zip(rows.columns, heads, strict=True)))


def _whole(number: float) -> str:
    return "" if pd.isna(number) else _minus(f"{round(number) + 0:d}")


def _minus(text: str) -> str:
    return text.replace("-", _MINUS)
