"""Bars and intervals as small SVG elements that stand in the cells of a table, beside their numbers."""

from __future__ import annotations

import math
from typing import Final

from wearstats.report.rendering.theme import BAR, QUIET, VERMILION

_WIDE: Final = 100.0
_HIGH: Final = 14.0
_HIDDEN: Final = 'aria-hidden="true" focusable="false"'


def bar(share: float) -> str:
    """Draw a bar over a share of the cell, 0 to 1; nothing where it is not known."""
    if math.isnan(share) or share <= 0:
        return ""
    wide = max(_WIDE * min(share, 1.0), 1.0)
    return _svg(f'<rect x="0.5" y="2.5" width="{wide - 0.5:.1f}" height="9" fill="{BAR}" stroke="{QUIET}"/>')


def interval(value: float, low: float, high: float, *, least: float = 0.0, most: float, limit: float = math.nan) -> str:
    """Draw a number as a point with its interval, on a scale that all rows share.

    Parameters
    ----------
    value, low, high : float
        The number and the ends of its interval; without a picture where it is not known.
    least, most : float
        The ends of the scale. What lies past them is cut off, and a point past them becomes an arrow.
    limit : float
        Where a broken line stands; none if not given.
    """
    parts = []
    if not math.isnan(limit):
        x = _at(limit, least, most)
        parts.append(f'<path d="M{x:.1f} 0V14" stroke="{VERMILION}" stroke-width="1.5" stroke-dasharray="3 2"/>')
    if math.isnan(value):
        return _svg("".join(parts))
    ends = [_at(end, least, most) for end in (low, high) if not math.isnan(end)]
    if len(ends) == 2 and ends[1] > ends[0]:
        parts.append(f'<path d="M{ends[0]:.1f} 7H{ends[1]:.1f}" stroke="currentColor" stroke-width="1.6"/>')
    if value > most:
        parts.append('<path d="M91 2L99 7L91 12Z" fill="currentColor"/>')
    else:
        parts.append(f'<circle cx="{_at(value, least, most):.1f}" cy="7" r="3.6" fill="currentColor"/>')
    return _svg("".join(parts))


def _at(number: float, least: float, most: float) -> float:
    """Give the place of a number between the margins, which a whole point needs."""
    share = (number - least) / (most - least) if most > least else 0.0
    return 4.0 + (_WIDE - 8.0) * min(max(share, 0.0), 1.0)


def _svg(parts: str) -> str:
    return f'<svg class="cell" viewBox="0 0 {_WIDE:.0f} {_HIGH:.0f}" {_HIDDEN}>{parts}</svg>' if parts else ""
