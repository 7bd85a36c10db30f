"""What the day a hub came loose does for the shape of the law, where some tell it; writes told_days.md.

Run ``python -m tests.simulation.told_days`` to remake the table.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd

from tests.simulation.records_end import QUESTIONS, REPORTED, SEED, SHAPE, SLOPE, Records, score, summary

TABLE = Path(__file__).with_suffix(".md")
WORLDS = {
    "told at once, no day told": Records(delay=0.02),
    "told at once, 3 in 10 tell the day": Records(delay=0.02, day_told=0.3),
    "told within two months, no day told": Records(delay=2.0),
    "told within two months, 3 in 10 tell the day": Records(delay=2.0, day_told=0.3),
}


def row_of(name: str, scored: pd.DataFrame) -> str:
    """Write a world's row of the table."""
    fleets = int((scored["question"] == QUESTIONS[0]).sum())
    cells = [f"{mean:.3f} | {cover:.3f}" for mean, cover in summary(scored).loc[list(QUESTIONS)].to_numpy(dtype=float)]
    return f"| {name} | {fleets} | " + " | ".join(cells) + " |"


def table_lines() -> list[str]:
    """Write what stands above the rows."""
    return [
        "# The day a hub came loose, told by some",
        "",
        f"Truth: shape {SHAPE}, reported unasked {REPORTED}, slope {SLOPE} a 10 um; 1500 shafts, as in records_end.md.",
        "Where no day is told an unasked failure is taken to have come within the month before its report; where some",
        "tell, the others to have written as late as these. Intervals of 95 %; remade by",
        f"`python -m tests.simulation.told_days`, seed {SEED}.",
        "",
        "| world | fleets | shape | covers | reported | covers | slope | covers |",
        "|---|---|---|---|---|---|---|---|",
    ]


def write_table(fleets: int) -> None:
    """Score every world and write the table."""
    lines = table_lines()
    for name, world in WORLDS.items():
        lines.append(row_of(name, score(world, fleets)))
        TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_table(int(sys.argv[1]) if len(sys.argv) > 1 else 80)
