"""Hubs that came back, by quarter and reason."""

from __future__ import annotations

import altair as alt
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import FONT_SIZE, PAPER, WIDE, letters_on
from wearstats.report.review.returns_sentences import REASON_WORDS
from wearstats.report.words.phrases import count

_ROW = 21
_LABELS = 112
_TOTAL = "all"
_RAMP = ("#f3f7fa", "#0a3d62")


def returns_chart(returns: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw the number of hubs returned as a grid of reasons (rows, commonest first) by quarters (columns).

    Parameters
    ----------
    returns : pandas.DataFrame
        One row a quarter and reason, zeros included: ``quarter`` (``2026Q3``), ``reason``, ``returns``.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    quarters = sorted(returns["quarter"].unique())
    totals = returns.groupby("reason")["returns"].sum().sort_values(ascending=False, kind="stable")
    whole = totals.rename_axis("reason").reset_index().assign(quarter=_TOTAL)
    top = max(int(returns["returns"].max()), 4)
    cells = pd.concat([returns[["quarter", "reason", "returns"]], whole], ignore_index=True)
    cells = cells.assign(
        reason=cells["reason"].str.replace("-", " "),
        text=[f"{count}" if count else "" for count in cells["returns"]],
        shade=cells["returns"].where(cells["quarter"] != _TOTAL, 0),
        letters=[
            letters_on(0.0 if quarter == _TOTAL else count / top, _RAMP)
            for quarter, count in zip(cells["quarter"], cells["returns"], strict=True)
        ],
    )
    cell = min(44.0, (width - _LABELS - 16) / (len(quarters) + 1))
    x = alt.X(
        "quarter:O",
        sort=[*quarters, _TOTAL],
        title="quarter of the return",
        axis=alt.Axis(labelAngle=0 if cell >= 44 else -90, ticks=False, domain=False),
    )
    y = alt.Y(
        "reason:N",
        sort=[str(reason).replace("-", " ") for reason in totals.index],
        title=None,
        axis=alt.Axis(ticks=False, domain=False, labelLimit=_LABELS),
    )
    tiles = (
        alt.Chart(cells)
        .mark_rect(stroke=PAPER, strokeWidth=1)
        .encode(
            x=x,
            y=y,
            color=alt.Color(
                "shade:Q",
                scale=alt.Scale(domain=[0, top], range=list(_RAMP), interpolate="rgb"),
                legend=None,
                title="hubs returned",
            ),
        )
    )
    numbers = (
        alt.Chart(cells)
        .mark_text(fontSize=FONT_SIZE - (0 if cell >= 24 else 1))
        .encode(x=x, y=y, text="text:N", color=alt.Color("letters:N", scale=None))
    )
    title = returns_title(returns)
    how = "Hubs returned in each quarter; an empty place is none. The last column adds each row up."
    chart: AnyChart = (
        alt.layer(tiles, numbers)
        .resolve_scale(color="independent")
        .properties(
            width=cell * (len(quarters) + 1),
            height=_ROW * len(totals),
            title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
            description=f"{title}. A grid of reasons by quarters, the numbers are in the table.",
        )
    )
    return chart


def returns_title(returns: pd.DataFrame) -> str:
    """Say what the picture shows: how many came back, and what for most often."""
    totals = returns.groupby("reason")["returns"].sum()
    whole = int(totals.sum())
    if whole == 0:
        return "No hub has come back"
    most = [REASON_WORDS.get(str(reason), str(reason)) for reason in totals[totals == totals.max()].index]
    number = int(totals.max())
    times = "once" if number == 1 else f"{number} times"
    if len(most) == 1:
        told = f"the commonest reason was: {most[0]}, {times}" if whole > number else f"the reason was: {most[0]}"
    elif len(most) == 2:
        told = f"the commonest reasons were: {most[0]}; {most[1]}; {times} each"
    else:
        told = f"no reason was given more than {times}"
    return f"{count(whole, 'hub')} came back; {told}"
