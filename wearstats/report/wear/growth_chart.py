"""How fast shafts wear as they run: what each lost between two looks, and the band of the mean."""

from __future__ import annotations

import altair as alt
import pandas as pd

from wearstats.report.rendering.bands import band as ink_band
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLACK, BLUE, QUIET, VERMILION, WIDE

_HEIGHT = 240
_KINDS = {"tight": ("tight", BLUE, "circle"), "loose": ("found loose", VERMILION, "diamond")}
_OTHER = ("not known", QUIET, "cross")


def growth_chart(points: pd.DataFrame, band: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw what shafts lost since they were first looked at, against the hours run since, and the mean with its band.

    Parameters
    ----------
    points : pandas.DataFrame
        ``since_h``, ``lost_um``, ``lost_low_um``, ``lost_high_um``, ``between``; first looks, at no hours, are left
        out.
    band : pandas.DataFrame
        ``between``, ``since_h``, ``lost_um``, ``low_um``, ``high_um``.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    again = points[points["since_h"] > 0]
    named = again.assign(hub=[_KINDS.get(kind, _OTHER)[0] for kind in again["between"]])
    bars = named.rename(columns={"lost_low_um": "low", "lost_high_um": "high"})
    bars = bars[["since_h", "lost_um", "low", "high", "hub"]]
    kinds = [*_KINDS.values(), _OTHER]
    names, colours, shapes = (list(column) for column in zip(*kinds, strict=True))
    colour = alt.Color("hub:N", scale=alt.Scale(domain=names, range=colours), legend=alt.Legend(title="the hub was"))
    shape = alt.Shape("hub:N", scale=alt.Scale(domain=names, range=shapes), legend=alt.Legend(title="the hub was"))
    x = alt.X("since_h:Q", title="running hours since the first look", axis=alt.Axis(tickCount=6, grid=False))
    y_title = "width lost since, µm"
    base = alt.Chart(bars).encode(x=x)
    rules = base.mark_rule(strokeWidth=1).encode(y=alt.Y("low:Q", title=y_title), y2="high:Q", color=colour)
    dots = base.mark_point(filled=True, size=34, opacity=1).encode(
        y=alt.Y("lost_um:Q", title=y_title), color=colour, shape=shape
    )
    layers = [rules, dots]
    lines = band[band["between"].isin(["tight", "all"])][["since_h", "lost_um", "low_um", "high_um"]]
    if len(lines):
        mean = alt.Chart(lines).encode(x=x)
        layers = [
            *ink_band(mean, low="low_um", high="high_um", title=y_title, color=BLACK),
            *layers,
            mean.mark_line(color=BLACK, strokeWidth=2).encode(y=alt.Y("lost_um:Q", title=y_title)),
        ]
    title = growth_title(band)
    how = "One point a shaft looked at again, with how sure it is; the line and its band are the mean (95 % sure)."
    chart: AnyChart = alt.layer(*layers).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points with intervals, width lost against running hours.",
    )
    return chart


def growth_title(band: pd.DataFrame) -> str:
    """Say the mean rate of the line that is drawn."""
    lines = band[band["between"].isin(["tight", "all"])].sort_values("since_h")
    if lines.empty or lines["since_h"].iloc[-1] <= 0:
        return "Too few shafts were measured again to say how fast they wear"
    last = lines.iloc[-1]
    while_tight = " while their hub stays tight" if last["between"] == "tight" else ""
    low, mean, high = (1000 * last[name] / last["since_h"] for name in ("low_um", "lost_um", "high_um"))
    between = f"between {low:.1f} and {high:.1f}".replace("-", "\u2212")
    if mean <= 0 or low <= 0:
        return f"Whether shafts wear{while_tight} cannot be told: they lose {between} µm in 1000 hours"
    return f"Shafts lose {mean:.1f} µm in 1000 hours{while_tight} ({between})"
