"""The quarterly review in pictures: the rate by quarter, forecasts against what came, the hubs most at risk."""

from __future__ import annotations

import altair as alt
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BAR, BLACK, BLUE, PAPER, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import count, in_hundred

_HEIGHT = 230
_RUN_HEIGHT = 70
_ROW = 20
_RIPE_MONTHS = 12.0


def rates_chart(by_quarter: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw failures per 100 hub-months by quarter with their intervals, and how long the hubs fitted then have run.

    Parameters
    ----------
    by_quarter : pandas.DataFrame
        ``quarter``, ``failures``, ``hub_months``, ``rate``, ``low``, ``high``, ``run_months``, in order.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    told = by_quarter[by_quarter["rate"].notna()]
    told = told[["quarter", "failures", "rate", "low", "high", "run_months"]]
    # the first quarters of a shop's life have hardly any hub-months: their intervals would dwarf all others
    top = 1.15 * max(float(told["rate"].max()) if len(told) else 1.0, float(told["high"].tail(8).max() or 1.0), 0.1)
    beyond = told[told["high"] > top].assign(top=top)
    told = told.assign(high=told["high"].clip(upper=top))
    plain = alt.Axis(labels=False, ticks=False)
    scale = alt.Scale(domain=[0, top])
    y = alt.Y("rate:Q", title="loose in 100 hub-months", scale=scale)
    base = alt.Chart(told).encode(x=alt.X("quarter:O", title=None, axis=plain))
    bars = base.mark_rule(color=BLUE, strokeWidth=2).encode(
        y=alt.Y("low:Q", title="loose in 100 hub-months", scale=scale), y2="high:Q"
    )
    dots = base.mark_point(filled=True, size=60, color=BLUE, opacity=1).encode(y=y)
    numbers = base.mark_text(dy=-10, dx=9, align="left").encode(y=y, text="failures:Q")
    layers = [bars, dots, numbers]
    how = "One point a quarter, with how sure it is (95 %); the number is the hubs that became known to be loose."
    if len(beyond):
        arrow = alt.Chart(beyond).encode(x=alt.X("quarter:O", title=None, axis=plain))
        layers.append(
            arrow.mark_point(shape="triangle-up", filled=True, size=70, color=BLUE, opacity=1).encode(
                y=alt.Y("top:Q", title="loose in 100 hub-months", scale=scale)
            )
        )
        how += " A triangle: it may be higher still than the picture shows."
    how += " Below, how long the hubs fitted in a quarter have run so far: young ones can hardly have failed yet."
    title = rates_title(by_quarter)
    chart: AnyChart = alt.vconcat(
        alt.layer(*layers).properties(width=width - 66, height=_HEIGHT),
        _run_chart(told, width=width),
        spacing=6,
        title=alt.TitleParams(
            wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20), anchor="start"
        ),
        description=f"{title}. Points with intervals by quarter, bars of months run below; numbers are in the table.",
    )
    return chart


def _run_chart(told: pd.DataFrame, *, width: int) -> AnyChart:
    """Draw the months that the hubs fitted in each quarter have run so far, hollow where under a year."""
    drawn = told[told["run_months"].notna()].assign(
        ripe=["a year or more" if months >= _RIPE_MONTHS else "less than a year" for months in
              told.loc[told["run_months"].notna(), "run_months"]],
    )  # fmt: skip
    x = alt.X(
        "quarter:O",
        title=None,
        axis=alt.Axis(labelAngle=-90 if len(told) * 48 > width - 66 else 0, ticks=False),
        scale=alt.Scale(domain=told["quarter"].tolist()),
    )
    y = alt.Y("run_months:Q", title="months run", axis=alt.Axis(tickCount=3), scale=alt.Scale(domainMin=0))
    base = alt.Chart(drawn).encode(x=x, y=y)
    ripe, words = ["a year or more", "less than a year"], alt.Legend(title="hubs fitted then have run", orient="bottom")
    bars = base.mark_bar(stroke=QUIET, strokeWidth=1.5, size=14).encode(
        fill=alt.Fill("ripe:N", scale=alt.Scale(domain=ripe, range=[BAR, PAPER]), legend=words)
    )
    numbers = base.mark_text(dy=-7).encode(text=alt.Text("run_months:Q", format=".0f"))
    chart: AnyChart = alt.layer(bars, numbers).properties(width=width - 66, height=_RUN_HEIGHT)
    return chart


def rates_title(by_quarter: pd.DataFrame) -> str:
    """Say the last quarter's rate against that of the four before."""
    if by_quarter.empty or by_quarter["hub_months"].iloc[-1] <= 0:
        return "No hub was in use"
    last, before = by_quarter.iloc[-1], by_quarter.iloc[-5:-1]
    now = f"In {last['quarter']} {last['rate']:.2f} hubs worked loose in 100 hub-months"
    if before["hub_months"].sum() <= 0:
        return now
    quarters = "quarter" if len(before) == 1 else f"{('two', 'three', 'four')[len(before) - 2]} quarters"
    return f"{now}, {100 * before['failures'].sum() / before['hub_months'].sum():.2f} in the {quarters} before"


def forecasts_chart(earlier: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw what was predicted for past quarters, as known then, and what came.

    Parameters
    ----------
    earlier : pandas.DataFrame
        ``quarter``, ``expected``, ``low``, ``high``, ``happened``.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    drawn = earlier[["quarter", "expected", "low", "high", "happened"]].assign(
        came=["inside" if low <= n <= high else "outside" for n, low, high in
              earlier[["happened", "low", "high"]].itertuples(index=False)]
    )  # fmt: skip
    x = alt.X(
        "quarter:O", title=None, axis=alt.Axis(labelAngle=-90 if len(drawn) * 48 > width - 66 else 0, ticks=False)
    )
    title_y = "failures that became known"
    base = alt.Chart(drawn).encode(x=x)
    bars = base.mark_bar(color=QUIET, fillOpacity=0.3, stroke=QUIET, strokeWidth=1, size=22).encode(
        y=alt.Y("low:Q", title=title_y), y2="high:Q"
    )
    lines = base.mark_tick(color=BLACK, thickness=2, size=22).encode(y=alt.Y("expected:Q", title=title_y))
    words = alt.Legend(title="what came was", orient="bottom")
    dots = base.mark_point(filled=True, size=70, opacity=1).encode(
        y=alt.Y("happened:Q", title=title_y),
        color=alt.Color("came:N", scale=alt.Scale(domain=["inside", "outside"], range=[BLUE, VERMILION]), legend=words),
        shape=alt.Shape(
            "came:N", scale=alt.Scale(domain=["inside", "outside"], range=["circle", "diamond"]), legend=words
        ),
    )
    title = forecasts_title(earlier)
    how = "Bars: predicted as known at the quarter's beginning, 90 % sure; the stroke is the number expected."
    chart: AnyChart = alt.layer(bars, lines, dots).properties(
        width=width - 66,
        height=_HEIGHT,
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Bars with points by quarter; the numbers are in the table.",
    )
    return chart


def forecasts_title(earlier: pd.DataFrame) -> str:
    """Say in how many quarters what came was predicted, and how many failures came against those expected."""
    inside = int(earlier["happened"].between(earlier["low"], earlier["high"]).sum())
    came, expected = count(int(earlier["happened"].sum()), "failure"), f"{earlier['expected'].sum():.0f}"
    if len(earlier) == 1:
        lay = "within" if inside else "outside"
        return f"In the one quarter predicted {came} came, {lay} the range; {expected} were expected"
    return (
        f"What came lay within what was predicted in {inside} of {count(len(earlier), 'quarter')}; in all "
        f"{came} came where "
        f"{expected} were expected"
    )


def at_risk_chart(at_risk: pd.DataFrame, *, width: int = WIDE) -> AnyChart:
    """Draw the hubs most likely to be loose within a quarter, one a row.

    Parameters
    ----------
    at_risk : pandas.DataFrame
        ``shaft``, ``fitting``, ``gap_left_um``, ``risk_quarter`` with ``_low`` and ``_high``, ``told``.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    drawn = pd.DataFrame(
        {
            "hub": [
                f"{shaft}, " + ("gap not known" if pd.isna(gap) else f"{gap:.0f} µm")
                for shaft, gap in zip(at_risk["shaft"], at_risk["gap_left_um"], strict=True)
            ],
            "risk": 100 * at_risk["risk_quarter"],
            "low": 100 * at_risk["risk_quarter_low"],
            "high": 100 * at_risk["risk_quarter_high"],
            "owner": ["warned" if told else "not yet warned" for told in at_risk["told"]],
        }
    )
    y = alt.Y("hub:N", sort=drawn["hub"].tolist(), title=None, axis=alt.Axis(ticks=False, labelLimit=150))
    x_title = "loose within a quarter, in 100"
    base = alt.Chart(drawn).encode(y=y)
    bars = base.mark_rule(strokeWidth=2, color=VERMILION).encode(
        x=alt.X("low:Q", title=x_title, scale=alt.Scale(domain=[0, 100])), x2="high:Q"
    )
    names = ["not yet warned", "warned"]
    legend = alt.Legend(title="owner", orient="bottom")
    dots = base.mark_point(filled=True, size=70, opacity=1).encode(
        x=alt.X("risk:Q", title=x_title, scale=alt.Scale(domain=[0, 100])),
        color=alt.Color("owner:N", scale=alt.Scale(domain=names, range=[VERMILION, BLUE]), legend=legend),
        shape=alt.Shape("owner:N", scale=alt.Scale(domain=names, range=["diamond", "circle"]), legend=legend),
    )
    first = at_risk.iloc[0]
    title = (
        f"Most likely to be loose within a quarter: the hub on shaft {first['shaft']}, "
        f"{in_hundred(float(first['risk_quarter']))} in 100"
    )
    how = (
        "Hubs in use most likely to be loose within a quarter, loose already among them; 95 % sure. After the shaft's "
        "name, its mean gap left."
    )
    chart: AnyChart = alt.layer(bars, dots).properties(
        width=width - 170,
        height=_ROW * len(drawn),
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Points with intervals, one hub a row; the numbers are in the table.",
    )
    return chart
