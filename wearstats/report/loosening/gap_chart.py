"""The chance of working loose against the gap left, with every fitting on record below it."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.bands import band
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLACK, BLUE, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import in_hundred

_HEIGHT = 230
_RUG = 44
_MOST_TICKS = 1000
"""So many hubs of each row are drawn; of more, every so many-th by its gap."""
_READ = "gap taken as read"
_KNOWN = "gap as known, with its band"


def gap_risk_chart(
    curve: pd.DataFrame,
    rug: pd.DataFrame,
    *,
    horizon_months: float,
    risk_limit: float,
    crossing_um: float | None = None,
    width: int = WIDE,
) -> AnyChart:
    """Draw the chance by the horizon against the gap, as known and as read, the limit, and the fittings on record.

    Parameters
    ----------
    curve : pandas.DataFrame
        ``gap_left_um``, ``risk``, ``low``, ``high``, ``as_read`` (0 to 1).
    rug : pandas.DataFrame
        ``gap_left_um``, ``failed``, ``supplied``: a row a fitting.
    horizon_months, risk_limit : float
        Month of the chances, and the chance still accepted (0 to 1).
    crossing_um : float, optional
        The gap at which the chance is the one accepted.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    inner = width - 96
    largest = float(curve["gap_left_um"].max())
    top = float(np.ceil(min(100.0, 100 * max(curve["risk"].max() * 1.6, 2 * risk_limit)) / 10) * 10)
    x_scale = alt.Scale(domain=[0, largest], nice=False)
    y_scale = alt.Scale(domain=[0, top], nice=False)
    y_title = f"loose within {horizon_months:g} months, in 100"
    shares = pd.DataFrame(
        {
            "gap_left_um": curve["gap_left_um"],
            "risk": 100 * curve["risk"],
            "low": (100 * curve["low"]).clip(upper=top),
            "high": (100 * curve["high"]).clip(upper=top),
        }
    )
    x = alt.X("gap_left_um:Q", scale=x_scale, title=None, axis=alt.Axis(labels=False, ticks=False, grid=False))
    bands = band(alt.Chart(shares).encode(x=x), low="low", high="high", title=y_title, scale=y_scale, color=BLUE)
    lines = pd.concat(
        [
            shares[["gap_left_um", "risk"]].assign(line=_KNOWN),
            pd.DataFrame({"gap_left_um": curve["gap_left_um"], "risk": 100 * curve["as_read"], "line": _READ}),
        ]
    )
    lines = lines[lines["risk"] <= top]
    domain = [_KNOWN, _READ]
    legend = alt.Legend(columns=2 if width >= WIDE else 1)
    line = (
        alt.Chart(lines)
        .mark_line(strokeWidth=2)
        .encode(
            x=x,
            y=alt.Y("risk:Q", scale=y_scale, title=y_title),
            color=alt.Color("line:N", scale=alt.Scale(domain=domain, range=[BLUE, BLACK]), legend=legend),
            strokeDash=alt.StrokeDash("line:N", scale=alt.Scale(domain=domain, range=[[1, 0], [3, 3]]), legend=legend),
        )
    )
    limit = (
        alt.Chart(pd.DataFrame({"limit": [100 * risk_limit]}))
        .mark_rule(color=QUIET, strokeDash=[6, 4])
        .encode(y=alt.Y("limit:Q", scale=y_scale, title=y_title))
    )
    crossing = [] if crossing_um is None else _crossing(crossing_um, 100 * risk_limit, x, y_scale, y_title)
    title = gap_risk_title(curve, horizon_months=horizon_months)
    ticks, loose, others = _thinned(rug)
    how = (
        "The band says how sure the curve is (95 %); the level line is the risk limit. Below, every hub on record "
        f"at its gap, by how it went on: dark and long those that worked loose{loose}, short the others{others}."
    )
    chart: AnyChart = (
        alt.vconcat(
            alt.layer(*bands, limit, line, *crossing).properties(width=inner, height=_HEIGHT),
            _rug(ticks, x_scale, largest, width=inner),
            spacing=4,
        )
        .resolve_scale(x="shared", color="independent", strokeDash="independent")
        .properties(
            title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
            description=f"{title}. Curve of the chance against the gap left, and one tick a hub.",
        )
    )
    return chart


def gap_risk_title(curve: pd.DataFrame, *, horizon_months: float) -> str:
    """Say the chance without a gap and at the far end of what is usual."""
    far = float(curve["gap_left_um"].max()) * 0.6
    far = 5 * round(far / 5) if far >= 10 else max(float(round(far)), 1.0)
    at = [float(np.interp(um, curve["gap_left_um"], curve["risk"])) for um in (0.0, far)]
    low, high = (float(np.interp(far, curve["gap_left_um"], curve[end])) for end in ("low", "high"))
    return (
        f"Within {horizon_months:g} months {in_hundred(at[0])} in 100 hubs work loose where no gap is left, "
        f"{in_hundred(at[1])} at {far:g} µm (between {in_hundred(low)} and {in_hundred(high)})"
    )


def _thinned(rug: pd.DataFrame) -> tuple[pd.DataFrame, str, str]:
    """Keep few enough hubs of each kind to be drawn; give them, and in words what was left out of either."""
    parts, words = [], []
    for failed in (True, False):
        part = rug[rug["failed"].to_numpy(dtype=bool) == failed]
        step = -(-len(part) // _MOST_TICKS)
        parts.append(part.sort_values("gap_left_um", kind="stable").iloc[::step] if step > 1 else part)
        words.append(f" (one in {step} is drawn)" if step > 1 else "")
    return (pd.concat(parts) if any(words) else rug), words[0], words[1]


def _crossing(um: float, limit: float, x: alt.X, y_scale: alt.Scale, y_title: str) -> list[alt.Chart]:
    """Mark where the curve crosses the limit, with the gap in figures."""
    at = pd.DataFrame({"gap_left_um": [um], "risk": [limit], "foot": [0.0], "text": [f"{um:.0f} µm"]})
    y = alt.Y("risk:Q", scale=y_scale, title=y_title)
    base = alt.Chart(at).encode(x=x)
    return [
        base.mark_rule(color=QUIET, strokeDash=[6, 4]).encode(y=y, y2="foot:Q"),
        base.mark_point(color=BLACK, filled=True, size=60, opacity=1).encode(y=y),
        base.mark_text(dy=-26).encode(y=y, text="text:N"),
    ]


def _rug(rug: pd.DataFrame, x_scale: alt.Scale, largest: float, *, width: float) -> AnyChart:
    """Draw one tick a fitting, a row a way of going on, those that worked loose long and dark."""
    rows = ["as supplied", "filed"]
    failed = rug["failed"].to_numpy(dtype=bool)
    ticks = pd.DataFrame(
        {
            "gap_left_um": rug["gap_left_um"].clip(upper=largest),
            "way": np.where(rug["supplied"].to_numpy(dtype=bool), *rows),
            "became": np.where(failed, "loose", "others"),
        }
    )
    x = alt.X("gap_left_um:Q", scale=x_scale, title="mean gap left, µm", axis=alt.Axis(grid=False, tickCount=8))
    y = alt.Y("way:N", sort=rows, title=None, axis=alt.Axis(ticks=False, domain=False, labelLimit=70))
    layers = [
        alt.Chart(ticks[failed == loose]).mark_tick(thickness=thick, height=height, color=colour).encode(x=x, y=y)
        for loose, thick, height, colour in ((False, 1, 8, QUIET), (True, 2, 18, VERMILION))
    ]
    chart: AnyChart = alt.layer(*layers).properties(width=width, height=_RUG)
    return chart
