"""How far wrong records move the slope against the gap: the demo's tables are spoiled, and go through intake again.

Run ``python -m tests.simulation.spoiled_records`` to remake the table (about three minutes).
"""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.loosening.estimates import slope_estimate
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.demo import demo_as_of, demo_files
from wearstats.studies.loosening.fit_from_store import loosening_fit
from wearstats.studies.snapshot import Snapshot

TABLE = Path(__file__).with_suffix(".md")
SHARE = 0.01
SEEDS = 6
HALF_TURN = {"mm": 0.25, "in": 0.0125, "thou": 12.5, "tenth-thou": 125.0}
"""Half a turn of a thimble, of half a millimetre or a fortieth of an inch a turn."""

Tables = dict[str, pd.DataFrame]
Spoil = Callable[[Tables, np.random.Generator], None]


def mistyped(text: str, rng: np.random.Generator) -> str:
    """Type a size wrong after its first figure: a figure wrong, two exchanged, or the point a place further."""
    figures = [at for at, sign in enumerate(text) if sign.isdigit()][1:]
    typed = list(text)
    how = rng.integers(3)
    if how == 0:
        at = int(rng.choice(figures))
        typed[at] = str((int(typed[at]) + rng.integers(1, 10)) % 10)
    elif how == 1:
        at = int(rng.choice(figures[:-1]))
        typed[at], typed[at + 1] = typed[at + 1], typed[at]
    else:
        point = text.index(".")
        typed = list(text.replace(".", ""))
        typed.insert(point + 1, ".")
    return "".join(typed)


def some(rows: np.ndarray, rng: np.random.Generator, share: float = SHARE) -> list[int]:
    """Take one row in a hundred."""
    return [int(row) for row in rng.choice(rows, max(1, round(share * rows.size)), replace=False)]


def spoil_hubs(tables: Tables, rng: np.random.Generator) -> None:
    """Mistype gauged spaces of hubs that ran."""
    hubs = tables["hubs"]
    gauged = hubs["space_width_mm"].ne("") & hubs["hub"].isin(tables["fittings"]["hub"])
    for row in some(np.flatnonzero(gauged), rng):
        hubs.loc[row, "space_width_mm"] = mistyped(str(hubs.loc[row, "space_width_mm"]), rng)


def spoil_inspections(tables: Tables, rng: np.random.Generator) -> None:
    """Read whole inspections half a turn of the thimble too low or too high."""
    inspections = tables["inspections"]
    for row in some(np.arange(len(inspections)), rng):
        turn_half(tables, str(inspections.loc[row, "inspection"]), float(rng.choice([-1, 1])))


def turn_half(tables: Tables, inspection: str, sign: float) -> None:
    """Read one inspection half a turn off."""
    unit = tables["inspections"].set_index("inspection")["unit"][inspection]
    readings = tables["readings"]
    mine = readings["inspection"].eq(inspection)
    readings.loc[mine, "width"] = [
        f"{float(text) + sign * HALF_TURN[unit]:.{len(text.partition('.')[2])}f}"
        for text in readings.loc[mine, "width"]
    ]


def spoil_readings(tables: Tables, rng: np.random.Generator) -> None:
    """Mistype single readings."""
    readings = tables["readings"]
    for row in some(np.arange(len(readings)), rng):
        readings.loc[row, "width"] = mistyped(str(readings.loc[row, "width"]), rng)


def spoil_fittings(tables: Tables, rng: np.random.Generator) -> None:
    """Exchange the hubs of two fittings of a pattern."""
    fittings = tables["fittings"]
    pattern = fittings["hub"].map(tables["hubs"].set_index("hub")["pattern"])
    for row in some(np.arange(len(fittings)), rng, SHARE / 2):
        other = int(rng.choice(np.flatnonzero(pattern.eq(pattern[row]) & (fittings.index != row))))
        fittings.loc[[row, other], "hub"] = fittings.loc[[other, row], "hub"].to_numpy()


def spoil_states(tables: Tables, rng: np.random.Generator) -> None:
    """Write tight for loose, and loose for tight."""
    seen = tables["follow_ups"]
    other = {"tight": "loose", "loose": "tight"}
    for row in some(np.flatnonzero(seen["state"].isin(other)), rng):
        seen.loc[row, "state"] = other[str(seen.loc[row, "state"])]


def spoil_dates(tables: Tables, rng: np.random.Generator) -> None:
    """Date follow-ups a year too early, or up to three months off."""
    seen = tables["follow_ups"]
    for row in some(np.arange(len(seen)), rng):
        off = -365 if rng.random() < 0.5 else int(rng.integers(-90, 91))
        day = datetime.date.fromisoformat(str(seen.loc[row, "seen_on"])) + datetime.timedelta(days=off)
        seen.loc[row, "seen_on"] = day.isoformat()


KINDS: dict[str, tuple[Spoil, ...]] = {
    "gauged spaces": (spoil_hubs,),
    "whole inspections": (spoil_inspections,),
    "single readings": (spoil_readings,),
    "hubs exchanged": (spoil_fittings,),
    "states": (spoil_states,),
    "dates": (spoil_dates,),
}
KINDS["all six together"] = tuple(spoil for kind in KINDS.values() for spoil in kind)


def one_decimal(tables: Tables, _: np.random.Generator) -> None:
    """Slip the point of one hub: 59.86 for 5.986."""
    tables["hubs"].loc[0, "space_width_mm"] = "59.86"


def one_figure(tables: Tables, _: np.random.Generator) -> None:
    """Mistype one figure of one hub: 5.943 for 5.443."""
    tables["hubs"].loc[1, "space_width_mm"] = "5.943"


def one_turn(tables: Tables, _: np.random.Generator) -> None:
    """Read one inspection half a turn low."""
    turn_half(tables, str(tables["fittings"].loc[0, "inspections"]), -1.0)


ONE: dict[str, tuple[Spoil, ...]] = {
    "one decimal slipped": (one_decimal,),
    "one figure wrong": (one_figure,),
    "one inspection half a turn low": (one_turn,),
}


def spoiled(kind: str, seed: int) -> Tables:
    """Give the demo's tables as text, spoiled in one way; ``none`` leaves them."""
    tables = {path.stem: pd.read_csv(path, dtype=str, keep_default_na=False) for path in demo_files()}
    for number, spoil in enumerate({**KINDS, **ONE}.get(kind, ())):
        spoil(tables, np.random.default_rng([20261129, seed, number]))
    return tables


def make_spoiled_store(tables: Tables, folder: Path) -> Path:
    """Send tables through intake into a new store."""
    for name, frame in tables.items():
        frame.to_csv(folder / f"{name}.csv", index=False)
    path = folder / "spoiled.duckdb"
    create_store(path, force=True)
    with open_store(path, write=True) as store:
        add_files(store, sorted(folder.glob("*.csv")), added_on=demo_as_of())
    return path


def slope(kind: str, seed: int = 0) -> Estimate:
    """Spoil, add, fit: the change of log hazard per 10 um."""
    with (
        tempfile.TemporaryDirectory() as name,
        open_store(make_spoiled_store(spoiled(kind, seed), Path(name))) as store,
    ):
        return slope_estimate(loosening_fit(Snapshot(store=store, known_on=demo_as_of())))


def main() -> None:
    """Write the table."""
    rows = ["| spoiled | stores | slope | lowest | highest | low | high |", "|---|---|---|---|---|---|---|"]
    for kind in ("none", *ONE, *KINDS):
        told = [slope(kind, seed) for seed in range(SEEDS if kind in KINDS else 1)]
        found = np.array([[each.value, each.low, each.high] for each in told], dtype=float)
        value, low, high = found.mean(axis=0)
        ends = f"{found[:, 0].min():.3f} | {found[:, 0].max():.3f}"
        rows.append(f"| {kind} | {len(told)} | {value:.3f} | {ends} | {low:.3f} | {high:.3f} |")
        TABLE.write_text("\n".join([*_HEAD, *rows, ""]), encoding="utf-8")


_HEAD = (
    "# Wrong records",
    "",
    "Made by `python -m tests.simulation.spoiled_records`. The demo's tables with one record in a hundred of a kind",
    "spoiled, or a single one; they go through intake as files do, which refuses what it can. The slope is the change",
    "of log hazard per 10 µm of gap: its mean over the stores, lowest and highest, and the mean ends of its interval.",
    "",
)

if __name__ == "__main__":
    main()
