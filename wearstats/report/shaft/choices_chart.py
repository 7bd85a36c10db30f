"""What each hub on offer would leave on a shaft, side by side, and how often such hubs work loose."""

from __future__ import annotations

import altair as alt
import pandas as pd

from wearstats.domain.contact import PLAY_LIMIT_UM
from wearstats.domain.units import print_um
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLUE, FONT_SIZE, GREEN, INK, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import in_hundred

_ROW = 44
_LABELS = 106
_SPACING = 18
_METHODS = {
    "as-supplied": ("as supplied", VERMILION, "cross", -12),
    "owner-fitted": ("filed by the owner", BLUE, "circle", 0),
    "workshop-fitted": ("filed in the workshop", GREEN, "triangle-up", 12),
}
_FITS = {"clearance_um": ("as it comes: space less spline", QUIET, "square", -8),
         "gap_left_um": ("gap left once it stands home", BLUE, "circle", 8)}  # fmt: skip
_LEGEND = alt.Legend(columns=1, labelLimit=260, orient="bottom", title=None)


def choices_chart(
    choices: pd.DataFrame,
    *,
    undersize_um: float | None,
    method: str | None,
    risk_limit: float | None,
    width: int = WIDE,
) -> AnyChart:
    """Draw the hubs on offer as rows: how each would sit, and beside it how many such hubs work loose in a year.

    Parameters
    ----------
    choices : pandas.DataFrame
        One row a size and method: ``undersize_um``, ``method``; ``clearance_um``, ``gap_left_um`` and ``risk`` (0 to
        1), each with ``_low`` and ``_high``.
    undersize_um, method : float and str or None
        What is advised.
    risk_limit : float or None
        Chance that the shop accepts, 0 to 1; None draws no line.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    sizes = sorted(choices["undersize_um"].unique())
    names = {um: _name(um) + (", advised" if um == undersize_um else "") for um in sizes}
    rows = list(names.values())
    told = choices.assign(size=choices["undersize_um"].map(names))
    risks = told.dropna(subset=["risk"])
    beside = width >= WIDE and len(risks) > 0
    inner = (width - _LABELS - 24 - _SPACING) / 2 if beside else width - _LABELS - 24.0
    fits = _fits(
        told.drop_duplicates("undersize_um"),
        rows,
        advised=None if undersize_um is None else names.get(undersize_um),
        inner=inner,
    )
    panels = [fits]
    if len(risks):
        panels.append(_risks(risks, rows, (undersize_um, method), limit=risk_limit, inner=inner, labels=not beside))
    title = choices_title(choices, undersize_um=undersize_um, method=method)
    how = "Lines are how sure it is (95 %). The hub advised is drawn larger and black."
    if told["risk"].isna().any():
        how += " Where a hub has no point on loosening, no such gap is on record."
    drawn = alt.hconcat(*panels, spacing=_SPACING) if beside else alt.vconcat(*panels, spacing=_SPACING)
    chart: AnyChart = drawn.resolve_scale(color="independent", shape="independent").properties(
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Hubs on offer as rows, points with intervals, the numbers are in the table.",
    )
    return chart


def choices_title(choices: pd.DataFrame, *, undersize_um: float | None, method: str | None) -> str:
    """Say what the advised hub leaves and how often such hubs work loose, or that no hub is advised."""
    row = choices[(choices["undersize_um"] == undersize_um) & (choices["method"] == method)]
    if undersize_um is None or row.empty:
        offered = choices["undersize_um"].nunique()
        none = "No hub is advised, and one is on offer"
        return none if offered == 1 else f"No hub is advised of the {offered} on offer"
    chosen = row.iloc[0]
    hub = "The standard hub" if undersize_um == 0 else f"The hub {_name(undersize_um)} undersize"
    text = f"{hub} leaves a gap of about {round(float(chosen['gap_left_um'])):d} µm"
    if pd.notna(chosen["risk"]):
        text += f"; of 100 such hubs {in_hundred(float(chosen['risk']))} work loose in a year"
    return text


def _name(um: float) -> str:
    return "standard" if um == 0 else print_um(um).split(" (")[0]


def _fits(sizes: pd.DataFrame, rows: list[str], *, advised: str | None, inner: float) -> AnyChart:
    """Draw clearance and gap of every size on one axis of micrometres."""
    told = pd.concat(
        [
            sizes[["size"]].assign(
                what=word, um=sizes[name], low=sizes[f"{name}_low"], high=sizes[f"{name}_high"], column=name
            )
            for name, (word, *_) in _FITS.items()
        ]
    )
    scale = alt.Scale(nice=True)
    title = "µm, over both flanks"
    x = alt.X("um:Q", title=title, scale=scale, axis=alt.Axis(tickCount=6))
    words = [word for word, *_ in _FITS.values()]
    layers: list[alt.Chart] = [_rule(0.0, title, dash=(1, 0)), _rule(PLAY_LIMIT_UM, title, dash=(4, 3))]
    for name, (_, colour, _, offset) in _FITS.items():
        mine = alt.Chart(told[told["column"] == name])
        y = _y(rows, labels=True)
        low = alt.X("low:Q", title=title, scale=scale)
        layers.append(mine.mark_rule(strokeWidth=1.5, color=colour, yOffset=offset).encode(x=low, x2="high:Q", y=y))
        shape = alt.Shape(
            "what:N",
            scale=alt.Scale(domain=words, range=[shape for _, _, shape, _ in _FITS.values()]),
            legend=_LEGEND,
        )
        colours = alt.Color(
            "what:N",
            scale=alt.Scale(domain=words, range=[colour for _, colour, _, _ in _FITS.values()]),
            legend=_LEGEND,
        )
        layers.append(
            mine.mark_point(filled=True, size=60, opacity=1, yOffset=offset).encode(
                x=x, y=y, shape=shape, color=colours
            )
        )
    gap = told[(told["size"] == advised) & (told["column"] == "gap_left_um")]
    if len(gap):
        layers.append(_marked(gap, x, _y(rows, labels=True), offset=_FITS["gap_left_um"][3], shape="circle"))
    where = alt.Chart(pd.DataFrame({"um": [PLAY_LIMIT_UM], "text": ["can be felt"]})).mark_text(
        align="center", fontSize=FONT_SIZE - 1, color=QUIET, y=-7
    )
    layers.append(where.encode(x=x, text="text:N"))
    chart: AnyChart = alt.layer(*layers).properties(width=inner, height=_ROW * len(rows))
    return chart


def _risks(
    told: pd.DataFrame,
    rows: list[str],
    advised: tuple[float | None, str | None],
    *,
    limit: float | None,
    inner: float,
    labels: bool,
) -> AnyChart:
    """Draw how many in a hundred work loose, by size and by how they go on."""
    shares = told[["size", "undersize_um", "method"]].assign(
        way=told["method"].map({name: word for name, (word, *_) in _METHODS.items()}),
        loose=100 * told["risk"],
        low=100 * told["risk_low"],
        high=100 * told["risk_high"],
    )
    top = float(max(shares["high"].max(), 100 * (limit or 0.0), 5.0)) * 1.05
    scale = alt.Scale(domain=[0, top], nice=True)
    title = "loose in a year, of 100"
    x = alt.X("loose:Q", title=title, scale=scale, axis=alt.Axis(tickCount=5))
    y = _y(rows, labels=labels)
    words, colours, shapes = (list(part) for part in list(zip(*_METHODS.values(), strict=True))[:3])
    layers: list[alt.Chart] = [] if limit is None else [_rule(100 * limit, title, dash=(4, 3), column="loose")]
    for name, (_, colour, _, offset) in _METHODS.items():
        mine = alt.Chart(shares[shares["method"] == name])
        low = alt.X("low:Q", title=title, scale=scale)
        layers.append(mine.mark_rule(strokeWidth=1.5, color=colour, yOffset=offset).encode(x=low, x2="high:Q", y=y))
        layers.append(
            mine.mark_point(filled=True, size=60, opacity=1, yOffset=offset).encode(
                x=x,
                y=y,
                color=alt.Color("way:N", scale=alt.Scale(domain=words, range=colours), legend=_LEGEND),
                shape=alt.Shape("way:N", scale=alt.Scale(domain=words, range=shapes), legend=_LEGEND),
            )
        )
    chosen = shares[(shares["undersize_um"] == advised[0]) & (shares["method"] == advised[1])]
    if len(chosen):
        _, _, shape, offset = _METHODS[str(advised[1])]
        layers.append(_marked(chosen, x, y, offset=offset, shape=shape))
    if limit is not None:
        text = pd.DataFrame({"loose": [100 * limit], "text": ["limit"]})
        words_at = alt.Chart(text).mark_text(align="center", fontSize=FONT_SIZE - 1, color=QUIET, y=-7)
        layers.append(words_at.encode(x=x, text="text:N"))
    chart: AnyChart = alt.layer(*layers).properties(width=inner, height=_ROW * len(rows))
    return chart


def _y(rows: list[str], *, labels: bool) -> alt.Y:
    axis = alt.Axis(ticks=False, domain=False, labelLimit=_LABELS, grid=True, labels=labels)
    return alt.Y("size:N", sort=rows, title=None, scale=alt.Scale(domain=rows), axis=axis)


def _rule(at: float, title: str, *, dash: tuple[int, int], column: str = "um") -> alt.Chart:
    x = alt.X(f"{column}:Q", title=title)
    rule = alt.Chart(pd.DataFrame({column: [at]})).mark_rule(color=QUIET, strokeDash=list(dash))
    drawn: alt.Chart = rule.encode(x=x)
    return drawn


def _marked(rows: pd.DataFrame, x: alt.X, y: alt.Y, *, offset: int, shape: str) -> alt.Chart:
    """Draw the advised one larger, in black, over its point."""
    point = alt.Chart(rows).mark_point(filled=True, size=170, opacity=1, color=INK, shape=shape, yOffset=offset)
    drawn: alt.Chart = point.encode(x=x, y=y)
    return drawn
