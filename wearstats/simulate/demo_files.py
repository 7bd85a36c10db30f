"""The demo's invented data as files: one CSV a table, and the truth beside them."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from wearstats.domain.tables import STATIONS
from wearstats.simulate import DEMO, DEMO_SEED, Fleet, simulate
from wearstats.simulate.demo_shelf import keep_shelf
from wearstats.simulate.truth import realise

INCH_STEP_MM = 0.0254
"""A thou in mm, for the inspection that was read in inches and converted by its owner."""


def make_demo() -> tuple[Fleet, list[dict[str, str]]]:
    """Invent the demo's fleet and add the few troubles that real paper has.

    Returns
    -------
    tuple of Fleet and list of dict
        The fleet, and for each trouble its ``inspection`` and ``what`` was done to it.
    """
    fleet = simulate(DEMO, rng=np.random.default_rng(DEMO_SEED))
    readings, troubles = add_troubles(fleet)
    shelf = keep_shelf(fleet.frames, end=DEMO.end.isoformat())
    return Fleet(frames={**fleet.frames, "readings": readings, **shelf}, truth=fleet.truth), troubles


def add_troubles(fleet: Fleet) -> tuple[pd.DataFrame, list[dict[str, str]]]:
    """Spoil three home inspections in ways that pass intake with a remark.

    Parameters
    ----------
    fleet : Fleet
        Left as it is.

    Returns
    -------
    tuple of DataFrame and list of dict
        The readings table with the troubles in it, and the list of them.
    """
    frames = fleet.frames
    inspections = frames["inspections"].merge(frames["gauges"][["gauge", "kind", "resolution"]], on="gauge")
    home = inspections[(inspections["measured_at"] == "home") & (inspections["kind"] != "caliper")]
    coarse = home.loc[(home["unit"] == "mm") & (home["resolution"] == "0.01"), "inspection"].sort_values()
    fine = home.loc[(home["unit"] == "mm") & (home["resolution"] == "0.001"), "inspection"].sort_values()
    equal, halved, inch = str(coarse.iloc[20]), str(coarse.iloc[45]), str(fine.iloc[15])
    readings = frames["readings"]
    width = readings["width"].astype(object).copy()
    mine = readings["inspection"] == equal
    width[mine] = width[mine].iloc[0]
    mine = readings["inspection"] == inch
    thou = (width[mine].astype(float) / INCH_STEP_MM).round()
    width[mine] = [f"{count * INCH_STEP_MM:.3f}" for count in thou]
    half = readings["spline"].groupby(readings["inspection"]).transform("max") // 2
    kept = (readings["inspection"] != halved) | (readings["spline"] <= half)
    troubled = readings.assign(width=width.astype("str"))[kept].reset_index(drop=True)
    return troubled, [
        {"inspection": equal, "what": "all readings are equal"},
        {"inspection": halved, "what": "half of the splines are missing"},
        {"inspection": inch, "what": "read on an inch gauge to a thou and converted to mm by its owner"},
    ]


def demo_truth(fleet: Fleet, troubles: list[dict[str, str]]) -> dict[str, Any]:
    """Give the content of ``truth.json``: what was put in, and where each shaft truly stood."""
    truth = fleet.truth
    clean = truth.width_um[~np.isnan(truth.width_um)]
    return {
        **truth.to_dict(),
        "seed": DEMO_SEED,
        "stated_and_realised": realise(truth),
        "troubles": troubles,
        "rows": {name: len(frame) for name, frame in fleet.frames.items()},
        "stations": list(STATIONS),
        "mean_below_new_um": round(float(-clean.mean()), 4),
        "shaft_mean_below_new_um": first_means(fleet),
    }


def first_means(fleet: Fleet) -> dict[str, float]:
    """Give every shaft's true mean width below the nominal new one when first measured, in um."""
    periods = fleet.truth.periods
    below = periods.assign(below=np.nanmean(fleet.truth.below_new_um, axis=(1, 2)))
    first = below[below["shaft"] != ""].drop_duplicates("shaft").sort_values("shaft")
    return {str(shaft): round(float(um), 2) for shaft, um in zip(first["shaft"], first["below"], strict=True)}


def write_demo(folder: Path) -> list[Path]:
    """Write the demo's files, bit for bit the same each time.

    Parameters
    ----------
    folder : pathlib.Path
        Made where it does not exist; files of the same names in it are written anew.

    Returns
    -------
    list of pathlib.Path
        The CSV files in the order of the tables, and last ``truth.json``.
    """
    fleet, troubles = make_demo()
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, frame in fleet.frames.items():
        path = folder / f"{name}.csv"
        path.write_text(frame.to_csv(index=False, lineterminator="\n"), encoding="utf-8", newline="\n")
        paths.append(path)
    path = folder / "truth.json"
    text = json.dumps(demo_truth(fleet, troubles), indent=1, ensure_ascii=False)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")
    return [*paths, path]


if __name__ == "__main__":
    write_demo(Path(sys.argv[1]))
