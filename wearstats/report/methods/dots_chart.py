"""A hundred hubs as supplied beside a hundred fitted by hand on like shafts, each a dot, those that work loose dark."""

from __future__ import annotations

from typing import Any, Final

import altair as alt
import numpy as np
import pandas as pd

from wearstats.report.rendering.charts import AnyChart, wrapped, wrapped_small
from wearstats.report.rendering.theme import FONT_SIZE, INK, QUIET, VERMILION, WIDE
from wearstats.report.words.phrases import in_hundred, months

_SIDE: Final = 10
_LOOSE, _TIGHT = "works loose", "holds"
_WAYS: Final = ("as supplied", "fitted by hand")


def dots_chart(supplied: float, hand: float, *, sure: str, horizon_months: float, width: int = WIDE) -> AnyChart:
    """Draw two squares of a hundred dots.

    Parameters
    ----------
    supplied, hand : float
        Share that works loose by the horizon, 0 to 1.
    sure : str
        The difference with its interval, in words.
    horizon_months : float
        By when.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
    """
    title = dots_title(supplied, hand, horizon_months=horizon_months)
    how = f"Each dot is one of a hundred hubs on like shafts; the difference is {sure} (95 % sure)."
    gap = 40 if width >= WIDE else 18
    side = min((width - gap - 24) / 2, 210)
    panels = [_panel(way, share, side=side) for way, share in zip(_WAYS, (supplied, hand), strict=True)]
    chart: AnyChart = alt.hconcat(*panels, spacing=gap).properties(
        title=alt.TitleParams(wrapped(title, width=width - 20), subtitle=wrapped_small(how, width=width - 20)),
        description=f"{title}. Two squares of a hundred dots, those that work loose filled dark.",
    )
    return chart


def dots_title(supplied: float, hand: float, *, horizon_months: float) -> str:
    """Say both shares."""
    return (
        f"Of 100 hubs {in_hundred(supplied)} work loose within {months(horizon_months)} as supplied, "
        f"{in_hundred(hand)} fitted by hand"
    )


def _panel(way: str, share: float, *, side: float) -> AnyChart:
    at = np.arange(_SIDE**2)
    dots = pd.DataFrame(
        {
            "column": at % _SIDE,
            # filled from below, as a glass is
            "row": at // _SIDE,
            "hub": np.where(at < round(100 * share), _LOOSE, _TIGHT),
        }
    )
    place: dict[str, Any] = {"axis": None, "scale": alt.Scale(domain=[-0.5, _SIDE - 0.5], nice=False)}
    domain = [_LOOSE, _TIGHT]
    chart: AnyChart = (
        alt.Chart(dots)
        .mark_point(filled=True, size=(0.62 * side / _SIDE) ** 2, opacity=1, strokeWidth=1.2)
        .encode(
            x=alt.X("column:Q", **place),
            y=alt.Y("row:Q", **place),
            fill=alt.Fill("hub:N", scale=alt.Scale(domain=domain, range=[VERMILION, "#ffffff"]), legend=None),
            stroke=alt.Stroke("hub:N", scale=alt.Scale(domain=domain, range=[INK, QUIET]), legend=None),
        )
        .properties(
            width=side,
            height=side,
            title=alt.TitleParams(
                f"{way}: {in_hundred(share)}", fontSize=FONT_SIZE + 1, fontWeight="normal", anchor="start", offset=4
            ),
        )
    )
    return chart
