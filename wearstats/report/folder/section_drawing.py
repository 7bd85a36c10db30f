"""A spline cut along its length with the hub's space over it, far wider than it is, so that micrometres can be seen."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wearstats.report.rendering.escape import shown
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import BLACK, QUIET, VERMILION

_WIDE, _HIGH, _LEFT, _LEGEND = 340.0, 236.0, 58.0, 34.0
_CORE_UM: Final = 12.0
_RIM_UM: Final = 20.0
_NEW_WITHIN_UM: Final = 40.0
_END: Final = 0.42
_MINUS: Final = "\u2212"
_METAL, _HUB = "#9db4c6", "#ecdcc4"
_STEPS_UM: Final = (10, 20, 50, 100, 200, 500)
_BAR: Final = 60.0
"""How long the bar of the scale is about, in points of the drawing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One spline cut open.

    Parameters
    ----------
    title : str
        Which, and why it is shown.
    drawing : str
        The picture as SVG, read at the width of a phone too.
    table : DataTable
        Its numbers.
    """

    title: str
    drawing: str
    table: DataTable


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


def sections_of(shaft_map: pd.DataFrame) -> list[Section]:
    """Draw splines of a shaft cut along their length, with the advised hub standing home; without one them alone.

    Parameters
    ----------
    shaft_map : pandas.DataFrame
        As `section_rows` takes it.
    """
    rows = section_rows(shaft_map)
    deepest = float(rows[["lost", "supplied"]].max().max())
    core = max(deepest, 0.0) + _CORE_UM
    outermost = float(rows[["lost", "home"]].min().min())
    # deep wear would leave a thin line of what is to be seen: then the new width stays outside the drawing
    top = core - min(outermost, 0.0 if outermost <= _NEW_WITHIN_UM else outermost) + _RIM_UM
    return [
        Section(title=str(title), drawing=_drawing(mine, core=core, top=top), table=_table(mine, caption=str(title)))
        for title, mine in rows.groupby("panel", sort=False)
    ]


def section_words(shaft_map: pd.DataFrame) -> str:
    """Say how the drawings are to be read."""
    rows = section_rows(shaft_map)
    told = "Each spline seen from above, its width drawn far too large and its middle left out. Blue: spline"
    if rows["gap"].notna().all():
        told += (
            "; sand: hub, standing home; dotted: its flanks as it comes; white: gap; the bar: so much at either flank"
        )
    return f"{told}; broken line: the spline when new, where it is near. Numbers in µm, both sides together."


def _drawing(rows: pd.DataFrame, *, core: float, top: float) -> str:
    """Draw one spline, mirrored: a width of so many um below new stands `core` less that from the middle."""
    at = np.array([-_END, *rows["at"], len(rows) - 1 + _END])
    x = _LEFT + (_WIDE - _LEFT - 4) * (at + _END) / (at[-1] + _END)
    middle, half = _LEGEND + (_HIGH - _LEGEND - 20) / 2, (_HIGH - _LEGEND - 20) / 2

    def flank(below: pd.Series[float] | float, sign: int) -> list[tuple[float, float]]:
        um = np.broadcast_to(np.asarray(below, dtype=float), len(rows))
        whole = core - np.array([um[0], *um, um[-1]])
        return list(zip(x, middle - sign * half * whole / top, strict=True))

    with_hub = bool(rows["gap"].notna().all())
    shape = [*flank(rows["lost"], 1), *reversed(flank(rows["lost"], -1))]
    parts = [f'<path d="{_path(shape)}Z" fill="{_METAL}"/>']
    for sign in (1, -1):
        if with_hub:
            rim = [(place, middle - sign * half) for place in (x[-1], x[0])]
            parts += [
                f'<path d="{_path([*flank(rows["home"], sign), *rim])}Z" fill="{_HUB}"/>',
                _line(flank(rows["supplied"], sign), VERMILION, 'stroke-width="1.6" stroke-dasharray="2 2"'),
                _line(flank(rows["home"], sign), BLACK, 'stroke-width="1.2"'),
            ]
        parts.append(_line(flank(rows["lost"], sign), BLACK, 'stroke-width="1.6"'))
        if core < top:
            parts.append(_line(flank(0.0, sign), QUIET, 'stroke-width="1.2" stroke-dasharray="6 4"'))
    for row, place in zip(rows.to_dict("records"), x[1:-1], strict=True):
        told = [f"gap {row['gap']:.0f}", f"off {row['off']:.0f}"] if with_hub else [f"lost {row['lost']:.0f}"]
        parts += [_text(place, 12 + 14 * line, words) for line, words in enumerate(told)]
        parts.append(_text(place, _HIGH - 5, str(row["station"])))
    parts.append(_scale(middle, half / top))
    name = _escaped(
        f"{rows['panel'].iloc[0]}: the flanks of the spline along its length; the numbers are in the table."
    )
    return (
        f'<svg viewBox="0 0 {_WIDE:.0f} {_HIGH:.0f}" role="img" aria-label="{name}">'
        f'<rect width="{_WIDE:.0f}" height="{_HIGH:.0f}" fill="#fff"/>'
        f'<g font-family="Arial, sans-serif" font-size="12" text-anchor="middle" fill="{BLACK}">{"".join(parts)}</g>'
        "</svg>"
    )


def _scale(middle: float, points_per_um: float) -> str:
    """Draw a bar that says how long a few micrometres are."""
    um = min(_STEPS_UM, key=lambda step: abs(step * points_per_um - _BAR))
    long = um * points_per_um / 2
    return (
        f'<path d="M44 {middle - long:.1f}V{middle + long:.1f}M40 {middle - long:.1f}H48M40 {middle + long:.1f}H48" '
        f'stroke="{BLACK}"/><text x="36" y="{middle + 4:.0f}" text-anchor="end">{um} µm</text>'
    )


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _line(points: Sequence[tuple[float, float]], colour: str, how: str) -> str:
    return f'<path d="{_path(points)}" fill="none" stroke="{colour}" {how}/>'


def _text(x: float, y: float, words: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.0f}">{_escaped(words.replace("-", _MINUS) if words[-1].isdigit() else words)}</text>'
    )


def _escaped(text: str) -> str:
    return html.escape(shown(text))


def _table(rows: pd.DataFrame, *, caption: str) -> DataTable:
    """Print a row a station."""
    told = pd.DataFrame({"station": rows["station"], "lost": _whole(rows["lost"])})
    heads = {"station": "station", "lost": "lost, µm"}
    if rows["gap"].notna().all():
        told = told.assign(off=_whole(rows["off"]), gap=_whole(rows["gap"]))
        heads |= {"off": "comes off the hub, µm", "gap": "gap left, µm"}
    return table_of(told, caption=caption, columns=heads)


def _whole(numbers: pd.Series[float]) -> list[str]:
    return [f"{round(um) + 0:d}".replace("-", _MINUS) for um in numbers]
