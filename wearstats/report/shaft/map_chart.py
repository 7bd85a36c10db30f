"""One shaft place by place: what it has lost, what must come off the advised hub there, and what gap stays."""

from __future__ import annotations

from dataclasses import dataclass

import altair as alt
import pandas as pd

from wearstats.domain.units import print_um
from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import FONT_SIZE, PAPER, WIDE, letters_on

_ROW = 22
_LABELS = 62
_SPACING = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    column: str
    title: str
    ramp: tuple[str, str]
    # what the darkest colour stands for at least, so that a map of nearly nothing does not look alarming
    full_um: float


# light to dark, so that they read in grey
_PANELS = (
    _Panel(column="width_um_below_new", title="lost", ramp=("#f3f7fa", "#0a3d62"), full_um=60.0),
    _Panel(column="filing_um", title="to file off the hub", ramp=("#fdf6ee", "#7a3300"), full_um=40.0),
    _Panel(column="gap_left_um", title="gap left", ramp=("#f5f5f5", "#222222"), full_um=40.0),
)


def map_chart(shaft_map: pd.DataFrame, *, shaft: str, hub: str | None = None, width: int = WIDE) -> AnyChart:
    """Draw a shaft as its splines (rows) by stations (columns), a number in every place.

    Parameters
    ----------
    shaft_map : pandas.DataFrame
        One row a place: ``spline``, ``station``, ``station_index`` (0 at the shoulder), ``width_um_below_new``,
        ``sd_um`` and, where a hub is advised, ``filing_um`` and ``gap_left_um``.
    shaft : str
        Its name, for the title.
    hub : str or None
        The hub that filing and gap are given for, in words; None draws the wear only.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    panels = [panel for panel in _PANELS if panel.column == "width_um_below_new" or _is_given(shaft_map, panel, hub)]
    stations = shaft_map.sort_values("station_index")["station"].unique().tolist()
    inner = width - _LABELS - 12 - _SPACING * (len(panels) - 1)
    cell = min(62.0, inner / (len(panels) * len(stations)))
    drawn = [_panel(shaft_map, panel, stations, cell=cell, first=number == 0) for number, panel in enumerate(panels)]
    how = f"Numbers in µm (1000 µm = 1 mm), each give or take {shaft_map['sd_um'].mean():.0f} µm."
    if len(panels) > 1:
        how += f" Filing and gap are those of {hub}."
    chart: AnyChart = alt.hconcat(*drawn, spacing=_SPACING).properties(
        title=alt.TitleParams(
            wrapped(map_title(shaft_map, shaft), width=width - 20), subtitle=wrapped_small(how, width=width - 20)
        ),
        description=f"{map_title(shaft_map, shaft)}. A grid of splines by stations, the numbers are in the table.",
    )
    return chart


def map_title(shaft_map: pd.DataFrame, shaft: str) -> str:
    """Say what the map shows: the mean loss, and where most and least has gone."""
    lost = shaft_map["width_um_below_new"]
    by_station = shaft_map.groupby("station", sort=False)["width_um_below_new"].mean()
    mean = f"Shaft {shaft} has lost {_size(lost.mean())} on average"
    if round(float(lost.mean())) < 1:
        mean = f"Shaft {shaft} has lost less than {_size(1)} on average"
    if lost.max() - lost.min() <= 2 * shaft_map["sd_um"].mean():
        return f"{mean}, evenly as far as can be told"
    if by_station.max() - by_station.min() > shaft_map["sd_um"].mean():
        return f"{mean}, most at the {by_station.idxmax()}"
    most = shaft_map.iloc[int(lost.to_numpy().argmax())]
    return f"{mean}, most on spline {most['spline']} at the {most['station']}"


def _is_given(shaft_map: pd.DataFrame, panel: _Panel, hub: str | None) -> bool:
    return hub is not None and panel.column in shaft_map and bool(shaft_map[panel.column].notna().all())


def _size(um: float) -> str:
    return print_um(round(um), decimals=3).split(" (")[0]


def _panel(shaft_map: pd.DataFrame, panel: _Panel, stations: list[str], *, cell: float, first: bool) -> AnyChart:
    top = max(float(shaft_map[panel.column].max()), panel.full_um)
    cells = shaft_map[["spline", "station"]].assign(
        um=shaft_map[panel.column].astype(float).round(1),
        text=[f"{round(um) + 0:d}".replace("-", "\u2212") for um in shaft_map[panel.column].astype(float)],
        letters=[letters_on(um / top, panel.ramp) for um in shaft_map[panel.column]],
    )
    x = alt.X(
        "station:N",
        sort=stations,
        title=None,
        axis=alt.Axis(orient="top", labelAngle=0 if cell >= 52 else -90, ticks=False, domain=False, labelLimit=90),
    )
    y = alt.Y(
        "spline:O",
        title="spline" if first else None,
        axis=alt.Axis(ticks=False, domain=False) if first else None,
    )
    colour = alt.Color(
        "um:Q",
        scale=alt.Scale(domain=[0, top], range=list(panel.ramp), interpolate="rgb", clamp=True),
        legend=None,
        title=panel.title,
    )
    tiles = alt.Chart(cells).mark_rect(stroke=PAPER, strokeWidth=1).encode(x=x, y=y, color=colour)
    numbers = (
        alt.Chart(cells)
        .mark_text(fontSize=FONT_SIZE)
        .encode(x=x, y=y, text="text:N", color=alt.Color("letters:N", scale=None))
    )
    chart: AnyChart = (
        alt.layer(tiles, numbers)
        .resolve_scale(color="independent")
        .properties(
            width=cell * len(stations),
            height=_ROW * cells["spline"].nunique(),
            title=alt.TitleParams(
                wrapped_small(panel.title, width=cell * len(stations)), fontSize=FONT_SIZE, offset=4, frame="group"
            ),
        )
    )
    return chart
