"""Our own drawings for the forms, as small SVG elements without styles or scripts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from wearstats.domain.pattern import Pattern
from wearstats.report.forms.wording import Wording

_SIZE: Final = 200.0
_OUTER: Final = 66.0
_LINE: Final = 'fill="none" stroke="#1a1a1a" stroke-width="1.6"'
SHADES: Final = ("#c6dbef", "#08306b")
"""From light to dark: what has to come off, the more the darker; readable in grey and with any colour vision."""
_TEXT: Final = 'font-family="sans-serif" font-size="12" text-anchor="middle" fill="#1a1a1a"'


def shaft_end(pattern: Pattern, wording: Wording) -> str:
    """Draw the end of a shaft: its splines true to the pattern, numbered clockwise from the dot on spline 1."""
    scale = _OUTER / (pattern.major_mm / 2)
    outer, inner = _OUTER, pattern.minor_mm / 2 * scale
    half = pattern.width_mm / 2 * scale
    parts = []
    for spline in range(pattern.splines):
        middle = 2 * math.pi * spline / pattern.splines
        # flanks are parallel: half a width to either side of the spline's middle line, at both diameters
        low, high = math.asin(half / inner), math.asin(half / outer)
        corners = [(inner, -low), (outer, -high), (outer, high), (inner, low)]
        points = [_point(radius, middle + turn) for radius, turn in corners]
        parts.append(
            f"{'M' if spline == 0 else f'A{inner:.1f} {inner:.1f} 0 0 1 '}{points[0]}L{points[1]}"
            f"A{outer:.1f} {outer:.1f} 0 0 1 {points[2]}L{points[3]}"
        )
    outline = f"{''.join(parts)}A{inner:.1f} {inner:.1f} 0 0 1 {_point(inner, -math.asin(half / inner))}Z"
    every = max(1, math.ceil(pattern.splines / 12))
    numbers = "".join(
        f'<text x="{x:.0f}" y="{y + 4:.0f}">{spline + 1}</text>'
        for spline in range(0, pattern.splines, every)
        for x, y in [_place(_OUTER + 13, 2 * math.pi * spline / pattern.splines)]
    )
    dot_x, dot_y = _place((outer + inner) / 2 - 1, 0)
    return (
        f'<svg viewBox="0 0 {_SIZE:.0f} {_SIZE:.0f}" role="img" aria-label="{_label(wording, "end_caption")}">'
        f'<path d="{outline}" fill="#e4e8ec" stroke="#1a1a1a" stroke-width="1.6"/>'
        f'<circle cx="100" cy="100" r="{inner * 0.3:.0f}" {_LINE}/>'
        f'<circle cx="{dot_x:.1f}" cy="{dot_y:.1f}" r="3.6" fill="#b00020"/>'
        f'<path d="M{_point(inner * 0.62, -0.7)}A{inner * 0.62:.1f} {inner * 0.62:.1f} 0 0 1 '
        f'{_point(inner * 0.62, 1.0)}" {_LINE}/>{_arrow_head(inner * 0.62, 1.0)}'
        f"<g {_TEXT}>{numbers}</g></svg>"
    )


def hub_rings(
    splines: int,
    shares: Sequence[float | None],
    ranks: Sequence[int | None],
    wording: Wording,
    *,
    label: str | None = None,
) -> str:
    """Draw a hub twice, from its nut face and into its mouth, each space the darker the more has to come off it.

    Parameters
    ----------
    splines : int
        How many spaces there are; their shape is not to scale.
    shares : sequence of float or None
        How dark each space is, from spline 1, darkest at 1; None where the hub passes freely.
    ranks : sequence of int or None
        The number that stands in each space.
    wording : Wording
        In which language.
    label : str, optional
        What it shows; without it, what has to come off.
    """
    words = wording["fitting"]
    faces = [
        f'<g transform="translate({at * _SIZE:.0f} 0)">{_ring(splines, shares, ranks, turned)}'
        f'<text x="100" y="104">{_escaped(str(words[name]))}</text></g>'
        for at, (name, turned) in enumerate((("nut_face", 1), ("mouth", -1)))
    ]
    told = _escaped(label or str(words["ring"]))
    return (
        f'<svg viewBox="0 0 {2 * _SIZE:.0f} {_SIZE:.0f}" role="img" aria-label="{told}">'
        f"<g {_TEXT}>{''.join(faces)}</g></svg>"
    )


def _ring(splines: int, shares: Sequence[float | None], ranks: Sequence[int | None], turned: int) -> str:
    inner, root, outer = 40.0, 64.0, 76.0
    half = min(math.pi * inner / splines * 0.55, 9.0)
    every, parts = max(1, math.ceil(splines / 12)), []
    for at, (share, rank) in enumerate(zip(shares, ranks, strict=True)):
        middle = turned * 2 * math.pi * at / splines
        low, high = math.asin(half / inner), math.asin(half / root)
        corners = [(inner, -low), (root, -high), (root, high), (inner, low)]
        shape = "L".join(_point(radius, middle + turn) for radius, turn in corners)
        paper = "#fff" if share is None else shade(share)
        parts.append(f'<path d="M{shape}Z" fill="{paper}" stroke="#1a1a1a" stroke-width="1.2"/>')
        if rank is not None and every == 1:
            x, y = _place((inner + root) / 2 + 2, middle)
            light = "#fff" if share is not None and share > 0.45 else "#1a1a1a"
            parts.append(f'<text x="{x:.0f}" y="{y + 4:.0f}" fill="{light}">{rank}</text>')
        if at % every == 0:
            x, y = _place(outer + 13, middle)
            parts.append(f'<text x="{x:.0f}" y="{y + 5:.0f}" font-size="15" font-weight="bold">{at + 1}</text>')
    dot_x, dot_y = _place((root + outer) / 2, 0.0)
    return (
        f'<circle cx="100" cy="100" r="{outer:.0f}" fill="#f1f3f5" stroke="#1a1a1a" stroke-width="1.6"/>'
        f'<circle cx="100" cy="100" r="{inner:.0f}" fill="#fff" stroke="#1a1a1a" stroke-width="1.2"/>'
        f'{"".join(parts)}<circle cx="{dot_x:.1f}" cy="{dot_y:.1f}" r="3.6" fill="#b00020"/>'
    )


def shade(share: float) -> str:
    """Give a blue as dark as a share is large, never so light that it could be taken for white."""
    light, dark = ([int(colour[at : at + 2], 16) for at in (1, 3, 5)] for colour in SHADES)
    return "#" + "".join(f"{round(one + (other - one) * share):02x}" for one, other in zip(light, dark, strict=True))


def shaft_side(pattern: Pattern, wording: Wording) -> str:
    """Draw a shaft from the side, shoulder left, nut end right, with the stations."""
    left, right = 46.0, 150.0
    ticks = "".join(
        f'<path d="M{x:.0f} 60V122" stroke="#b00020" stroke-width="2"/>'
        f'<text x="{x:.0f}" y="{134 + 13 * (at % 2)}">{_escaped(wording.station(name))} {mm:g}</text>'
        for at, (name, mm) in enumerate(zip(pattern.stations, pattern.station_mm, strict=True))
        for x in [left + (right - left) * mm / pattern.engaged_mm]
    )
    lines = "".join(f'<path d="M{left:.0f} {y}H{right:.0f}" {_LINE}/>' for y in (74, 82, 92, 100))
    words = wording["measuring"]
    return (
        f'<svg viewBox="0 0 200 156" role="img" aria-label="{_label(wording, "side_caption")}">'
        '<path d="M8 52H46V122H8Z" fill="#cfd5db" stroke="#1a1a1a" stroke-width="1.6"/>'
        f'<path d="M46 66H150V108H46Z" fill="#e4e8ec" stroke="#1a1a1a" stroke-width="1.6"/>{lines}'
        '<path d="M150 74H192V100H150Z" fill="#fff" stroke="#1a1a1a" stroke-width="1.6"/>'
        '<path d="M158 74l5 26M166 74l5 26M174 74l5 26M182 74l5 26" stroke="#1a1a1a"/>'
        f'<g {_TEXT}>{ticks}<text x="36" y="46">{_escaped(words["shoulder"])}</text>'
        f'<text x="168" y="62">{_escaped(words["nut_end"])}</text></g></svg>'
    )


def gauge_held(wording: Wording) -> str:
    """Draw one spline from its end between the flat ends of a micrometer: square, half-way up."""
    return (
        f'<svg viewBox="0 0 200 150" role="img" aria-label="{_label(wording, "gauge_caption")}">'
        '<path d="M20 140A220 220 0 0 1 78 124V52H122V124A220 220 0 0 1 180 140Z" fill="#e4e8ec" stroke="#1a1a1a" '
        'stroke-width="1.6"/>'
        '<path d="M26 88H12V38Q12 16 34 16H120Q142 16 142 38V88H134V38Q134 26 120 26H34Q22 26 22 38V80" '
        'fill="#cfd5db" stroke="#1a1a1a" stroke-width="1.6"/>'
        '<path d="M12 78H78V98H12ZM122 78H166V98H122Z" fill="#cfd5db" stroke="#1a1a1a" stroke-width="1.6"/>'
        '<path d="M166 74H186V102H166Z" fill="#fff" stroke="#1a1a1a" stroke-width="1.6"/>'
        '<path d="M170 74v28M174 74v28M178 74v28M182 74v28" stroke="#1a1a1a"/>'
        f'<path d="M170 66Q178 48 188 64" {_LINE}/><path d="M184 61l7 9 1-11Z" fill="#1a1a1a"/>'
        '<path d="M78 88H122" stroke="#b00020" stroke-width="2" stroke-dasharray="5 3"/></svg>'
    )


def _place(radius: float, turn: float) -> tuple[float, float]:
    """Give a point by its distance from the middle and its angle, clockwise from the top."""
    return _SIZE / 2 + radius * math.sin(turn), _SIZE / 2 - radius * math.cos(turn)


def _point(radius: float, turn: float) -> str:
    x, y = _place(radius, turn)
    return f"{x:.1f} {y:.1f}"


def _arrow_head(radius: float, turn: float) -> str:
    tip, wing = turn + 0.22, turn - 0.02
    points = (_point(radius, tip), _point(radius + 5, wing), _point(radius - 5, wing))
    return f'<path d="M{points[0]}L{points[1]}L{points[2]}Z" fill="#1a1a1a"/>'


def _label(wording: Wording, caption: str) -> str:
    return _escaped(str(wording["measuring"][caption]))


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
