"""How many hubs are still tight as the months go by, by fitting method, with the numbers still watched below."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import pandas as pd

from wearstats.report.rendering.bands import band
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import FONT_SIZE, LINE_COLOURS, LINE_DASHES, WIDE
from wearstats.report.words.phrases import in_hundred

_HEIGHT = 220
_TABLE_ROW = 17
_LABELS = 128
_FEW = 10
"""Hubs that must still be followed at the horizon for the title to speak of their group; judgement."""


def curves_chart(
    curves: pd.DataFrame,
    at_risk: pd.DataFrame,
    *,
    horizon_months: float,
    title: str | None = None,
    notes: Sequence[str] = (),
    width: int = WIDE,
) -> AnyChart:
    """Draw the share still tight, one step curve a group with its band, and the numbers still watched.

    Parameters
    ----------
    curves : pandas.DataFrame
        ``group``, ``months``, ``still_tight`` (0 to 1), ``low``, ``high``; the value holds from its month on.
    at_risk : pandas.DataFrame
        ``group``, ``months``, ``at_risk``: fittings still watched at that month.
    horizon_months : float
        The month that the title speaks of.
    title : str, optional
        Another title than `curves_title` gives.
    notes : sequence of str
        Sentences below the title, after the one that explains the picture.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    groups = list(dict.fromkeys(curves["group"]))
    inner = width - _LABELS - 20
    months = alt.Scale(domain=[0, float(max(curves["months"].max(), at_risk["months"].max()))], nice=False)
    ticks = sorted(at_risk["months"].unique().tolist())
    how = "The band says how sure the curve is (95 %). Below it: how many hubs are still being followed at that time."
    how = " ".join([how, *notes])
    title = title or curves_title(curves, at_risk, horizon_months=horizon_months)
    chart: AnyChart = (
        alt.vconcat(
            _curves(curves, groups, months, ticks, width=inner),
            _table(at_risk, groups, months, width=inner),
            spacing=4,
        )
        .resolve_scale(x="shared", color="shared")
        .properties(
            title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
            description=f"{title}. Step curves of the share of hubs still tight against months since fitting.",
        )
    )
    return chart


def curves_title(curves: pd.DataFrame, at_risk: pd.DataFrame, *, horizon_months: float) -> str:
    """Say what the curves show at the horizon: the share still tight in each group large enough to say so."""
    said, few = shares_at(curves, at_risk, horizon_months=horizon_months)
    if not said:
        return f"Too few hubs have been followed for {horizon_months:g} months to say how many stay tight"
    shares = [f"{in_hundred(share)} of 100 {group}" for group, share in said.items()]
    too_few = f"; too few {' and '.join(few)} to say" if few else ""
    return f"Still tight after {horizon_months:g} months: {', '.join([f'{shares[0]} hubs', *shares[1:]])}{too_few}"


def shares_at(
    curves: pd.DataFrame, at_risk: pd.DataFrame, *, horizon_months: float
) -> tuple[dict[str, float], list[str]]:
    """Give the share still tight at the horizon by group, and the groups of which too few are followed to say."""
    said: dict[str, float] = {}
    few: list[str] = []
    for group, curve in curves.groupby("group", sort=False):
        until = curve[curve["months"] <= horizon_months]
        if curve["months"].max() < horizon_months or until.empty:
            continue
        counts = at_risk[(at_risk["group"] == group) & (at_risk["months"] >= horizon_months)].sort_values("months")
        if counts.empty or counts["at_risk"].iloc[0] < _FEW:
            few.append(str(group))
            continue
        said[str(group)] = float(until.sort_values("months")["still_tight"].iloc[-1])
    return said, few


def _colour(groups: list[str]) -> alt.Color:
    colours = [LINE_COLOURS[number % len(LINE_COLOURS)] for number in range(len(groups))]
    return alt.Color("group:N", scale=alt.Scale(domain=groups, range=colours), legend=None, title=None)


def _dash(groups: list[str]) -> alt.StrokeDash:
    dashes = [list(LINE_DASHES[number % len(LINE_DASHES)]) for number in range(len(groups))]
    return alt.StrokeDash("group:N", scale=alt.Scale(domain=groups, range=dashes), legend=None, title=None)


def _curves(
    curves: pd.DataFrame, groups: list[str], months: alt.Scale, ticks: list[float], *, width: float
) -> AnyChart:
    shares = curves[["group", "months"]].assign(
        tight=100 * curves["still_tight"], low=100 * curves["low"], high=100 * curves["high"]
    )
    floor = max(0.0, 10 * ((shares["low"].min() - 5) // 10))
    percent = alt.Scale(domain=[floor, 100], nice=False, clamp=True)
    x = alt.X(
        "months:Q",
        scale=months,
        title="months since fitting",
        axis=alt.Axis(values=ticks, grid=False, format="d"),
    )
    y_title = "hubs still tight, %"
    base = alt.Chart(shares).encode(x=x, color=_colour(groups))
    bands = band(base, low="low", high="high", title=y_title, scale=percent, interpolate="step-after")
    line = base.mark_line(interpolate="step-after", strokeWidth=2).encode(
        y=alt.Y("tight:Q", scale=percent, title=y_title),
        strokeDash=_dash(groups),
    )
    chart: AnyChart = alt.layer(*bands, line).properties(width=width, height=_HEIGHT)
    return chart


def _table(at_risk: pd.DataFrame, groups: list[str], months: alt.Scale, *, width: float) -> AnyChart:
    """Draw the table of numbers; its row names carry each group's line, and so are the key to the curves."""
    y = alt.Y(
        "group:N",
        sort=groups,
        title=None,
        axis=alt.Axis(ticks=False, domain=False, labelPadding=38, labelLimit=110),
    )
    numbers = (
        alt.Chart(at_risk)
        .mark_text(fontSize=FONT_SIZE)
        .encode(x=alt.X("months:Q", scale=months, axis=None), y=y, text="at_risk:Q")
    )
    key = (
        alt.Chart(pd.DataFrame({"group": groups}))
        .mark_rule(strokeWidth=2)
        .encode(
            x=alt.value(-34),
            x2=alt.value(-14),
            y=y,
            color=_colour(groups),
            strokeDash=_dash(groups),
        )
    )
    chart: AnyChart = alt.layer(numbers, key).properties(width=width, height=_TABLE_ROW * len(groups))
    return chart
