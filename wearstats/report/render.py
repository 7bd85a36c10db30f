"""From a chart to a picture: SVG for the page, PNG where one is asked for."""

from __future__ import annotations

import re
import textwrap
from typing import Any, Final

import altair as alt

from wearstats.errors import ReportError
from wearstats.report.signs import all_shown
from wearstats.report.theme import FONT_SIZE, TITLE_SIZE, house_style

AnyChart = alt.Chart | alt.LayerChart | alt.HConcatChart | alt.VConcatChart | alt.FacetChart

_ID: Final = re.compile(r'(\bid="|url\(#|href="#)')
_SIZE: Final = re.compile(r'<svg\b[^>]*?\bwidth="([\d.]+)" height="([\d.]+)"')


def chart_spec(chart: AnyChart, *, check: bool = True) -> dict[str, Any]:
    """Give a chart's full specification in the house style.

    Parameters
    ----------
    chart : altair chart
        The chart.
    check : bool
        Whether to check it against Vega-Lite's own schema, as the tests do; it takes as long as drawing.
    """
    with house_style():
        spec: dict[str, Any] = all_shown(chart.to_dict(validate=check))
    return spec


def chart_svg(chart: AnyChart, *, name: str) -> str:
    """Draw a chart as an SVG element that can stand in a page beside others.

    Parameters
    ----------
    chart : altair chart
        With a description, which becomes the picture's name for listeners.
    name : str
        Letters and hyphens, one for each picture on a page; identifiers inside the picture begin with it.

    Returns
    -------
    str
        ``<svg ...>``, without scripts, styles or links.
    """
    return spec_svg(chart_spec(chart, check=False), name=name)


def spec_svg(spec: dict[str, Any], *, name: str) -> str:
    """Draw a specification in the house style as an SVG element, as `chart_svg` does."""
    svg = _ID.sub(rf"\g<1>{name}-", _convert(spec))
    size = _SIZE.search(svg)
    if size is None:
        raise ReportError(f"chart '{name}': the picture came out without a size; install wearstats again")
    label = _attribute(str(spec.get("description", name)))
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def chart_png(chart: AnyChart, *, scale: float = 2.0) -> bytes:
    """Draw a chart as a PNG picture, `scale` times its size in screen points."""
    return spec_png(chart_spec(chart), scale=scale)


def spec_png(spec: dict[str, Any], *, scale: float = 2.0) -> bytes:
    """Draw a specification in the house style as a PNG picture, as `chart_png` does."""
    import vl_convert

    png: bytes = vl_convert.vegalite_to_png(spec, scale=scale, allowed_base_urls=[])
    return png


def wrapped(text: str, *, width: float, size: float = TITLE_SIZE) -> list[str]:
    """Break a title into lines that fit a width in screen points; bold letters are about 0.56 of their size wide."""
    return textwrap.wrap(text, max(12, int(width / (0.56 * size))))


def wrapped_small(text: str, *, width: float) -> list[str]:
    """Break a subtitle into lines that fit a width in screen points."""
    return textwrap.wrap(text, max(12, int(width / (0.51 * FONT_SIZE))))


def _convert(spec: dict[str, Any]) -> str:
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(spec, allowed_base_urls=[])
    return svg


def _attribute(text: str) -> str:
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
