"""Lines, whiskers and the edges of bands are dark enough on white paper: three to one, as for graphical objects.

The bound is that of the Web Content Accessibility Guidelines 2.1, success criterion 1.4.11.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.report.rendering.test_charts_golden import CHARTS, wide_spec
from tests.report.support.chart_spec import units
from wearstats.report.rendering.theme import FAINT, contrast, luminance

LEAST = 3.0
THIN = {"rule", "line", "tick", "point"}


def inks(mark: dict[str, Any], encoding: dict[str, Any]) -> list[tuple[str, float]]:
    """Give the colours that a thin mark is drawn in, with how much they cover."""
    scale = (encoding.get("color") or {}).get("scale") or {}
    colours = [mark["color"]] if "color" in mark else [name for name in scale.get("range", []) if isinstance(name, str)]
    cover = encoding.get("opacity", {})
    conditional = [cover["value"], cover["condition"]["value"]] if "condition" in cover else [mark.get("opacity", 1.0)]
    return [(colour, float(share)) for colour in colours if colour.startswith("#") for share in conditional]


def on_paper(colour: str, cover: float) -> float:
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    return contrast(luminance([1 - cover * (1 - channel) for channel in channels]), 1.0)


@pytest.mark.parametrize("name", CHARTS)
def test_thin_marks_are_dark_enough(name: str) -> None:
    for unit in units(wide_spec(name)):
        mark = unit["mark"] if isinstance(unit["mark"], dict) else {"type": unit["mark"]}
        if mark["type"] in THIN:
            for colour, cover in inks(mark, unit["encoding"]):
                assert colour == FAINT or on_paper(colour, cover) >= LEAST, (mark, colour, cover)


@pytest.mark.parametrize("name", CHARTS)
def test_an_area_has_an_edge(name: str) -> None:
    views = list(units(wide_spec(name)))
    for at, unit in enumerate(views):
        mark = unit["mark"] if isinstance(unit["mark"], dict) else {"type": unit["mark"]}
        if mark["type"] == "area" and mark.get("opacity", 1.0) < 1:
            ends = {unit["encoding"]["y"]["field"], unit["encoding"]["y2"]["field"]}
            lines = [other["encoding"]["y"]["field"] for other in views[at + 1 : at + 3]]
            assert set(lines) == ends, "a light area is seen by the lines at its ends"
