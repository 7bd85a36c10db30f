"""Whether the model of working loose predicts what happened, and what other meanings of silence would make of it."""

from __future__ import annotations

from collections.abc import Iterable

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLACK, BLUE, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import in_hundred, months

_HEIGHT = 210


def calibration_chart(calibration: pd.DataFrame, *, horizon_months: float, width: int = WIDE) -> AnyChart:
    """Draw what happened in groups of equal predicted risk, against what was predicted.

    Parameters
    ----------
    calibration : pandas.DataFrame
        ``group``, ``fittings``, ``failures``, ``predicted``, ``happened``, ``low``, ``high`` (0 to 1).
    horizon_months : float
        Month of the risks.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    told = calibration.dropna(subset=["happened"])
    shares = pd.DataFrame({name: 100 * told[name] for name in ("predicted", "happened", "low", "high")})
    most = float(max(shares["predicted"].max(), shares["happened"].max(), 5.0))
    # a group of few hubs has an interval that would dwarf all others
    top = float(np.ceil(max(1.25 * most, min(1.05 * float(shares["high"].max()), 2.0 * most)) / 5) * 5)
    beyond = shares[shares["high"] > top].assign(top=top)
    shares = shares.assign(high=shares["high"].clip(upper=top))
    scale = alt.Scale(domain=[0, top], nice=False)
    y_title = f"loose within {horizon_months:g} months, in 100"
    x = alt.X("predicted:Q", scale=scale, title="predicted, in 100", axis=alt.Axis(grid=False, tickCount=6))
    base = alt.Chart(shares).encode(x=x)
    even = pd.DataFrame({"predicted": [0.0, top], "happened": [0.0, top]})
    line = (
        alt.Chart(even)
        .mark_line(color=QUIET, strokeDash=[5, 4])
        .encode(x=x, y=alt.Y("happened:Q", scale=scale, title=y_title))
    )
    bars = base.mark_rule(color=BLUE).encode(y=alt.Y("low:Q", scale=scale, title=y_title), y2="high:Q")
    dots = base.mark_point(color=BLUE, filled=True, size=50, opacity=1).encode(
        y=alt.Y("happened:Q", scale=scale, title=y_title)
    )
    title = calibration_title(calibration)
    how = "One point a group of hubs of like risk, with how sure it is (95 %); on the broken line the two agree."
    layers: list[AnyChart] = [line, bars, dots]
    if len(beyond):
        arrow = alt.Chart(beyond).mark_point(shape="triangle-up", filled=True, size=70, color=BLUE, opacity=1)
        layers.append(arrow.encode(x=x, y=alt.Y("top:Q", scale=scale, title=y_title)))
        how += " A triangle: it may be higher still than the picture shows."
    chart: AnyChart = alt.layer(*layers).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points with intervals, risk seen against risk predicted.",
    )
    return chart


def calibration_title(calibration: pd.DataFrame) -> str:
    """Say in how many groups what happened agrees with what was predicted."""
    told = calibration.dropna(subset=["happened"])
    if told.empty:
        return "Too few hubs were followed to compare the risk predicted with what happened"
    within = (told["low"] <= told["predicted"]) & (told["predicted"] <= told["high"])
    riskiest = told.iloc[int(told["predicted"].to_numpy().argmax())]
    came = f"{in_hundred(float(riskiest['happened']))} in 100 worked loose, {in_hundred(float(riskiest['predicted']))}"
    if len(told) == 1:
        agrees = "as far as chance allows" if within.all() else "which is not what chance allows"
        return f"In the one group of hubs {came} were predicted, {agrees}"
    groups = f"all {len(told)}" if within.all() else f"{int(within.sum())} of {len(told)}"
    return (
        f"What happened agrees, as far as chance allows, with what was predicted in {groups} groups of hubs; in the "
        f"riskiest {came} were predicted"
    )


def law_chart(beside_curve: pd.DataFrame, *, horizon_months: float, width: int = WIDE) -> AnyChart:
    """Draw the share failed by the fitted model over the curve that knows of none.

    Parameters
    ----------
    beside_curve : pandas.DataFrame
        ``months``, ``law``, ``curve`` (0 to 1).
    horizon_months : float
        Month that the title speaks of.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    names = ["the model", "the curve without a model"]
    shares = pd.concat(
        [
            pd.DataFrame({"months": beside_curve["months"], "failed": 100 * beside_curve[column], "which": name})
            for column, name in zip(("law", "curve"), names, strict=True)
        ]
    )
    which = alt.Scale(domain=names, range=[BLUE, BLACK])
    x = alt.X("months:Q", title="months since fitting", axis=alt.Axis(grid=False, tickCount=8))
    y = alt.Y("failed:Q", title="worked loose by then, in 100")
    legend = alt.Legend(columns=2 if width >= WIDE else 1)
    law = (
        alt.Chart(shares[shares["which"] == names[0]])
        .mark_line(strokeWidth=2)
        .encode(x=x, y=y, color=alt.Color("which:N", scale=which, legend=legend))
    )
    curve = (
        alt.Chart(shares[shares["which"] == names[1]])
        .mark_line(interpolate="step-after", strokeWidth=1.3)
        .encode(x=x, y=y, color=alt.Color("which:N", scale=which, legend=legend))
    )
    title = law_title(beside_curve, horizon_months=horizon_months)
    how = "Smooth: the fitted model over all hubs whose gap is known. Steps: all hubs, without any model."
    chart: AnyChart = alt.layer(law, curve).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Two curves of the share worked loose against months.",
    )
    return chart


def law_title(beside_curve: pd.DataFrame, *, horizon_months: float) -> str:
    """Say how far model and curve lie apart at the horizon."""
    told = beside_curve[beside_curve["months"] <= horizon_months]
    if told.empty:
        return "No hub was followed long enough to compare the model with the curve"
    law, curve = (in_hundred(float(told[name].iloc[-1])) for name in ("law", "curve"))
    when = months(float(told["months"].iloc[-1]))
    if law == curve:
        return f"After {when} {law} in 100 hubs have worked loose, by the model and by the curve without it"
    return f"After {when} {law} in 100 hubs have worked loose by the model, {curve} by the curve without it"


def silence_chart(
    sensitivity: pd.DataFrame, *, chance: float, low: float, high: float, horizon_months: float, width: int = WIDE
) -> AnyChart:
    """Draw the risk against the chance that a failure is reported unasked, and if silent hubs fail more or less often.

    Parameters
    ----------
    sensitivity : pandas.DataFrame
        ``chance``, ``silent_hazard``, ``risk`` (0 to 1).
    chance, low, high : float
        The estimated chance with its interval, 0 to 1.
    horizon_months : float
        Month of the risk.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    by_chance = sensitivity[(sensitivity["silent_hazard"] == 1) & (np.abs(sensitivity["chance"] - chance) > 1e-9)]
    others = sensitivity[np.abs(sensitivity["chance"] - chance) <= 1e-9]
    line = pd.DataFrame({"chance": 100 * by_chance["chance"], "risk": 100 * by_chance["risk"]})
    points = pd.DataFrame(
        {
            "chance": 100 * others["chance"],
            "risk": 100 * others["risk"],
            "times": ["" if times == 1 else f"{times:g} times" for times in others["silent_hazard"]],
        }
    ).drop_duplicates("times")
    top = float(np.ceil(max(line["risk"].max(), points["risk"].max()) * 1.1 / 5) * 5)
    x_scale, y_scale = alt.Scale(domain=[0, 100], nice=False), alt.Scale(domain=[0, top], nice=False)
    x_title = "failures reported unasked, in 100"
    x = alt.X(
        "chance:Q",
        scale=x_scale,
        title=x_title,
        axis=alt.Axis(grid=False, tickCount=6),
    )
    y = alt.Y("risk:Q", scale=y_scale, title=f"loose within {horizon_months:g} months, in 100")
    band = (
        alt.Chart(pd.DataFrame({"low": [100 * low], "high": [100 * high]}))
        .mark_rect(color=BLUE, fillOpacity=0.12, stroke=BLUE, strokeDash=[4, 2])
        .encode(x=alt.X("low:Q", scale=x_scale, title=x_title), x2="high:Q")
    )
    curve = alt.Chart(line).mark_line(color=BLACK, strokeWidth=2).encode(x=x, y=y)
    base = alt.Chart(points).encode(x=x, y=y)
    dots = base.mark_point(color=VERMILION, filled=True, size=55, opacity=1)
    # the line falls to the right: below it a word must stand lower than its point
    above = points["risk"] >= np.interp(points["chance"], line["chance"], line["risk"])
    words = [
        alt.Chart(part).mark_text(align="left", dx=8, dy=dy).encode(x=x, y=y, text="times:N")
        for part, dy in ((points[above], 0), (points[~above], 6))
        if len(part)
    ]
    title = silence_title(sensitivity, low=low, high=high, horizon_months=horizon_months)
    how = (
        "The line: all hubs alike, if so many failures were reported unasked; the band is what these data say of that "
        "(95 % sure). The points: at its best value, if hubs of silent owners failed so many times as often."
    )
    chart: AnyChart = alt.layer(band, curve, dots, *words).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. A line and points, risk against the share of failures reported unasked.",
    )
    return chart


def silence_title(sensitivity: pd.DataFrame, *, low: float, high: float, horizon_months: float) -> str:
    """Say between which risks the answer lies as silence means one thing or another."""
    plain = sensitivity[sensitivity["silent_hazard"] == 1].sort_values("chance")
    ends = np.interp([high, low], plain["chance"], plain["risk"])
    widest = (sensitivity["risk"].min(), sensitivity["risk"].max())
    return (
        f"As far as these data tell what silence means, {_between(ends)} in 100 hubs work loose within "
        f"{months(horizon_months)}; under all meanings tried, {_between(widest)}"
    )


def _between(ends: Iterable[float]) -> str:
    low, high = (in_hundred(float(end)) for end in ends)
    return f"about {low}" if low == high else f"between {low} and {high}"
