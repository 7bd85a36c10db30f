"""The ladder of hubs as a table with small pictures: what each takes, how likely it is slack, how often it is loose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.report.folder.small_pictures import bar, interval
from wearstats.report.shaft.ladder_figure import ladder_frame, ladder_title
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.shaft.answer import ShaftStudy

_NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One hub.

    Parameters
    ----------
    hub : str
        As engraved, in mm, and how it goes on.
    cells : tuple of (str, str)
        Words and picture by heading, as `Ladder.heads` has them.
    refused : str
        Why it may not be sent, or nothing.
    spoken : bool
        Whether it is the hub spoken of.
    """

    hub: str
    cells: tuple[tuple[str, str], ...]
    refused: str
    spoken: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """The hubs near the one spoken of, the loosest first.

    Parameters
    ----------
    title : str
        What it shows.
    heads : tuple of str
        Headings of the cells, with units.
    rungs : tuple of Rung
        A row a hub.
    """

    title: str
    heads: tuple[str, ...]
    rungs: tuple[Rung, ...]


def ladder_of(study: ShaftStudy) -> Ladder | None:
    """Lay out the ladder; None where no hub may be named."""
    if not study.choices:
        return None
    frame = ladder_frame(study)
    limit = 100 * study.risk_limit
    # the scale ends where it stops to decide: a few times the limit, or where the interval of the hub spoken of does
    most = float(max([2.5 * limit, *(1.1 * frame.loc[frame["spoken"], "high"].dropna())]))
    heads = (
        "minutes of filing",
        "slack on trial, of 100",
        f"loose in {study.horizon_months:.3g} months, of 100",
        f"cost, {study.currency}",
    )
    minutes, cost = (_bars(frame[name]) for name in ("minutes", "cost"))
    rungs = []
    for at, row in enumerate(frame.to_dict("records")):
        loose, low, high = (float(row[name]) for name in ("loose", "low", "high"))
        chance = _NOT_KNOWN if np.isnan(loose) else f"{in_hundred(loose / 100)}{_between(low, high)}"
        rungs.append(
            Rung(
                hub=str(row["hub"]),
                cells=(
                    minutes[at],
                    (in_hundred(row["slack"] / 100), bar(row["slack"] / 100)),
                    (chance, interval(loose, low, high, most=most, limit=limit)),
                    cost[at],
                ),
                refused=str(row["refused"]),
                spoken=bool(row["spoken"]),
            )
        )
    return Ladder(title=ladder_title(study), heads=heads, rungs=tuple(rungs))


def _bars(numbers: pd.Series[float]) -> list[tuple[str, str]]:
    top = float(numbers.max()) if numbers.notna().any() else 0.0
    return [
        ("", "") if np.isnan(number) else (f"{number:.0f}", bar(number / top if top > 0 else 0.0)) for number in numbers
    ]


def _between(low: float, high: float) -> str:
    if np.isnan(low) or np.isnan(high):
        return ""
    return f" ({in_hundred(low / 100)} to {in_hundred(high / 100)})"
