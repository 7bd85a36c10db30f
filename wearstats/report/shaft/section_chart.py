"""A spline cut along its length with the hub's space over it, far wider than it is, so that micrometres can be seen."""

from __future__ import annotations

import altair as alt
import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import BLACK, FONT_SIZE, QUIET, VERMILION, WIDE

_HEIGHT = 260
_AXIS = 62
_CORE_UM = 12.0
_RIM_UM = 20.0
_NEW_WITHIN_UM = 40.0
_END = 0.42
_METAL, _HUB = "#9db4c6", "#ecdcc4"


def section_rows(shaft_map: pd.DataFrame) -> pd.DataFrame:
    """Take the splines that are worth a drawing: the first to bind, and the one over which most gap is left.

    Parameters
    ----------
    shaft_map : pandas.DataFrame
        One row a place: ``spline``, ``station``, ``station_index`` (0 at the shoulder), ``width_um_below_new``,
        ``filing_um`` and ``gap_left_um``, the last two NaN where no hub is advised.

    Returns
    -------
    DataFrame
        ``panel``, ``spline``, ``station``, ``at``; in um over both flanks ``lost``, ``home`` and ``supplied`` (the
        hub's flanks, once filed and as it comes, below the new width), ``gap`` and ``off``.
    """
    rows = shaft_map.sort_values(["spline", "station_index"])
    widest = rows.groupby("spline")["width_um_below_new"].min()
    chosen = [(_least(widest), "the first to bind")]
    if rows["gap_left_um"].notna().all():
        loosest = _least(-rows.groupby("spline")["gap_left_um"].max())
        chosen += [(loosest, "most gap left")] if loosest != chosen[0][0] else []
    else:
        thinnest = _least(-rows.groupby("spline")["width_um_below_new"].mean())
        chosen = [(chosen[0][0], "the widest")] + ([(thinnest, "the most worn")] if thinnest != chosen[0][0] else [])
    parts = [rows[rows["spline"] == spline].assign(panel=f"Spline {spline}: {why}") for spline, why in chosen]
    told = pd.concat(parts, ignore_index=True)
    lost, gap, off = (told[name].astype(float) for name in ("width_um_below_new", "gap_left_um", "filing_um"))
    return pd.DataFrame(
        {
            "panel": told["panel"],
            "spline": told["spline"].astype(int),
            "station": told["station"],
            "at": told["station_index"].astype(int),
            "lost": lost.round(2),
            "home": (lost - gap).round(2),
            "supplied": (lost - gap + off).round(2),
            "gap": gap.round(2),
            "off": off.round(2),
        }
    )


def _least(by_spline: pd.Series[float]) -> int:
    """Name the spline with the least."""
    return int(by_spline.index.to_numpy(dtype=int)[int(by_spline.to_numpy(dtype=float).argmin())])


def section_chart(shaft_map: pd.DataFrame, *, shaft: str, hub: str | None = None, width: int = WIDE) -> AnyChart:
    """Draw splines of a shaft cut along their length, with the advised hub standing home.

    Parameters
    ----------
    shaft_map : pandas.DataFrame
        As `section_rows` takes it.
    shaft : str
        Its name, for the title.
    hub : str or None
        The advised hub in words; None draws the spline alone.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    rows = section_rows(shaft_map)
    panels = rows["panel"].unique().tolist()
    beside = width >= WIDE and len(panels) > 1
    inner = (width - 2 * _AXIS - 20) / 2 if beside else width - _AXIS - 12.0
    deepest = float(rows[["lost", "supplied"]].max().max())
    core = max(deepest, 0.0) + _CORE_UM
    outermost = float(rows[["lost", "home"]].min().min())
    # deep wear would leave a thin line of what is to be seen: then the new width stays outside the drawing
    top = core - min(outermost, 0.0 if outermost <= _NEW_WITHIN_UM else outermost) + _RIM_UM
    drawn = [_panel(rows[rows["panel"] == panel], core=core, top=top, inner=inner) for panel in panels]
    title = section_title(rows, shaft=shaft)
    how = (
        "Seen from above, cut along the spline, its width drawn some hundred times too large and its middle left out. "
        "Blue: the spline. "
        + (
            "Broken line: as it was when new."
            if outermost <= _NEW_WITHIN_UM
            else f"When new it reached {_size(outermost)} or more further out."
        )
    )
    if hub is not None:
        how += f" Sand: {hub}, standing home; dotted: its flanks as it comes; white: gap. Numbers in µm."
    joined = alt.hconcat(*drawn, spacing=8) if beside else alt.vconcat(*drawn, spacing=8)
    chart: AnyChart = joined.properties(
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. The flanks of spline and hub along its length, the numbers are in the table.",
    )
    return chart


def section_title(rows: pd.DataFrame, *, shaft: str) -> str:
    """Say how much comes off over the first spline to bind, and where the most gap stays."""
    first = rows[rows["panel"] == rows["panel"].iloc[0]]
    spline = int(first["spline"].iloc[0])
    if rows["gap"].isna().any():
        widest = first.iloc[int(first["lost"].to_numpy(dtype=float).argmin())]
        return f"Shaft {shaft}: spline {spline} is widest, {_below(widest['lost'])} new at its {widest['station']}"
    off = float(first["off"].max())
    place = rows.iloc[int(rows["gap"].to_numpy(dtype=float).argmax())]
    begins = f"{_size(off)} come off the hub over spline {spline}" if off > 0.5 else f"spline {spline} binds nowhere"
    most = float(place["gap"])
    stays = f"the widest gap left is {_size(most)}, over spline {int(place['spline'])} at the {place['station']}"
    return f"Shaft {shaft}: {begins}; {stays if most > 0.5 else 'no gap is left over the splines drawn'}"


def _below(um: float) -> str:
    return f"{_size(abs(um))} {'below' if um >= 0 else 'above'}"


def _size(um: float) -> str:
    return print_um(round(float(um)), decimals=3).split(" (")[0]


def _panel(rows: pd.DataFrame, *, core: float, top: float, inner: float) -> AnyChart:
    """Draw one spline, mirrored: a width of so many um below new stands `core` less that from the middle."""
    stations = rows["station"].tolist()
    reach = len(stations) - 1 + _END
    labels = " : ".join(f"datum.value == {at} ? '{name}'" for at, name in enumerate(stations)) + " : ''"
    axis = alt.Axis(values=list(range(len(stations))), labelExpr=labels, grid=False, ticks=False, labelLimit=90)
    x = alt.X("at:Q", title=None, scale=alt.Scale(domain=[-_END, reach], nice=False), axis=axis)
    y_title = "µm below new, over both flanks"
    # the two halves count towards each other; near the middle their numbers would run into one another
    ticks = [tick for tick in range(0, int(core), 20 if top > 60 else 10) if 16 * top / _HEIGHT <= core - tick < top]
    y_axis = alt.Axis(
        values=[sign * (core - tick) for tick in ticks for sign in (1, -1)],
        labelExpr=f"format({core} - abs(datum.value), 'd')",
        labelOverlap=False,
        grid=False,
    )
    scale = alt.Scale(domain=[-top, top], nice=False)
    wide = pd.concat([rows.assign(at=-_END).head(1), rows, rows.assign(at=reach).tail(1)])
    layers: list[alt.Chart] = []

    def area(low: pd.Series[float], high: pd.Series[float], *, colour: str) -> alt.Chart:
        frame = pd.DataFrame({"at": wide["at"].astype(float), "low": low.round(2), "high": high.round(2)})
        drawn: alt.Chart = (
            alt.Chart(frame)
            .mark_area(color=colour, opacity=1)
            .encode(x=x, y=alt.Y("low:Q", title=y_title, scale=scale, axis=y_axis), y2="high:Q")
        )
        return drawn

    def line(at: pd.Series[float], *, colour: str, dash: tuple[int, ...] = (1, 0), stroke: float = 1.2) -> alt.Chart:
        frame = pd.DataFrame({"at": wide["at"].astype(float), "um": at.round(2)})
        drawn: alt.Chart = (
            alt.Chart(frame)
            .mark_line(color=colour, strokeDash=list(dash), strokeWidth=stroke)
            .encode(x=x, y=alt.Y("um:Q", title=y_title, scale=scale, axis=y_axis))
        )
        return drawn

    flank, with_hub = core - wide["lost"], bool(rows["gap"].notna().all())
    layers.append(area(-flank, flank, colour=_METAL))
    for sign in (1.0, -1.0):
        if with_hub:
            home, supplied = core - wide["home"], core - wide["supplied"]
            layers.append(area(sign * home, sign * top + 0 * home, colour=_HUB))
            layers.append(line(sign * supplied, colour=VERMILION, dash=(2, 2), stroke=1.6))
            layers.append(line(sign * home, colour=BLACK))
        layers.append(line(sign * flank, colour=BLACK, stroke=1.6))
        if core < top:
            layers.append(line(sign * core + 0 * flank, colour=QUIET, dash=(6, 4)))
    layers.append(_words(rows, x, alt.Y("um:Q", title=y_title, scale=scale, axis=y_axis), top=top, with_hub=with_hub))
    chart: AnyChart = alt.layer(*layers).properties(
        width=inner,
        height=_HEIGHT,
        title=alt.TitleParams(rows["panel"].iloc[0], fontSize=FONT_SIZE, offset=4, frame="group"),
    )
    return chart


def _words(rows: pd.DataFrame, x: alt.X, y: alt.Y, *, top: float, with_hub: bool) -> alt.Chart:
    """Write the gap and what comes off at each station; without a hub, what was lost."""
    at = top - 0.06 * top if with_hub else 0.0
    texts = (
        [f"gap {round(gap):d}, off {round(off):d}" for gap, off in zip(rows["gap"], rows["off"], strict=True)]
        if with_hub
        else [f"lost {round(lost):d}" for lost in rows["lost"]]
    )
    frame = pd.DataFrame({"at": rows["at"].astype(float), "um": at, "text": texts})
    drawn: alt.Chart = alt.Chart(frame).mark_text(fontSize=FONT_SIZE - 1, color=BLACK).encode(x=x, y=y, text="text:N")
    return drawn
