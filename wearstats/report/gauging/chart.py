"""How far the measurements can be trusted: each measurer's bias, and what each way of measuring achieves."""

from __future__ import annotations

import altair as alt
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLUE, FONT_SIZE, PAPER, QUIET, VERMILION, WIDE, letters_on
from wearstats.report.words.phrases import count

_HEIGHT = 240
_ROW = 34
_RAMP = ("#ffffff", "#0072b2")


def measurers_chart(measurers: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw every repeated measurer's bias in order, with its interval.

    Parameters
    ----------
    measurers : pandas.DataFrame
        ``measurer``, ``class``, ``bias_um``, ``low``, ``high``.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    ordered = measurers.sort_values("bias_um", kind="stable").reset_index(drop=True)
    frame = ordered[["bias_um", "low", "high"]].assign(
        place=range(1, len(ordered) + 1), sure=((ordered["low"] > 0) | (ordered["high"] < 0)).astype(str)
    )
    x = alt.X(
        "place:Q",
        title="measurers, in the order of their bias",
        scale=alt.Scale(domain=[0, len(frame) + 1], nice=False),
        axis=alt.Axis(grid=False, labels=False, ticks=False),
    )
    y_title = "bias against the mean of their kind, µm"
    colour = alt.Color(
        "sure:N", scale=alt.Scale(domain=["True", "False"], range=[VERMILION, BLUE]), legend=None, title=None
    )
    shape = alt.Shape("sure:N", scale=alt.Scale(domain=["True", "False"], range=["diamond", "circle"]), legend=None)
    base = alt.Chart(frame).encode(x=x, color=colour)
    # in grey the sure ones are told by dark lines and large diamonds
    dark = alt.condition("datum.sure === 'True'", alt.value(1.0), alt.value(0.85))
    large = alt.condition("datum.sure === 'True'", alt.value(64), alt.value(18))
    bars = base.mark_rule(strokeWidth=1.2).encode(y=alt.Y("low:Q", title=y_title), y2="high:Q", opacity=dark)
    points = base.mark_point(filled=True, opacity=1).encode(
        y=alt.Y("bias_um:Q", title=y_title), shape=shape, size=large
    )
    zero = (
        alt.Chart(pd.DataFrame({"zero": [0.0]}))
        .mark_rule(color=QUIET, strokeDash=[4, 3])
        .encode(y=alt.Y("zero:Q", title=y_title))
    )
    title = measurers_title(measurers)
    how = (
        "One point a person with a gauge who measured more than once, drawn towards zero by as much as it is doubtful. "
        "Diamonds: surely apart from the rest."
    )
    chart: AnyChart = alt.layer(zero, bars, points).properties(
        width=width - 70,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points with intervals, from the one who reads smallest to the one who reads largest.",
    )
    return chart


def measurers_title(measurers: pd.DataFrame) -> str:
    """Say how many surely read too large or too small, and by how much the worst."""
    low = int((measurers["high"] < 0).sum())
    high = int((measurers["low"] > 0).sum())
    many = len(measurers) > 1
    who = f"the {len(measurers)}" if many else "the one"
    if low + high == 0:
        nobody = f"Nobody of {who} who measured more than once surely reads"
        one = "The one who measured more than once does not surely read"
        return f"{nobody if many else one} smaller or larger than the rest"
    counted = [(number, how) for number, how in ((low, "smaller"), (high, "larger")) if number]
    parts = [f"{number} surely read{'s' if number == 1 else ''} {how}" for number, how in counted]
    parts[0] += " than the rest"
    worst = measurers[(measurers["high"] < 0) | (measurers["low"] > 0)]["bias_um"].abs().max()
    return f"Of {who} who measured more than once {' and '.join(parts)}, by up to {worst:.0f} µm"


def plan_chart(plans: pd.DataFrame, *, size_step_um: float, width: int = WIDE) -> AnyChart:
    """Draw how often one inspection leads to the right size, by splines and stations, without and with a check piece.

    Parameters
    ----------
    plans : pandas.DataFrame
        ``splines``, ``stations``, ``inspections``, ``trials``, ``check_piece``, ``right_size_probability``.
    size_step_um : float
        Distance between the sizes.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    single = plans[(plans["inspections"] == 1) & (plans["trials"] == 1)]
    cell = min(64, (width - 110) // (2 * max(single["stations"].nunique(), 1)))
    bounds = (float(single["right_size_probability"].min()), float(single["right_size_probability"].max()))
    panels = [
        _plan_panel(single[single["check_piece"] == with_piece], words, bounds, cell=cell, first=not with_piece)
        for with_piece, words in ((False, "without a check piece"), (True, "with a check piece"))
    ]
    title = plan_title(single)
    how = f"Shafts in 100 that get the right one of sizes {size_step_um:g} µm apart, by what an owner measures once."
    chart: AnyChart = alt.hconcat(*panels, spacing=16).properties(
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Two tables of tiles, splines down and stations across.",
    )
    return chart


def plan_title(single: pd.DataFrame) -> str:
    """Compare what the check piece brings with what measuring all places brings."""
    without = single[~single["check_piece"]].sort_values(["splines", "stations"])["right_size_probability"]
    piece = single[single["check_piece"]].sort_values(["splines", "stations"])["right_size_probability"]
    all_places = round(100 * (without.iloc[-1] - without.iloc[0]))
    check_piece = round(100 * (piece.iloc[-1] - without.iloc[-1]))
    least = int(single["splines"].min())
    return (
        f"Measuring all places instead of {count(least, 'spline')} at one station brings {_more(all_places)} shafts in "
        f"100 the right hub; a check piece besides, {_more(check_piece)}"
    )


def _more(number: int) -> str:
    return f"{abs(number)} {'fewer' if number < 0 else 'more'}" if number else "no more"


def _plan_panel(plans: pd.DataFrame, words: str, bounds: tuple[float, float], *, cell: float, first: bool) -> AnyChart:
    low, high = bounds
    span = max(high - low, 1e-9)
    share = (plans["right_size_probability"] - low) / span
    tiles = plans[["splines", "stations"]].assign(
        share=share,
        text=[f"{100 * value:.0f}" for value in plans["right_size_probability"]],
        letters=[letters_on(value, _RAMP) for value in share],
    )
    x = alt.X("stations:O", title="stations", axis=alt.Axis(orient="bottom", labelAngle=0, ticks=False, domain=False))
    y = alt.Y(
        "splines:O",
        title="splines" if first else None,
        axis=alt.Axis(ticks=False, domain=False) if first else None,
    )
    colour = alt.Color(
        "share:Q", scale=alt.Scale(domain=[0, 1], range=list(_RAMP), interpolate="rgb"), legend=None, title=None
    )
    squares = alt.Chart(tiles).mark_rect(stroke=PAPER, strokeWidth=1).encode(x=x, y=y, color=colour)
    numbers = (
        alt.Chart(tiles)
        .mark_text(fontSize=FONT_SIZE)
        .encode(x=x, y=y, text="text:N", color=alt.Color("letters:N", scale=None))
    )
    chart: AnyChart = (
        alt.layer(squares, numbers)
        .resolve_scale(color="independent")
        .properties(
            width=cell * tiles["stations"].nunique(),
            height=_ROW * tiles["splines"].nunique(),
            title=alt.TitleParams(words, fontSize=FONT_SIZE, offset=4, frame="group"),
        )
    )
    return chart
