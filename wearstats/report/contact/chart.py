"""Contact as it was marked against contact as it was predicted."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLUE, QUIET, WIDE
from wearstats.report.words.phrases import in_hundred

_HEIGHT = 240


def contact_chart(bands: pd.DataFrame, fittings: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw the share of sides that marked against the share predicted, for every fitting and for bands of them.

    Parameters
    ----------
    bands : pandas.DataFrame
        ``band``, ``fittings``, ``predicted``, ``marked``, ``low``, ``high`` (0 to 1).
    fittings : pandas.DataFrame
        ``predicted``, ``marked`` (0 to 1), one row a fitting.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    names = ["predicted", "marked", "low", "high"]
    shares = 100 * bands[names].astype(float).clip(0, 1)
    single = 100 * fittings[["predicted", "marked"]].astype(float)
    scale = alt.Scale(domain=[0, 104], nice=False)
    y_title = "sides that marked, in 100"
    x = alt.X(
        "predicted:Q", scale=scale, title="sides predicted to bear, in 100", axis=alt.Axis(grid=False, tickCount=6)
    )
    y = alt.Y("marked:Q", scale=scale, title=y_title, axis=alt.Axis(tickCount=6))
    even = pd.DataFrame({"predicted": [0.0, 100.0], "marked": [0.0, 100.0]})
    line = alt.Chart(even).mark_line(color=QUIET, strokeDash=[5, 4]).encode(x=x, y=y)
    dots = alt.Chart(single).mark_point(color=QUIET, size=22, strokeWidth=1, opacity=0.75).encode(x=x, y=y)
    base = alt.Chart(shares).encode(x=x)
    bars = base.mark_rule(color=BLUE, strokeWidth=2).encode(y=alt.Y("low:Q", scale=scale, title=y_title), y2="high:Q")
    means = base.mark_point(color=BLUE, filled=True, size=90, opacity=1, shape="diamond").encode(y=y)
    title = contact_title(bands)
    how = (
        "Rings: one hub each. Diamonds: means of hubs of like predicted contact, with how sure they are (95 %). On the "
        "broken line marks and predicted agree."
    )
    chart: AnyChart = alt.layer(line, dots, bars, means).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points with intervals, sides marked against sides predicted to bear.",
    )
    return chart


def contact_title(bands: pd.DataFrame) -> str:
    """Say in which groups more or fewer sides marked than were predicted."""
    fewer, more = (
        int(which.sum()) for which in (bands["high"] < bands["predicted"], bands["low"] > bands["predicted"])
    )
    marked, predicted = (
        in_hundred(float(np.average(bands[name].astype(float).clip(0, 1), weights=bands["fittings"])))
        for name in ("marked", "predicted")
    )
    head = f"Of 100 sides {marked} marked where {predicted} were predicted to bear"
    if not fewer and not more:
        return f"{head}, no sure difference in any group of hubs"
    if len(bands) == 1:
        return f"{head}, surely {'fewer' if fewer else 'more'}"
    parts = [f"in {number} surely {how}" for number, how in ((fewer, "fewer"), (more, "more")) if number]
    return f"{head}; of {len(bands)} groups of hubs {', '.join(parts)}"
