"""Every group of the review against its own past: a funnel, in which only what lies outside has a name."""

from __future__ import annotations

from typing import Final

import altair as alt
import numpy as np
import pandas as pd

from wearstats.analysis.rates.funnel import funnel_limits
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLACK, BLUE, GREEN, QUIET, VERMILION, WIDE
from wearstats.report.review.funnel_frame import KINDS, funnel_frame
from wearstats.report.words.phrases import count
from wearstats.studies.counts.groups import LEVEL

_HEIGHT: Final = 240
_POINTS: Final = 80
_BEYOND: Final = 1.1
_MOST_NAMED: Final = 3
_SHAPES: Final = dict(zip(KINDS.values(), ("circle", "square", "triangle-up"), strict=True))
_COLOURS: Final = (VERMILION, GREEN, BLUE)


def funnel_chart(changes: pd.DataFrame, *, quarter: str, share: float, width: int = WIDE) -> AnyChart:
    """Draw each group's number over the one expected from its own past, against the one expected.

    Parameters
    ----------
    changes : DataFrame
        Of `QuarterCounts.changes`, with groups in which enough happened to show a change.
    quarter : str
        Its name.
    share : float
        The quarter's share of all hub-months, of it and of the quarters before.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    groups = funnel_frame(changes)
    drawn = groups[groups["counted"]]
    limits = _limits(drawn["expected"], share=share)
    top = 1.1 * max(float(drawn["times"].max()), 2.0)
    x_title, y_title = "expected, as in the four quarters before", "seen, times as many"
    x_axis = alt.Axis(tickCount=6, format="~g")
    x_scale = alt.Scale(type="sqrt", domain=[0, _BEYOND * float(drawn["expected"].max())])
    y_scale = alt.Scale(type="sqrt", domain=[0, top])

    def x() -> alt.X:
        return alt.X("expected:Q", title=x_title, scale=x_scale, axis=x_axis)

    def y(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", title=y_title, scale=y_scale)

    edges = alt.Chart(limits).encode(x=x())
    lines = [
        edges.mark_line(color=QUIET, clip=True, strokeDash=dash, strokeWidth=1.5).encode(y=y(end))
        for dash, ends in (([1, 0], ("low_all", "high_all")), ([4, 3], ("low", "high")))
        for end in ends
    ]
    even = alt.Chart(pd.DataFrame({"times": [1.0]})).mark_rule(color=QUIET).encode(y=y("times"))
    names = [name for name in _SHAPES if name in set(drawn["what"])]
    legend = alt.Legend(title=None, orient="bottom", columns=3 if width == WIDE else 2)
    colours = [colour for name, colour in zip(_SHAPES, _COLOURS, strict=True) if name in names]
    points = (
        alt.Chart(drawn)
        .mark_point(size=46, strokeWidth=1.5, opacity=1)
        .encode(
            x=x(),
            y=y("times"),
            color=alt.Color("what:N", scale=alt.Scale(domain=names, range=colours), legend=legend),
            shape=alt.Shape("what:N", scale=alt.Scale(domain=names, range=[_SHAPES[name] for name in names])),
        )
    )
    named = (
        alt.Chart(drawn[drawn["outside"]])
        .mark_text(dy=-10, color=BLACK, fontWeight="bold")
        .encode(x=x(), y=y("times"), text="group:N")
    )
    how = (
        "One point a group, what came of it over what its own past lets expect; on the level line nothing has changed. "
        "Of 100 groups that have not changed 95 lie between the broken lines, and hardly one of all outside the whole."
    )
    small = len(groups) - len(drawn)
    how += f" {count(small, 'group')} more {'is' if small == 1 else 'are'} too small to show a change." if small else ""
    title = funnel_title(groups, quarter=quarter)
    chart: AnyChart = alt.layer(*lines, even, points, *([named] if drawn["outside"].any() else [])).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points between the lines of a funnel; the numbers are in the table.",
    )
    return chart


def _limits(expected: pd.Series[float], *, share: float) -> pd.DataFrame:
    """Give the funnel's lines, for whole sums of both times from the smallest group to past the largest."""
    first, last = max(int(expected.min() / share), 1), int(np.ceil(_BEYOND * expected.max() / share))
    sums = np.unique(np.round(np.geomspace(first, last, _POINTS)))
    low, high = funnel_limits(sums, share, level=1.0 - LEVEL)
    low_all, high_all = funnel_limits(sums, share, level=1.0 - LEVEL / len(expected))
    frame = pd.DataFrame({"low": low, "high": high, "low_all": low_all, "high_all": high_all})
    # where even none is no surprise there is no line
    return frame.where(frame > 0).assign(expected=sums * share)


def funnel_title(drawn: pd.DataFrame, *, quarter: str) -> str:
    """Name the groups that lie outside."""
    out = drawn[drawn["outside"]]
    groups = count(len(drawn), "group")
    if out.empty:
        return f"In {quarter} none of {groups} changed by more than chance against its own past"
    named = out[["group", "what"]].head(_MOST_NAMED).itertuples(index=False)
    names = [group if ":" in group else f"{group}, {what}" for group, what in named]
    rest = len(out) - len(names)
    told = "; ".join([*names, *([f"{rest} more"] if rest else [])])
    return f"In {quarter} {len(out)} of {groups} changed by more than chance against the past: {told}"
