"""How far the measurements can be trusted: each measurer's bias, and what each way of measuring achieves."""

from __future__ import annotations

import altair as alt
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLUE, FONT_SIZE, PAPER, QUIET, VERMILION, WIDE, letters_on
from wearstats.report.words.phrases import count

_FEW = 3
_MOST_NAMED = 20
_NAMES = 150
_LINE = 22
_ROW = 34
_RAMP = ("#ffffff", "#0072b2")


def measurers_chart(measurers: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw the bias of those who surely read apart from the rest, a row each; all others are one row.

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
    apart = _apart(measurers)
    far = measurers["bias_um"].abs()
    named = measurers[apart] if apart.any() else measurers.loc[far.nlargest(_FEW).index]
    named = named.loc[far[named.index].nlargest(_MOST_NAMED).index].sort_values("bias_um", kind="stable")
    others = measurers.drop(named.index)["bias_um"]
    rest = f"the other {len(others)}"
    rows = [*named["measurer"], *([rest] if len(others) else [])]
    drawn = named[["measurer", "bias_um", "low", "high"]].assign(
        sure=["surely apart" if sure else "not surely" for sure in apart[named.index]]
    )
    title_x = "bias against the mean of their kind, µm"
    ends = [*named["low"], *named["high"], *others]
    scale = alt.Scale(domain=[min(*ends, 0.0), max(*ends, 0.0)], nice=True)

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", title=title_x, scale=scale)

    y = alt.Y("measurer:N", sort=rows, title=None, scale=alt.Scale(domain=rows), axis=alt.Axis(labelLimit=_NAMES))
    sure = alt.Scale(domain=["surely apart", "not surely"], range=[VERMILION, BLUE])
    shapes = alt.Scale(domain=["surely apart", "not surely"], range=["diamond", "circle"])
    base = alt.Chart(drawn).encode(y=y, color=alt.Color("sure:N", scale=sure, legend=None))
    zero = alt.Chart(pd.DataFrame({"zero": [0.0]})).mark_rule(color=QUIET, strokeDash=[4, 3]).encode(x=x("zero"))
    layers = [
        zero,
        base.mark_rule(strokeWidth=2).encode(x=x("low"), x2="high:Q"),
        base.mark_point(filled=True, opacity=1, size=70).encode(
            x=x("bias_um"), shape=alt.Shape("sure:N", scale=shapes, legend=None)
        ),
    ]
    if len(others):
        folded = alt.Chart(pd.DataFrame({"measurer": rest, "bias_um": others}))
        layers.append(folded.mark_tick(color=QUIET, thickness=1.5, size=14).encode(x=x("bias_um"), y=y))
    title = measurers_title(measurers)
    how = "Point and line: bias and how sure it is (95 %), drawn towards zero by as much as it is doubtful."
    how += " Last row: a stroke for each of the others." if len(others) else ""
    chart: AnyChart = alt.layer(*layers).properties(
        width=width - _NAMES - 30,
        height=_LINE * len(rows),
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points with intervals, one measurer a row; the numbers are in the table.",
    )
    return chart


def _apart(measurers: pd.DataFrame) -> pd.Series[bool]:
    return (measurers["low"] > 0) | (measurers["high"] < 0)


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
    worst = measurers[_apart(measurers)]["bias_um"].abs().max()
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
