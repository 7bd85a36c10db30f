"""Legibility, by the published contrast rule."""

from __future__ import annotations

import altair as alt
import pytest

from wearstats.report.rendering import theme
from wearstats.report.review import returns_chart as returns
from wearstats.report.shaft import map_chart as shaft

# Web Content Accessibility Guidelines 2.1: text 1.4.3 (at least 4.5), graphics 1.4.11 (at least 3)
TEXT, GRAPHICS = 4.5, 3.0


def _luminance(colour: str) -> float:
    """Relative luminance as the guidelines define it, written out once more here."""
    total = 0.0
    for at, weight in ((1, 0.2126), (3, 0.7152), (5, 0.0722)):
        value = int(colour[at : at + 2], 16) / 255
        total += weight * (value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4)
    return total


def _contrast(one: str, other: str) -> float:
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_and_white_is_twenty_one() -> None:
    # the largest ratio there is, WCAG 2.1, "contrast ratio"
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert theme.contrast(1.0, 0.0) == pytest.approx(21.0)


@pytest.mark.parametrize("colour", [theme.INK, theme.QUIET])
def test_words_are_legible_on_paper(colour: str) -> None:
    assert _contrast(colour, theme.PAPER) >= TEXT


@pytest.mark.parametrize("colour", theme.LINE_COLOURS)
def test_lines_are_legible_on_paper(colour: str) -> None:
    assert _contrast(colour, theme.PAPER) >= GRAPHICS


RAMPS = [returns._RAMP, *(panel.ramp for panel in shaft._PANELS)]


@pytest.mark.parametrize("ramp", RAMPS)
def test_numbers_are_legible_on_every_shade(ramp: tuple[str, str]) -> None:
    light, dark = ([int(colour[at : at + 2], 16) for at in (1, 3, 5)] for colour in ramp)
    for step in range(101):
        cell = "#" + "".join(f"{round(a + step / 100 * (b - a)):02x}" for a, b in zip(light, dark, strict=True))
        assert _contrast(theme.letters_on(step / 100, ramp), cell) >= TEXT


def test_neighbouring_lines_differ_in_dash() -> None:
    assert len(set(theme.LINE_DASHES)) == len(theme.LINE_DASHES) == len(theme.LINE_COLOURS)


def test_the_theme_is_used_inside_the_block_only() -> None:
    before = alt.theme.active
    with theme.house_style():
        assert alt.theme.active == theme.THEME
    assert alt.theme.active == before
