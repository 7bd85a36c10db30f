"""How every chart looks: one theme, registered by name.

Readable in print, in grey and with any colour vision: the colours are those of Okabe and Ito that are dark enough for
thin lines on white paper, and nothing is told by colour alone (dashes, shapes and words go with it).

References
----------
M. Okabe, K. Ito, "Color Universal Design: how to make figures and presentations that are friendly to colorblind
people", 2008.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import altair as alt

THEME: Final = "wearstats"

INK: Final = "#1a1a1a"
QUIET: Final = "#595959"
FAINT: Final = "#d9d9d9"
PAPER: Final = "#ffffff"
BLACK: Final = "#000000"
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"
GREEN: Final = "#009E73"
BAR: Final = "#9ab8cc"

LINE_COLOURS: Final = (BLACK, BLUE, VERMILION, GREEN)
LINE_DASHES: Final = ((1, 0), (7, 3), (2, 2), (9, 3, 2, 3))

# Arial's widths are shared by Liberation Sans and nearly by Helvetica, so that text measured here fits elsewhere
FONT: Final = "Arial, Liberation Sans, Helvetica, sans-serif"
FONT_SIZE: Final = 12
TITLE_SIZE: Final = 14
WIDE: Final = 660
NARROW: Final = 326
PADDING: Final = 6


@alt.theme.register(THEME, enable=False)
def wearstats_theme() -> alt.theme.ThemeConfig:
    """Give the theme."""
    axis: alt.theme.AxisConfigKwds = {
        "labelFontSize": FONT_SIZE,
        "titleFontSize": FONT_SIZE,
        "labelColor": INK,
        "titleColor": INK,
        "titleFontWeight": "normal",
        "titlePadding": 8,
        "domainColor": QUIET,
        "tickColor": QUIET,
        "gridColor": FAINT,
        "gridOpacity": 0.7,
    }
    return {
        "config": {
            # the page gives each picture one name and a table; a label on every mark would drown a listener
            "aria": False,
            "background": PAPER,
            "font": FONT,
            "padding": PADDING,
            # thousands as in the sentences: a narrow space, for a comma is a decimal sign to many
            "locale": {"number": {"decimal": ".", "thousands": "\u202f", "grouping": [3], "currency": ["", ""]}},
            "axis": axis,
            "view": {"stroke": None},
            "text": {"fontSize": FONT_SIZE, "color": INK},
            "title": {
                "anchor": "start",
                "fontSize": TITLE_SIZE,
                "fontWeight": "bold",
                "color": INK,
                "subtitleFontSize": FONT_SIZE,
                "subtitleColor": QUIET,
                "subtitlePadding": 5,
                "offset": 10,
                "frame": "bounds",
            },
            "header": {"labelFontSize": FONT_SIZE, "labelColor": INK, "title": None},
            "legend": {
                "labelFontSize": FONT_SIZE,
                "titleFontSize": FONT_SIZE,
                "orient": "top",
                "title": None,
                "symbolOpacity": 1,
            },
        }
    }


def letters_on(share: float, ramp: tuple[str, str]) -> str:
    """Choose black or white letters for a cell of a two-colour ramp, whichever has more contrast.

    Parameters
    ----------
    share : float
        Place on the ramp, 0 (its first colour) to 1; outside it is cut off.
    ramp : tuple of str
        Two colours ``#rrggbb``, blended linearly as in the charts.

    Returns
    -------
    str
        A colour; its contrast by the Web Content Accessibility Guidelines 2.1, 1.4.3, is the larger of the two.
    """
    at = min(max(share, 0.0), 1.0)
    light, dark = (_channels(colour) for colour in ramp)
    cell = luminance([a + at * (b - a) for a, b in zip(light, dark, strict=True)])
    return max((BLACK, PAPER), key=lambda letters: contrast(luminance(_channels(letters)), cell))


def contrast(one: float, other: float) -> float:
    """Give the contrast ratio of two relative luminances, 1 to 21."""
    return (max(one, other) + 0.05) / (min(one, other) + 0.05)


def _channels(colour: str) -> list[float]:
    return [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]


def luminance(channels: list[float]) -> float:
    """Give the relative luminance of red, green and blue, each 0 to 1."""
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@contextmanager
def house_style() -> Iterator[None]:
    """Use the theme inside a ``with`` block, and leave the caller's own choice as it was."""
    # a picture of very many rows is thinned where it is drawn, not refused
    with alt.theme.enable(THEME), alt.data_transformers.enable("default", max_rows=None):
        yield
