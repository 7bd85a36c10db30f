"""The hubs that could go on a shaft as a ladder: what each takes, how likely it is slack, and how often it works loose.

A row a size, fitted as it would be, from the loosest to the tightest; the row spoken of is shaded.
"""

from __future__ import annotations

from typing import Final

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BAR, FONT_SIZE, INK, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import in_hundred

_ROW: Final = 34
_SPACING: Final = 14
_BESIDE: Final = 44
"""Room behind a bar for its number, in screen points."""
_SHADE: Final = "#fff0c2"
_SMALL: Final = FONT_SIZE - 1


def ladder_chart(ladder: pd.DataFrame, *, title: str, months: float, currency: str, width: int = WIDE) -> AnyChart:
    """Draw the ladder.

    Parameters
    ----------
    ladder : pandas.DataFrame
        A row a hub: ``hub`` (as engraved, and how it goes on), ``minutes``, ``slack``, ``loose``, ``low``, ``high``
        (in 100; missing where not known), ``cost``, ``limit`` (in 100), ``refused`` (why, or empty), ``spoken`` (bool).
    title : str
        What it shows.
    months : float
        Within which hubs work loose.
    currency : str
        Of the cost.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    rows = ladder["hub"].tolist()
    wide = width >= WIDE
    labels = 8 * max(len(name) for name in rows) * _SMALL // 14 + 16
    each = (width - labels - 3 * _SPACING - 12) / 4 if wide else (width - labels - _SPACING - 12) / 2
    panels = [
        _bars(ladder, rows, "minutes", "minutes of filing", inner=each, labels=True),
        _bars(ladder, rows, "slack", "slack on trial, of 100", inner=each, labels=False, most=100.0),
        _risks(ladder, rows, months, inner=each, labels=not wide),
        _bars(ladder, rows, "cost", f"cost, {currency}", inner=each, labels=False),
    ]
    if wide:
        drawn: AnyChart = alt.hconcat(*panels, spacing=_SPACING)
    else:
        pairs = [alt.hconcat(*panels[at : at + 2], spacing=_SPACING) for at in (0, 2)]
        drawn = alt.vconcat(*pairs, spacing=_SPACING)
    how = "Sizes are undersizes in mm, fitted as named; the shaded row is the one spoken of. "
    how += "Loose: the point, its 95 % line, and the limit as a broken line; an arrow points to what lies further out."
    named: AnyChart = drawn.properties(
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. A row a hub with minutes, slack on trial, loose, and cost, with numbers.",
    )
    return named


def _y(rows: list[str], *, labels: bool) -> alt.Y:
    axis = alt.Axis(ticks=False, domain=False, labelLimit=190, grid=False, labels=labels, labelFontSize=_SMALL)
    return alt.Y("hub:N", sort=rows, title=None, scale=alt.Scale(domain=rows), axis=axis)


def _shade(ladder: pd.DataFrame, rows: list[str], *, labels: bool) -> list[alt.Chart]:
    """Shade the row that is spoken of, from end to end."""
    spoken = ladder.loc[ladder["spoken"], ["hub"]]
    if spoken.empty:
        return []
    return [alt.Chart(spoken).mark_bar(color=_SHADE, height=_ROW - 4).encode(y=_y(rows, labels=labels))]


def _bars(
    ladder: pd.DataFrame, rows: list[str], column: str, title: str, *, inner: float, labels: bool, most: float = 0.0
) -> AnyChart:
    """Draw one number of every hub as a bar, with the number behind it."""
    known = ladder[ladder[column].notna()]
    told = pd.DataFrame(
        {
            "hub": known["hub"],
            column: known[column],
            "text": [in_hundred(value / 100) if most else f"{value:.0f}" for value in known[column]],
        }
    )
    top = max(float(told[column].max()) if len(told) else 0.0, 1e-9)
    x = alt.X(
        f"{column}:Q",
        scale=alt.Scale(domain=[0, top * inner / max(inner - _BESIDE, 1)], nice=False),
        title=title,
        axis=alt.Axis(labels=False, ticks=False, grid=False, domain=False, titleFontSize=_SMALL, orient="top"),
    )
    base = alt.Chart(told)
    bars = base.mark_bar(color=BAR, stroke=QUIET, strokeWidth=0.5, height=_ROW // 2).encode(
        x=x, y=_y(rows, labels=labels)
    )
    numbers = base.mark_text(align="left", dx=4, fontSize=_SMALL, color=INK).encode(
        x=x, y=_y(rows, labels=labels), text="text:N"
    )
    chart: AnyChart = alt.layer(*_shade(ladder, rows, labels=labels), bars, numbers).properties(
        width=inner, height=_ROW * len(rows)
    )
    return chart


def _risks(ladder: pd.DataFrame, rows: list[str], months: float, *, inner: float, labels: bool) -> AnyChart:
    """Draw the chances where they decide: up to a few times the limit, what lies further out at the edge."""
    limit = float(ladder["limit"].iloc[0])
    spoken = ladder.loc[ladder["spoken"], "high"].dropna()
    top = float(max([2.5 * limit, *(1.3 * spoken)]))
    known = ladder[ladder["loose"].notna()]
    beyond = known["loose"].to_numpy(dtype=float) > top
    words = [in_hundred(value / 100) for value in known["loose"]]
    told = pd.DataFrame(
        {
            "hub": known["hub"],
            "loose": known["loose"].clip(upper=top),
            "low": known["low"].clip(upper=top),
            "high": known["high"].clip(upper=top),
            "text": np.where(beyond, [f"→ {word}" for word in words], words),
            "inside": ~beyond,
        }
    )
    unknown = ladder.loc[ladder["loose"].isna(), ["hub"]].assign(text="not known", end=limit)
    title = f"loose in {months:.3g} months, of 100"
    x = alt.X(
        "loose:Q",
        scale=alt.Scale(domain=[0, top * inner / max(inner - _BESIDE, 1)], nice=False),
        title=title,
        axis=alt.Axis(labels=False, ticks=False, grid=False, domain=False, titleFontSize=_SMALL, orient="top"),
    )
    low, high = alt.X("low:Q", title=title), alt.X2("high:Q")
    y = _y(rows, labels=labels)
    line = alt.Chart(pd.DataFrame({"loose": [limit]})).mark_rule(color=VERMILION, strokeDash=[4, 3]).encode(x=x)
    inside = alt.Chart(told[told["inside"]])
    layers = [
        *_shade(ladder, rows, labels=labels),
        line,
        inside.mark_rule(strokeWidth=1.5, color=QUIET).encode(x=low, x2=high, y=y),
        inside.mark_point(filled=True, size=70, opacity=1, color=INK).encode(x=x, y=y),
        alt.Chart(pd.concat([told.assign(end=told["high"])[["hub", "text", "end"]], unknown]))
        .mark_text(align="left", dx=6, fontSize=_SMALL, color=INK)
        .encode(x=alt.X("end:Q", title=title), y=y, text="text:N"),
    ]
    chart: AnyChart = alt.layer(*layers).properties(width=inner, height=_ROW * len(rows))
    return chart
