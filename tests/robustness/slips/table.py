"""The table of slips, as it is committed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from tests.robustness.slips.listed import SLIPS
from tests.robustness.slips.trying import SHAFTS, Tried

TABLE = Path(__file__).parents[1] / "slips.md"


def table_of(tried: Mapping[str, Tried], effects: Mapping[str, str]) -> str:
    """Write the table of what became of each slip, and of the answers where nobody noticed it."""
    intakes = [each.intake for each in tried.values()]
    out, but = intakes.count("kept out"), intakes.count("kept, but")
    passed = [slip for slip in SLIPS if slip.name in effects]
    lines = [
        "# Slips of the hand",
        "",
        "Made by `python -m tests.robustness.slips`. Each is one figure, unit, name, word or year wrong, or two",
        "columns swapped, in a file in which nothing else is wrong, added to a store of "
        f"{SHAFTS} of the demo's shafts (all invented).",
        "They were chosen before the checks that find them were written, and none was left out since; two were met by",
        "a change after they were tried (a pattern's two widths swapped, and its stations in the other order).",
        "Where it says `not asked yet`, nobody noticed the slip and its effect has not been asked for.",
        "",
        f"{len(tried)} slips: {out} kept out at intake, {but} kept and told at intake, "
        f"{len(tried) - out - but} not noticed by the intake; {len(passed)} are found by no check either. Of these the "
        "effect on the answers is that of asking the whole demo (425 shafts) with the slip and without it: the log "
        "hazard ratio of 10 µm of gap, and the wear of shaft S9001 and the hub advised for it.",
        "",
        "| table and key | typed | kind | at intake | found by check | effect on the answers, where nobody noticed |",
        "|---|---|---|---|---|---|",
    ]
    for slip in SLIPS:
        what = tried[slip.name]
        typed = ", ".join(f"{column} {text}" for column, text in slip.typed.items())
        where = f"{slip.table} {' '.join(slip.at.values())}"
        cells = [where, typed, slip.kind, what.intake, ", ".join(what.checks), effects.get(slip.name, "")]
        lines.append(f"| {' | '.join(cells)} |".replace("|  |", "| |").replace("|  |", "| |"))
    return "\n".join([*lines, ""])


def said_in_table() -> dict[str, tuple[str, tuple[str, ...]]]:
    """Read back what the table says of each slip: at intake, and by which checks it is found."""
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in TABLE.read_text(encoding="utf-8").splitlines()
        if line.startswith("| ")
    ][1:]
    return {f"{row[0]}: {row[1]}": (row[3], tuple(check for check in row[4].split(", ") if check)) for row in rows}
