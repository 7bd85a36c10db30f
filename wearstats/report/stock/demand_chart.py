"""What will be needed and what lies there: hubs by quarter with what is to come, and the shelf by size."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BAR, BLACK, BLUE, INK, PAPER, VERMILION, WIDE
from wearstats.report.words.phrases import count

_MARGIN = 82
_FAN_HEIGHT = 190
_ROW = 30
_WHOLE = 0.999


def fan_chart(history: pd.DataFrame, fan: pd.DataFrame, *, pattern: str, width: int = WIDE) -> AnyChart:
    """Draw the hubs needed in every quarter on record, and the range of what the next quarters will need.

    Parameters
    ----------
    history : pandas.DataFrame
        ``quarter`` (as 2026Q3), ``needed``, ``lost`` (of these, served by no size), ``exposure`` (part on record).
    fan : pandas.DataFrame
        ``quarters_ahead``, ``low95``, ``low50``, ``high50``, ``high95``, ``mean``.
    pattern : str
        For the title.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    past = history.assign(
        quarter=history["quarter"] + np.where(history["exposure"] < _WHOLE, " (part)", ""),
        served=history["needed"] - history["lost"],
    )
    ahead = fan.assign(quarter="next " + fan["quarters_ahead"].astype(int).astype(str))
    order = [*past["quarter"], *ahead["quarter"]]
    axis = alt.Axis(grid=False, labelAngle=-90, labelOverlap=False)
    x = alt.X("quarter:N", sort=order, title="quarter; those to come are counted from today", axis=axis)
    y_title = "hubs needed"
    bars, lost = alt.Chart(past).encode(x=x), alt.Chart(past[past["lost"] > 0]).encode(x=x)
    drawn = alt.Chart(ahead).encode(x=x)
    layers: list[AnyChart] = [
        bars.mark_bar(color=BAR).encode(y=alt.Y("served:Q", title=y_title, axis=alt.Axis(tickMinStep=1))),
        lost.mark_bar(color=PAPER, stroke=VERMILION, strokeWidth=1.5).encode(
            y=alt.Y("served:Q", title=y_title), y2="needed:Q"
        ),
        drawn.mark_rule(color=BLUE, strokeWidth=1.5).encode(y=alt.Y("low95:Q", title=y_title), y2="high95:Q"),
        drawn.mark_rule(color=BLUE, strokeWidth=7).encode(y=alt.Y("low50:Q", title=y_title), y2="high50:Q"),
        drawn.mark_point(color=BLACK, fill=PAPER, shape="diamond", size=60, opacity=1).encode(
            y=alt.Y("mean:Q", title=y_title)
        ),
    ]
    title = fan_title(past, fan, pattern=pattern)
    how = (
        "Bars: hubs needed in a quarter, what no size on the shelf served in white. Lines: what the quarters to come "
        "will need, thin in 95 of 100 cases, thick in half of them; diamond: on average."
    )
    chart: AnyChart = alt.layer(*layers).properties(
        width=width - _MARGIN,
        height=_FAN_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Bars of the quarters on record, ranges of those to come.",
    )
    return chart


def fan_title(history: pd.DataFrame, fan: pd.DataFrame, *, pattern: str) -> str:
    """Say what the next quarter needs, beside the last whole one on record."""
    nearest = fan.iloc[0]
    head = (
        f"{pattern}: the next quarter needs about {count(round(float(nearest['mean'])), 'hub')}, "
        f"between {nearest['low95']:.0f} and {nearest['high95']:.0f}"
    )
    whole = history[history["exposure"] >= _WHOLE]
    return head if whole.empty else f"{head}; {whole['quarter'].iloc[-1]} needed {whole['needed'].iloc[-1]:.0f}"


def shelf_chart(make: pd.DataFrame, *, pattern: str, width: int = WIDE) -> AnyChart:
    """Draw what lies on the shelf by size, what to make now on top of it, and what will be needed.

    Parameters
    ----------
    make : pandas.DataFrame
        ``undersize_um``, ``kept``, ``on_hand``, ``make``, ``cover_demand``, ``cover_low``, ``cover_high``.
    pattern : str
        For the title.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    rows = make.assign(
        size=[
            f"{um / 1000:g} mm" + ("" if kept else ", old")
            for um, kept in zip(make["undersize_um"], make["kept"], strict=True)
        ],
        after=make["on_hand"] + make["make"],
        zero=0,
    )[["size", "on_hand", "after", "make", "zero", "cover_demand", "cover_low", "cover_high", "kept"]]
    y = alt.Y("size:N", sort=rows["size"].tolist(), title="undersize", axis=alt.Axis(labelLimit=90))
    x_title = "hubs"
    base, needed = alt.Chart(rows).encode(y=y), alt.Chart(rows[rows["kept"]]).encode(y=y)
    made = alt.Chart(rows[rows["make"] > 0]).encode(y=y)
    layers: list[AnyChart] = [
        base.mark_bar(color=BAR, height=14).encode(
            x=alt.X("zero:Q", title=x_title, axis=alt.Axis(tickMinStep=1)), x2="on_hand:Q"
        ),
        needed.mark_rule(color=INK, strokeWidth=1.5).encode(x=alt.X("cover_low:Q", title=x_title), x2="cover_high:Q"),
        needed.mark_point(color=BLACK, fill=BLACK, shape="diamond", size=55, opacity=1).encode(
            x=alt.X("cover_demand:Q", title=x_title)
        ),
    ]
    if (rows["make"] > 0).any():
        layers.insert(
            1,
            made.mark_bar(color=PAPER, stroke=VERMILION, strokeWidth=1.5, height=14).encode(
                x=alt.X("on_hand:Q", title=x_title), x2="after:Q"
            ),
        )
    title = shelf_title(make, pattern=pattern)
    how = (
        "Filled: on the shelf. White: to be made now. Diamond and line: what is needed until a later batch can be "
        "there, on average and in 90 of 100 cases. Old sizes are no longer kept."
    )
    chart: AnyChart = alt.layer(*layers).properties(
        width=width - _MARGIN - 48,
        height=_ROW * len(rows),
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Bars of the shelf by size, with what will be needed.",
    )
    return chart


def shelf_title(make: pd.DataFrame, *, pattern: str) -> str:
    """Say how many to make now, and of which size most."""
    total = int(make["make"].sum())
    if total == 0:
        shelf = int(make["on_hand"].sum())
        lie = "1 hub is" if shelf == 1 else f"{shelf} hubs are"
        return f"{pattern}: nothing has to be made now, {lie} on the shelf"
    most = make[make["make"] == make["make"].max()]
    sizes = int((make["make"] > 0).sum())
    size = f"{most['undersize_um'].iloc[0] / 1000:g} mm"
    if sizes == 1:
        return f"{pattern}: make {count(total, 'hub')} now, {'' if total == 1 else 'all '}of {size}"
    each = int(most["make"].iloc[0])
    tail = f"most of {size}: {each}" if len(most) == 1 else f"{'' if len(most) == sizes else 'at most '}{each} of each"
    return f"{pattern}: make {count(total, 'hub')} of {count(sizes, 'size')} now, {tail}"
