"""The fleet's widths, with the hubs that are on offer drawn over them."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BAR, FONT_SIZE, INK, PAPER, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import count, in_hundred

_PANEL_HEIGHT = 130
_STRIP = 20
_NAME_SIZE = FONT_SIZE - 1
_MIDDLE: dict[str, Any] = {"color": INK, "strokeWidth": 2}
_EDGE: dict[str, Any] = {"color": INK, "strokeWidth": 1, "strokeDash": [3, 2]}
_STEPS_UM = (1, 2, 5, 10, 20, 50, 100)


def fleet_chart(
    fleet: pd.DataFrame,
    sizes: pd.DataFrame,
    *,
    laws: pd.DataFrame | None = None,
    shares: pd.DataFrame | None = None,
    width: int = WIDE,
) -> AnyChart:
    """Draw how much the shafts have lost, one panel a pattern, and where each hub's space lies.

    Parameters
    ----------
    fleet : pandas.DataFrame
        One row a shaft: ``pattern``, ``width_um_below_new`` and, with laws, ``read_um_below_new``.
    sizes : pandas.DataFrame
        One row a hub size: ``pattern``, ``undersize_um``, ``space_um_below_new``, ``offered``.
    laws : pandas.DataFrame, optional
        True wear as curves: ``pattern``, ``width_um_below_new``, ``shafts_per_um`` with ``low`` and ``high``. The bars
        then show what was read.
    shares : pandas.DataFrame, optional
        How many shafts each hub would serve as the loosest that grips: ``pattern``, ``undersize_um``, ``share``.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    laws = pd.DataFrame({"pattern": []}) if laws is None else laws
    patterns = sorted(fleet["pattern"].unique())
    offered = sizes[sizes["offered"]]
    low, high = _span(fleet, offered)
    step = _bin_step(low, high)
    panels = [
        _panel(
            fleet[fleet["pattern"] == pattern],
            offered[offered["pattern"] == pattern],
            laws[laws["pattern"] == pattern],
            served=None if shares is None else shares[shares["pattern"] == pattern],
            domain=(low, high),
            step=step,
            width=width,
            last=pattern == patterns[-1],
        )
        for pattern in patterns
    ]
    how = (
        "A rule is a hub on offer, named by its undersize in mm. Shafts left of it are wider than its spaces: "
        "the hub must be filed to go on. Shafts right of it are slack in it."
    )
    if len(laws):
        how = f"Bars are means as read; the line is the true wear, readings' errors taken out, dashed its 95 %. {how}"
    chart: AnyChart = alt.vconcat(*panels, spacing=18).properties(
        title=alt.TitleParams(
            wrapped(fleet_title(fleet), width=width - 20), subtitle=wrapped_small(how, width=width - 20)
        ),
        description=f"{fleet_title(fleet)}. Bars count the shafts by how far their splines are below the new width.",
    )
    return chart


def fleet_title(fleet: pd.DataFrame) -> str:
    """Say what the picture shows: the median loss of each pattern."""
    parts = [
        f"{_half(widths, f'{pattern} shaft')} {_lost(widths)}"
        for pattern, widths in fleet.groupby("pattern", sort=True)["width_um_below_new"]
    ]
    text = ", ".join(parts)
    return text[0].upper() + text[1:]


def _half(widths: pd.Series[float], noun: str) -> str:
    return f"the one {noun} has" if len(widths) == 1 else f"half the {noun}s have"


def _lost(widths: pd.Series[float]) -> str:
    """Say what half the shafts, or the only one, have lost; of no loss that can be printed, that it is less."""
    um = round(float(widths.median()))
    if um < 1:
        return f"lost less than {_size(1)}"
    return f"lost {_size(um)}" if len(widths) == 1 else f"lost more than {_size(um)}"


def _size(um: float) -> str:
    return print_um(um, decimals=None if um % 10 == 0 else 3).split(" (")[0]


def _span(fleet: pd.DataFrame, sizes: pd.DataFrame) -> tuple[float, float]:
    """Choose the axis so that all shafts are on it, and the hubs next to them."""
    widths = fleet["width_um_below_new"]
    spaces = sizes["space_um_below_new"]
    reach = spaces[spaces <= widths.max() + 60]
    low = min(widths.min(), reach.min() if len(reach) else 0.0, 0.0)
    high = max(widths.max(), reach.max() if len(reach) else 0.0)
    return float(np.floor(low / 10 - 1) * 10), float(np.ceil(high / 10 + 1) * 10)


def _bin_step(low: float, high: float) -> float:
    return float(next((step for step in _STEPS_UM if (high - low) / step <= 40), _STEPS_UM[-1]))


def _panel(
    fleet: pd.DataFrame,
    sizes: pd.DataFrame,
    law: pd.DataFrame,
    *,
    served: pd.DataFrame | None,
    domain: tuple[float, float],
    step: float,
    width: int,
    last: bool,
) -> AnyChart:
    pattern = str(fleet["pattern"].iloc[0])
    edges = np.arange(domain[0], domain[1] + step, step)
    inner = width - 64
    shown = fleet["read_um_below_new"].dropna() if len(law) else fleet["width_um_below_new"]
    counts, _ = np.histogram(shown.clip(*domain), bins=edges)
    bars = pd.DataFrame({"from_um": edges[:-1], "to_um": edges[1:], "shafts": counts, "none": 0})
    bars = bars[bars["shafts"] > 0]
    scale = alt.Scale(domain=list(domain), nice=False)
    title = "spline width below new, µm (1000 µm = 1 mm)" if last else None
    histogram = (
        alt.Chart(bars)
        .mark_bar(color=BAR, stroke=QUIET, strokeWidth=0.5)
        .encode(
            x=alt.X("from_um:Q", scale=scale, title=title, axis=alt.Axis(tickCount=8, grid=False)),
            x2=alt.X2("to_um:Q"),
            y=alt.Y("shafts:Q", title="shafts", axis=alt.Axis(tickCount=4, tickMinStep=1)),
            y2=alt.Y2("none:Q"),
        )
    )
    if len(law):
        curve = law[law["width_um_below_new"].between(*domain)]
        curve = curve.assign(**{name: step * curve[name] for name in ("shafts_per_um", "low", "high")})
        base = alt.Chart(curve.drop(columns="pattern").rename(columns={"shafts_per_um": "shafts"}))
        along = alt.X("width_um_below_new:Q", scale=scale, title=title)
        for name, ink in (("low", _EDGE), ("high", _EDGE), ("shafts", _MIDDLE)):
            histogram = histogram + base.mark_line(**ink).encode(x=along, y=alt.Y(f"{name}:Q", title="shafts"))
    names = _named(sizes[sizes["space_um_below_new"].between(*domain)], um_per_point=(domain[1] - domain[0]) / inner)
    space = alt.X("space_um_below_new:Q", scale=scale, title=title)
    rules = alt.Chart(names).mark_rule(color=VERMILION, strokeWidth=1.5, strokeDash=[5, 3]).encode(x=space)
    heads = (
        alt.Chart(names)
        .mark_text(color=INK, fontSize=_NAME_SIZE, baseline="bottom")
        .encode(
            x=space,
            y=alt.Y("row:Q", scale=alt.Scale(domain=[0, 1], range=[-2, -3 - _NAME_SIZE], nice=False), axis=None),
            text="name:N",
        )
    )
    widths = fleet["width_um_below_new"]
    head = f"{pattern}: {_half(widths, 'shaft')} {_lost(widths)}"
    if len(fleet) > 1:
        head = f"{pattern}: {count(len(fleet), 'shaft')}, half have {_lost(widths)}"
    named = alt.TitleParams(head, fontSize=FONT_SIZE, fontWeight="normal", offset=6)
    panel: AnyChart = (
        alt.layer(histogram, rules.encode(x=space), heads)
        .resolve_scale(y="independent")
        .properties(width=inner, height=_PANEL_HEIGHT)
    )
    strip = None if served is None else _strip(sizes, served, domain=domain, width=inner)
    if strip is None:
        return panel.properties(title=named)
    chart: AnyChart = alt.vconcat(panel, strip, spacing=4).properties(title=named)
    return chart


def _strip(sizes: pd.DataFrame, served: pd.DataFrame, *, domain: tuple[float, float], width: float) -> AnyChart | None:
    """Draw under the shafts which of them each hub would serve as the loosest that grips, with how many of 100."""
    told = sizes.merge(served.dropna(subset=["undersize_um", "share"])[["undersize_um", "share"]], on="undersize_um")
    told = told.sort_values("space_um_below_new")
    if told.empty:
        return None
    ends = told["space_um_below_new"].clip(*domain)
    parts = pd.DataFrame(
        {
            "from_um": [domain[0], *ends.iloc[:-1]],
            "to_um": ends,
            "hub": [_size(um).removesuffix(" mm") for um in told["undersize_um"]],
            "served": 100 * told["share"],
            "text": [in_hundred(share) for share in told["share"]],
        }
    )
    parts = parts[parts["to_um"] > parts["from_um"]].assign(
        middle=lambda frame: (frame["from_um"] + frame["to_um"]) / 2
    )
    roomy = (parts["to_um"] - parts["from_um"]) * width / (domain[1] - domain[0]) >= _NAME_SIZE * 0.56 * parts[
        "text"
    ].str.len() + 4
    scale = alt.Scale(domain=list(domain), nice=False)
    told_by = "of 100 shafts each hub serves"
    silent = alt.Axis(labels=False, ticks=False, grid=False, domain=False)
    base = alt.Chart(parts)
    bars = base.mark_bar(color=PAPER, stroke=QUIET, strokeWidth=1, height=_STRIP - 2).encode(
        x=alt.X("from_um:Q", scale=scale, axis=silent, title=told_by),
        x2="to_um:Q",
    )
    words = (
        alt.Chart(parts[roomy])
        .mark_text(color=INK, fontSize=_NAME_SIZE)
        .encode(x=alt.X("middle:Q", scale=scale, axis=silent, title=told_by), text="text:N")
    )
    drawn: AnyChart = alt.layer(bars, words).properties(width=width, height=_STRIP)
    return drawn


def _named(sizes: pd.DataFrame, *, um_per_point: float) -> pd.DataFrame:
    """Name each hub, in as many rows as keep the names of neighbours apart."""
    named = sizes.sort_values("space_um_below_new").assign(
        name=lambda frame: [_size(um).removesuffix(" mm") for um in frame["undersize_um"]]
    )
    ends: list[float] = []
    rows: list[int] = []
    for space, name in zip(named["space_um_below_new"], named["name"], strict=True):
        half = (len(name) * 0.56 * _NAME_SIZE / 2 + 3) * um_per_point
        row = next((row for row, end in enumerate(ends) if end < space - half), len(ends))
        ends[row : row + 1] = [space + half]
        rows.append(row)
    return named.assign(row=rows)[["space_um_below_new", "name", "row"]]
