"""The tables of the study of policies: what each costs, and how often what is done."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.domain.arrays import FloatArray

RULE, FITTED, LAW = "the rule", "the slope as fitted", "the rule, law known"
NEAREST, TIGHTER, EARLIER = "nearest to the reading", "one tighter", "the earlier rule"
BEST, ORACLE = "best on the readings", "knows the map"
POLICIES = (RULE, FITTED, LAW, NEAREST, TIGHTER, EARLIER, BEST, ORACLE)
DOES = ("as-supplied", "send", "send-two", "make-special", "send-shaft-here", "decline")
COLUMNS = ("cost", "chance", "minutes", "back")
IN_HUNDRED = ["chance", "back"]


def summary(rows: pd.DataFrame) -> pd.DataFrame:
    """Sum up one limit and price over the shafts that the rule sends a hub: means, errors, differences to the rule."""
    by_fleet = rows[rows["sent"]].groupby(["policy", "fleet"])[list(COLUMNS)].mean().astype(float)
    by_fleet[IN_HUNDRED] *= 100
    table: dict[str, dict[str, float]] = {}
    for policy in POLICIES:
        mine = by_fleet.loc[policy].to_numpy(dtype=float)
        more = mine - by_fleet.loc[RULE].to_numpy(dtype=float)
        table[policy] = {}
        for k, name in enumerate(COLUMNS[:2]):
            table[policy] |= {name: float(mine[:, k].mean()), f"{name}: error": _error(mine[:, k])}
            over, error = float(more[:, k].mean()), _error(more[:, k])
            table[policy] |= {f"{name}: over the rule": over, f"{name}: error of that": error}
        table[policy] |= {name: float(mine[:, k].mean()) for k, name in enumerate(COLUMNS) if k > 1}
    return pd.DataFrame.from_dict(table, orient="index")


def _error(by_fleet: FloatArray) -> float:
    return float(by_fleet.std(ddof=1) / by_fleet.size**0.5) if by_fleet.size > 1 else float("nan")


def done(rows: pd.DataFrame) -> pd.DataFrame:
    """Count what is done, of 100 shafts, by policy."""
    counts = 100 * pd.crosstab(rows["policy"], rows["do"], normalize="index")
    return counts.reindex(index=[RULE, FITTED, LAW, BEST, ORACLE], columns=list(DOES)).fillna(0.0)


def left_alone(rows: pd.DataFrame) -> pd.DataFrame:
    """Give what becomes of the others' hubs on the shafts that the rule sends nothing to."""
    alone = rows[~rows["sent"] & ~rows["policy"].isin([RULE, FITTED, LAW])]
    found = alone.groupby("policy")[["cost", "chance", "back"]].mean().astype(float).reindex(list(POLICIES[3:]))
    found[IN_HUNDRED] *= 100
    return found


def title_of(world: str, limit: float, failure: float) -> str:
    """Name a section."""
    return f"{world}, limit {100 * limit:g}, a failure at {failure:g}"


def sections(rows: pd.DataFrame, *, failure: float) -> list[str]:
    """Write a section for every world, limit and price of a failure."""
    lines = []
    cases = rows[["world", "limit", "times"]].drop_duplicates()
    worlds = list(cases["world"].unique())
    ordered = sorted(cases.itertuples(index=False), key=lambda case: (worlds.index(case[0]), *case[1:]))
    for world, limit, times in ordered:
        part = rows[(rows["world"] == world) & (rows["limit"] == limit) & (rows["times"] == times)]
        lines += [f"## {title_of(world, limit, times * failure)}", "", *_lines(summary(part), 2)]
        lines += ["", "What is done, of 100 shafts:", "", *_lines(done(part), 1)]
        if not part["sent"].all():
            lines += ["", "On the shafts that the rule sends nothing to:", "", *_lines(left_alone(part), 1)]
        lines.append("")
    return lines


def _lines(frame: pd.DataFrame, digits: int) -> list[str]:
    lines = ["| | " + " | ".join(frame.columns) + " |", "|" + "---|" * (len(frame.columns) + 1)]
    for name, row in frame.iterrows():
        cells = ["-" if np.isnan(value) else f"{value:.{digits}f}" for value in row.to_numpy(dtype=float)]
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return lines
