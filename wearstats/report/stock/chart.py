"""Which sizes to keep: cost against how many, which shafts go to which, and how often a size is in the best set."""

from __future__ import annotations

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.bands import band
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BAR, BLACK, BLUE, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import in_hundred, three_figures

_HEIGHT = 210
_BIN_UM = 5.0


def cost_chart(plans: pd.DataFrame, *, today: float | None, currency: str, pattern: str, width: int = WIDE) -> AnyChart:
    """Draw the cost of a year against the number of sizes, keeping them apart from serving shafts.

    Parameters
    ----------
    plans : pandas.DataFrame
        ``sizes``, ``cost``, ``low``, ``high``, ``keeping``, ``chosen``.
    today : float or None
        Cost with the sizes on offer today.
    currency, pattern : str
        For title and axis.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    y_title = f"cost of a year, {currency}"
    x = alt.X("sizes:Q", title="number of sizes kept", axis=alt.Axis(tickMinStep=1, grid=False))
    frame = plans[["sizes", "cost", "low", "high", "keeping"]]
    base = alt.Chart(frame).encode(x=x)
    layers: list[AnyChart] = [
        *band(base, low="low", high="high", title=y_title, color=BLUE),
        base.mark_line(color=BLUE, strokeWidth=2, point=alt.OverlayMarkDef(color=BLUE, size=28)).encode(
            y=alt.Y("cost:Q", title=y_title)
        ),
        base.mark_line(color=QUIET, strokeDash=[2, 3]).encode(y=alt.Y("keeping:Q", title=y_title)),
        alt.Chart(plans[plans["chosen"]][["sizes", "cost"]])
        .mark_point(color=VERMILION, shape="diamond", size=120, filled=True, opacity=1)
        .encode(x=x, y=alt.Y("cost:Q", title=y_title)),
    ]
    if today is not None:
        rule = alt.Chart(pd.DataFrame({"today": [today]})).mark_rule(color=BLACK, strokeDash=[6, 4])
        layers.append(rule.encode(y=alt.Y("today:Q", title=y_title)))
    title = cost_title(plans, today=today, currency=currency, pattern=pattern)
    how = (
        "The line is the best set of so many sizes, with how sure its cost is (95 %); dotted: of that, keeping the "
        "sizes. Diamond: recommended. Broken level line: today's sizes."
    )
    chart: AnyChart = alt.layer(*layers).properties(
        width=width - 82,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Cost of a year against the number of sizes kept.",
    )
    return chart


def cost_title(plans: pd.DataFrame, *, today: float | None, currency: str, pattern: str) -> str:
    """Say the recommended number and what it saves against today; none is recommended where today's are to stay."""
    recommended = plans[plans["chosen"]]
    if recommended.empty:
        year = f"{three_figures(today or 0.0)} {currency} a year"
        return f"{pattern}: today's sizes stay; no others save much of their {year}"
    chosen = recommended.iloc[0]
    sizes, cost = int(chosen["sizes"]), float(chosen["cost"])
    well = "1 well-chosen size costs" if sizes == 1 else f"{sizes} well-chosen sizes cost"
    head = f"{pattern}: {well} {three_figures(cost)} {currency} a year"
    if today is None:
        return head
    saved = today - cost
    if round(saved) == 0:
        return f"{head}, as much as today's"
    return f"{head}, {three_figures(abs(saved))} {'less' if saved > 0 else 'more'} than today's"


def sizes_chart(need: pd.DataFrame, in_best_set: pd.DataFrame, *, pattern: str, width: int = WIDE) -> AnyChart:
    """Draw what shafts need over the sizes chosen, and below how often each size is in the best set.

    Parameters
    ----------
    need : pandas.DataFrame
        ``need_um`` (undersize as wide as the splines on average), ``undersize_um`` (that the shaft goes to, NaN: none).
    in_best_set : pandas.DataFrame
        ``undersize_um``, ``share``, ``chosen``.
    pattern : str
        For the title.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    inner = width - 82
    low = _BIN_UM * np.floor(min(float(need["need_um"].min()), 0.0) / _BIN_UM)
    high = float(max(need["need_um"].max(), in_best_set[in_best_set["share"] > 0]["undersize_um"].max())) + _BIN_UM
    scale = alt.Scale(domain=[low, high], nice=False)
    at = np.floor(need["need_um"].to_numpy() / _BIN_UM) * _BIN_UM
    counted = pd.DataFrame({"from_um": at}).groupby("from_um").size().rename("shafts").reset_index()
    bins = counted.assign(to_um=counted["from_um"] + _BIN_UM)
    bars = (
        alt.Chart(bins)
        .mark_rect(color=BAR)
        .encode(
            x=alt.X("from_um:Q", scale=scale, title=None, axis=alt.Axis(labels=False, ticks=False, grid=False)),
            x2="to_um:Q",
            y=alt.Y("shafts:Q", title="shafts", axis=alt.Axis(tickMinStep=1)),
        )
    )
    chosen = in_best_set[in_best_set["chosen"]][["undersize_um"]]
    rules = (
        alt.Chart(chosen)
        .mark_rule(color=VERMILION, strokeWidth=1.5)
        .encode(x=alt.X("undersize_um:Q", scale=scale, title=None))
    )
    often = in_best_set[in_best_set["share"] > 0].assign(
        percent=lambda frame: 100 * frame["share"], kept=lambda frame: np.where(frame["chosen"], "chosen", "others")
    )[["undersize_um", "percent", "kept"]]
    below = (
        alt.Chart(often)
        .mark_bar(size=max(min(6.0, 0.6 * inner * 5.0 / (high - low)), 1.0))
        .encode(
            x=alt.X(
                "undersize_um:Q",
                scale=scale,
                title="undersize, µm",
                axis=alt.Axis(grid=False, tickCount=8 if width >= WIDE else 4),
            ),
            y=alt.Y("percent:Q", title="in 100 draws", scale=alt.Scale(domain=[0, 100])),
            color=alt.Color(
                "kept:N", scale=alt.Scale(domain=["chosen", "others"], range=[VERMILION, BAR]), legend=None
            ),
        )
        .properties(width=inner, height=70)
    )
    title = sizes_title(need, in_best_set, pattern=pattern)
    how = (
        "Above: the undersize whose spaces are as wide as the shaft's splines; each shaft goes to a chosen size "
        "(lines) tighter than that. Below: how often a size is in the best set when shafts are drawn anew."
    )
    chart: AnyChart = (
        alt.vconcat(alt.layer(bars, rules).properties(width=inner, height=150), below, spacing=6)
        .resolve_scale(x="shared")
        .properties(
            title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
            description=f"{title}. Histogram of needs with the chosen sizes, and bars of how often each is chosen.",
        )
    )
    return chart


def sizes_title(need: pd.DataFrame, in_best_set: pd.DataFrame, *, pattern: str) -> str:
    """Say how many shafts the chosen sizes serve, and which serves most."""
    served = need["undersize_um"].notna()
    number = int(in_best_set["chosen"].sum())
    serve = "1 size serves" if number == 1 else f"{number} sizes serve"
    head = f"{pattern}: {serve} {in_hundred(float(served.mean()))} of 100 shafts"
    counts = need["undersize_um"].value_counts().sort_index()
    if len(counts) < 2:
        return head
    most = in_hundred(float(counts.max()) / len(need))
    if int((counts == counts.max()).sum()) > 1:
        return f"{head}, none more than {most}"
    largest = float(counts.index.to_numpy()[int(counts.to_numpy().argmax())])
    return f"{head}; the one of {largest / 1000:g} mm most of them, {most}"
