"""How much more often hubs work loose as supplied: every comparison beside the others, and as the evidence grew."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLUE, FONT_SIZE, INK, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import count

_HEIGHT = 220
_ROW = 30
_LABELS = 154
_BINS = 10
QUESTIONS = {
    "crude": "as sent",
    "as_done": "as fitted",
    "table": "known outcomes only",
    "same_season": "same pattern and season",
    "same_shafts": "same shafts",
    "same_gap": "same gap",
}
"""The comparisons in plain words, in the order in which they are drawn."""


def differences_chart(differences: pd.DataFrame, *, horizon_months: float, width: int = WIDE) -> AnyChart:
    """Draw every comparison of the methods with its interval, one row each.

    Parameters
    ----------
    differences : pandas.DataFrame
        ``question``, ``difference``, ``low``, ``high`` (shares, as supplied minus fitted by hand; NaN where not told).
    horizon_months : float
        Within which the hubs worked loose.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    known = differences[differences["question"].isin(QUESTIONS)]
    rows = known[["question"]].assign(
        label=known["question"].map(QUESTIONS),
        more=100 * known["difference"],
        low=100 * known["low"],
        high=100 * known["high"],
        sure=((known["low"] > 0) | (known["high"] < 0)).astype(str),
    )
    names = rows["label"].tolist()
    told, silent = rows[rows["more"].notna()], rows[rows["more"].isna()]
    span = [min(-5.0, *told["low"].dropna()) - 1.0, max(5.0, *told["high"].dropna()) + 1.0]
    title, scale = "more loose, of 100 hubs", alt.Scale(domain=span, nice=False)
    x = alt.X("more:Q", title=title, scale=scale)
    low = alt.X("low:Q", title=title, scale=scale)
    y = alt.Y(
        "label:N",
        sort=names,
        title=None,
        scale=alt.Scale(domain=names),
        axis=alt.Axis(ticks=False, domain=False, labelLimit=_LABELS, labelPadding=8),
    )
    colour = alt.Color(
        "sure:N", scale=alt.Scale(domain=["True", "False"], range=[VERMILION, BLUE]), legend=None, title=None
    )
    shape = alt.Shape("sure:N", scale=alt.Scale(domain=["True", "False"], range=["diamond", "circle"]), legend=None)
    bars = alt.Chart(told).mark_rule(strokeWidth=2).encode(x=low, x2="high:Q", y=y, color=colour)
    points = alt.Chart(told).mark_point(filled=True, size=70, opacity=1).encode(x=x, y=y, color=colour, shape=shape)
    zero = alt.Chart(pd.DataFrame({"more": [0.0]})).mark_rule(color=QUIET, strokeDash=[4, 3]).encode(x=x)
    layers: list[alt.Chart] = [zero, bars, points]
    if len(silent):
        layers.append(
            alt.Chart(silent.assign(more=0.0, text="not told"))
            .mark_text(color=QUIET, align="left", dx=6, fontSize=FONT_SIZE)
            .encode(x=x, y=y, text="text:N")
        )
    said = differences_title(differences, horizon_months=horizon_months)
    how = (
        "By what was sent, but for the second row. Right of the dashed line hubs work loose more often as supplied "
        "than fitted by hand. Lines are 95 % intervals; one that leaves out the dashed line has a diamond."
    )
    chart: AnyChart = alt.layer(*layers).properties(
        width=width - _LABELS - 28,
        height=_ROW * len(names),
        title=alt.TitleParams(wrapped(said, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{said}. One row a comparison: the difference with its interval.",
    )
    return chart


def differences_title(differences: pd.DataFrame, *, horizon_months: float) -> str:
    """Say what is seen: the comparison on the same shafts, or the plain one where that is not told."""
    told = differences.dropna(subset=["difference", "low", "high"])
    for question, where in (("same_shafts", "On the same shafts"), ("crude", "As they were sent")):
        row = told[told["question"] == question]
        if row.empty:
            continue
        more, low, high = (100 * float(row[name].iloc[0]) for name in ("difference", "low", "high"))
        than = "more" if more >= 0 else "fewer"
        said = (
            f"{where} {abs(more):.0f} {than} of 100 hubs work loose within {horizon_months:g} months as supplied than "
            f"fitted by hand (between {_signed(low)} and {_signed(high)})"
        )
        return said if low > 0 or high < 0 else f"{said}, which may be nothing"
    return "Which way of fitting holds better cannot be told yet"


def evidence_chart(quarters: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw what had not been ruled out at the end of each quarter.

    Parameters
    ----------
    quarters : pandas.DataFrame
        ``quarter``, ``difference``, ``low``, ``high`` (shares known to have worked loose, as supplied minus fitted by
        hand), ``supplied``, ``hand`` (fittings so far).
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    frame = quarters[["quarter"]].assign(
        more=100 * quarters["difference"],
        low=100 * quarters["low"],
        high=100 * quarters["high"],
        sure=((quarters["low"] > 0) | (quarters["high"] < 0)).astype(str),
    )
    many = len(frame) * 52 > width - 70
    x = alt.X("quarter:O", title="quarter", axis=alt.Axis(labelAngle=-90 if many else 0, ticks=False))
    # a first quarter with two fittings rules out nothing; the picture need not be as tall as that
    reach = float(np.nanmax(np.abs(frame[["low", "high"]].to_numpy()[len(frame) // 2 :]), initial=5.0))
    scale = alt.Scale(domain=[-1.6 * reach, 1.6 * reach], clamp=True, nice=False)
    title = "known loose more as supplied, of 100 hubs"
    colour = alt.Color(
        "sure:N", scale=alt.Scale(domain=["True", "False"], range=[VERMILION, BLUE]), legend=None, title=None
    )
    shape = alt.Shape("sure:N", scale=alt.Scale(domain=["True", "False"], range=["diamond", "circle"]), legend=None)
    bars = (
        alt.Chart(frame)
        .mark_rule(strokeWidth=3, opacity=0.75)
        .encode(x=x, y=alt.Y("low:Q", title=title, scale=scale), y2="high:Q", color=colour)
    )
    points = (
        alt.Chart(frame.dropna(subset=["more"]))
        .mark_point(filled=True, size=55, opacity=1)
        .encode(x=x, y=alt.Y("more:Q", title=title, scale=scale), color=colour, shape=shape)
    )
    zero = (
        alt.Chart(pd.DataFrame({"more": [0.0]}))
        .mark_rule(color=QUIET, strokeDash=[4, 3])
        .encode(y=alt.Y("more:Q", title=title, scale=scale))
    )
    said = evidence_title(quarters)
    ends = [
        alt.Chart(part)
        .mark_point(shape=shape, filled=True, size=60, opacity=1, yOffset=offset)
        .encode(x=x, y=alt.Y("end:Q", title=title, scale=scale), color=colour)
        for part, shape, offset in (
            (frame[frame["high"] > 1.6 * reach].assign(end=1.6 * reach), "triangle-up", 4),
            (frame[frame["low"] < -1.6 * reach].assign(end=-1.6 * reach), "triangle-down", -4),
        )
        if len(part)
    ]
    how = (
        "Bars: differences not ruled out by the end of the quarter, right 95 times in 100 however often one looks. "
        "Points: the difference so far. Fittings count from the day on which their horizon is reached."
    )
    if ends:
        how += " A triangle: they reach further than the picture shows."
    chart: AnyChart = alt.layer(zero, bars, points, *ends).properties(
        width=width - 70,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(said, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{said}. One bar a quarter.",
    )
    return chart


def evidence_title(quarters: pd.DataFrame) -> str:
    """Say whether and since when it is settled, and by how many fittings."""
    last = quarters.iloc[-1]
    hubs = f"{count(int(last['supplied']), 'hub')} as supplied and {int(last['hand'])} fitted by hand"
    settled = quarters[(quarters["low"] > 0) | (quarters["high"] < 0)]
    if settled.empty:
        return f"Not settled after {hubs}: looked at every quarter, the two ways may still be equally good"
    first = settled.iloc[0]
    worse = "as supplied" if first["low"] > 0 else "fitted by hand"
    return f"Settled since {first['quarter']}: hubs {worse} are known to work loose more often ({hubs})"


def chances_chart(chances: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw on how many shafts of each kind either method was in use.

    Parameters
    ----------
    chances : pandas.DataFrame
        ``sent`` (as-supplied, hand-fitted), ``chance`` (of being sent as supplied, 0 to 1).
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    edges = np.linspace(0.0, 1.0, _BINS + 1)
    groups = {"as-supplied": 1, "hand-fitted": -1}
    parts = []
    for group, side in groups.items():
        counts, _ = np.histogram(chances.loc[chances["sent"] == group, "chance"], bins=edges)
        parts.append(
            pd.DataFrame(
                {"sent": group, "begins": 100 * edges[:-1], "ends": 100 * edges[1:], "hubs": side * counts, "foot": 0}
            )
        )
    bins = pd.concat(parts, ignore_index=True)
    bins = bins[bins["hubs"] != 0]
    x = alt.X(
        "begins:Q",
        title="of 100 such shafts got a hub as supplied",
        scale=alt.Scale(domain=[0, 100], nice=False),
        axis=alt.Axis(grid=False, tickCount=10 if width >= WIDE else 5),
    )
    y = alt.Y("hubs:Q", title="hubs: by hand below, as supplied above", axis=alt.Axis(labelExpr="abs(datum.value)"))
    colour = alt.Color("sent:N", scale=alt.Scale(domain=list(groups), range=[VERMILION, BLUE]), legend=None, title=None)
    bars = alt.Chart(bins).mark_rect(opacity=0.75).encode(x=x, x2="ends:Q", y=y, y2="foot:Q", color=colour)
    foot = alt.Chart(pd.DataFrame({"hubs": [0]})).mark_rule(color=INK).encode(y=y)
    said = chances_title(chances)
    how = (
        "How often a hub was sent as supplied to shafts that read alike, in the same half-year and duty. Where bars "
        "stand on both sides the methods can be compared."
    )
    chart: AnyChart = alt.layer(bars, foot).properties(
        width=width - 70,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(said, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{said}. Bars of hubs by the chance of being sent as supplied.",
    )
    return chart


def chances_title(chances: pd.DataFrame) -> str:
    """Say how many hubs went to shafts that could as well have got the other method."""
    both = int(chances["chance"].between(0.1, 0.9).sum())
    whole = "the one hub" if len(chances) == 1 else f"{len(chances)} hubs"
    return f"{both} of {whole} went to shafts of a kind that got either method at least once in ten times"


def _signed(percent: float) -> str:
    return f"{abs(percent):.0f} {'more' if percent >= 0 else 'fewer'}"
