"""What each inspection of one shaft told of its wear, day by day, and when hubs ran in between."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Z95
from wearstats.domain.units import print_um
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLUE, QUIET, VERMILION, WIDE

_HEIGHT = 180
_FEW_DAYS = 180
_KINDS = {"home": (BLUE, "circle"), "workshop": (VERMILION, "diamond"), "caliper": (QUIET, "cross")}


def history_chart(history: pd.DataFrame, *, shaft: str, width: int = WIDE) -> AnyChart:
    """Draw one shaft's mean wear as each inspection has it.

    Parameters
    ----------
    history : pandas.DataFrame
        ``measured_on``, ``kind``, ``hubs_before``, ``width_um_below_new`` and its ``low_um_below_new``,
        ``high_um_below_new``; one row an inspection.
    shaft : str
        Its name.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    frame = history.assign(
        day=[f"{day:%Y-%m-%d}" for day in history["measured_on"]],
        low=history["low_um_below_new"],
        high=history["high_um_below_new"],
    )[["day", "kind", "hubs_before", "width_um_below_new", "low", "high"]]
    kinds = [kind for kind in _KINDS if kind in set(frame["kind"])]
    colours, shapes = zip(*(_KINDS[kind] for kind in kinds), strict=True)
    colour = alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=list(colours)), legend=alt.Legend(title=None))
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=list(shapes)), legend=alt.Legend(title=None))
    # months alone would say the same thing at every tick of a few weeks
    days = (max(history["measured_on"]) - min(history["measured_on"])).days
    axis = alt.Axis(
        format="%b %Y" if days > _FEW_DAYS else "%-d %b %Y", tickCount=5 if days > _FEW_DAYS else 3, grid=False
    )
    x = alt.X("day:T", title=None, scale=alt.Scale(padding=14), axis=axis)
    y_title = "mean width below new, µm"
    base = alt.Chart(frame).encode(x=x)
    lines = base.mark_line(color=QUIET, strokeWidth=1).encode(
        y=alt.Y("width_um_below_new:Q", title=y_title), detail="hubs_before:N"
    )
    bars = base.mark_rule(strokeWidth=2).encode(y=alt.Y("low:Q", title=y_title), y2="high:Q", color=colour)
    points = base.mark_point(filled=True, size=60, opacity=1).encode(
        y=alt.Y("width_um_below_new:Q", title=y_title), color=colour, shape=shape
    )
    title = history_title(history, shaft=shaft)
    how = "One point an inspection with how sure it is by itself (95 %); points are joined where no hub ran in between."
    chart: AnyChart = alt.layer(lines, bars, points).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points with intervals, mean width below new against the day.",
    )
    return chart


def history_title(history: pd.DataFrame, *, shaft: str) -> str:
    """Say what the first and the last inspection told, and no change that may be their errors alone."""
    first, last = history.iloc[0], history.iloc[-1]
    told = [
        print_um(round(float(row["width_um_below_new"])), decimals=3).split(" (")[0].replace("-", "\u2212")
        for row in (first, last)
    ]
    if len(history) == 1:
        return f"Shaft {shaft} had lost {told[0]} when it was measured"
    apart = abs(float(last["width_um_below_new"] - first["width_um_below_new"]))
    if apart <= Z95 * float(np.hypot(first["sd_um"], last["sd_um"])):
        return f"Shaft {shaft}: {told[0]} lost as first measured, {told[1]} as last; no change is sure"
    return f"Shaft {shaft} had lost {told[0]} as first measured and {told[1]} as last"
