"""Bands of doubt in ink: a light area between two thin lines that are dark enough to be seen on paper."""

from __future__ import annotations

from typing import Any, Final

import altair as alt

_FILL: Final = 0.14
_EDGE: Final[dict[str, Any]] = {"strokeWidth": 1, "strokeDash": [4, 2]}


def band(
    base: alt.Chart, *, low: str, high: str, title: str, scale: alt.Scale | None = None, **mark: Any
) -> list[alt.Chart]:
    """Draw a band between two columns, along the axis that the base has.

    Parameters
    ----------
    base : altair.Chart
        With its data and its horizontal axis.
    low, high : str
        Columns of the ends.
    title : str
        Of the vertical axis.
    scale : altair.Scale, optional
        Of the vertical axis.
    **mark
        ``color``, and ``interpolate`` where the band goes in steps; the colour may be the base's instead.
    """
    y = {"title": title} if scale is None else {"title": title, "scale": scale}
    area = base.mark_area(opacity=_FILL, **mark).encode(y=alt.Y(f"{low}:Q", **y), y2=f"{high}:Q")
    return [area, *(base.mark_line(**_EDGE, **mark).encode(y=alt.Y(f"{end}:Q", **y)) for end in (low, high))]
