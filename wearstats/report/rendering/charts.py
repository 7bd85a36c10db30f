"""From a chart to a picture: SVG for the page, PNG where one is asked for."""

from __future__ import annotations

import bisect
import re
import textwrap
from typing import Any, Final

import altair as alt

from wearstats.errors import ReportError
from wearstats.report.rendering.escape import all_shown
from wearstats.report.rendering.no_break import breakable, unbroken
from wearstats.report.rendering.theme import FONT_SIZE, TITLE_SIZE, house_style

AnyChart = alt.Chart | alt.LayerChart | alt.HConcatChart | alt.VConcatChart | alt.FacetChart

_ID: Final = re.compile(r'(\bid="|url\(#|href="#)([^"\d)]*)(\d*)')
# the picture's own size comes first; its name before that may hold any sign but a quotation mark
_SIZE: Final = re.compile(r'<svg\b.*?\bwidth="([\d.]+)" height="[\d.]+"', re.DOTALL)


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
    svg = _own_ids(_convert(spec), name)
    size = _SIZE.search(svg)
    if size is None:
        raise ReportError(f"chart '{name}': the picture came out without a size; install wearstats again")
    label = _attribute(str(spec.get("description", name)))
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def _own_ids(svg: str, name: str) -> str:
    """Have identifiers begin with the picture's name and count from 1: the library counts on between pictures."""
    numbers: dict[str, int] = {}

    def named(found: re.Match[str]) -> str:
        number = numbers.setdefault(found[2] + found[3], len(numbers) + 1) if found[3] else ""
        return f"{found[1]}{name}-{found[2]}{number}"

    return _ID.sub(named, svg)


def svg_width(svg: str) -> float:
    """Read the width of a drawn picture in screen points."""
    size = _SIZE.search(svg)
    if size is None:
        raise ReportError("a picture came out without a size; install wearstats again")
    return float(size[1])


def chart_png(chart: AnyChart, *, scale: float = 2.0) -> bytes:
    """Draw a chart as a PNG picture, `scale` times its size in screen points."""
    return spec_png(chart_spec(chart), scale=scale)


def spec_png(spec: dict[str, Any], *, scale: float = 2.0) -> bytes:
    """Draw a specification in the house style as a PNG picture, as `chart_png` does."""
    import vl_convert

    png: bytes = vl_convert.vegalite_to_png(spec, scale=scale, allowed_base_urls=[])
    return png


def wrapped(text: str, *, width: float, size: float = TITLE_SIZE) -> list[str]:
    """Break a title into lines that fit a width in screen points; bold letters are about half their size wide."""
    return _even_lines(text, max(12, int(width / (0.52 * size))))


def wrapped_small(text: str, *, width: float) -> list[str]:
    """Break a subtitle into lines that fit a width in screen points."""
    return _even_lines(text, max(12, int(width / (0.47 * FONT_SIZE))))


def _even_lines(text: str, most: int) -> list[str]:
    """Break into as few lines as can be, all about as long, so that none is left with a single word."""
    whole = unbroken(text)
    few = len(_lines(whole, most))
    # the more letters a line may have, the fewer lines there are
    widths = range(max(12, len(whole) // max(few, 1)), most)
    at = bisect.bisect_left(widths, -few, key=lambda letters: -len(_lines(whole, letters)))
    return [breakable(line) for line in _lines(whole, widths[at] if at < len(widths) else most)]


def _lines(text: str, letters: int) -> list[str]:
    return textwrap.wrap(text, letters, break_on_hyphens=False)


def ready_to_draw() -> None:
    """Have what draws started: the first picture takes half a second longer than the others."""
    _convert({"data": {"values": [{}]}, "mark": "point"})


def _convert(spec: dict[str, Any]) -> str:
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(spec, allowed_base_urls=[])
    return svg


def _attribute(text: str) -> str:
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
