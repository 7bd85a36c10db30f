"""A small drawing of each kind of damage, in the colour of the text beside it: three splines seen from the side."""

from __future__ import annotations

from typing import Final

_FRAME: Final = 'fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round"'
_SOUND: Final = "M6 8H66V16H6ZM6 32H66V40H6Z"
# each shows the middle one of three splines, from the shoulder at the left to the nut end at the right
_MIDDLE: Final = {
    "sound": "M6 20H66V28H6Z",
    "bruised": "M6 20H28L31 17L36 24L41 17L44 20H66V28H6Z",
    "chipped": "M6 20H46L49 25L56 24L60 28H6Z",
    "cracked": "M6 20H66V28H6Z",
}
_CRACK: Final = "M30 3L35 10L29 17L37 24L31 31L38 38L33 45"
_TWISTED: Final = "".join(
    f"M6 {y}H24C42 {y} 46 {y + 9} 66 {y + 9}V{y + 15}C44 {y + 15} 40 {y + 7} 24 {y + 7}H6Z" for y in (4, 18, 32)
)


def damage_drawings() -> dict[str, str]:
    """Draw what each word for the state of splines means; the words beside them say the same."""
    shapes = {word: f'<path d="{_SOUND}{middle}" {_FRAME}/>' for word, middle in _MIDDLE.items()}
    shapes["cracked"] += f'<path d="{_CRACK}" {_FRAME} stroke-width="3"/>'.replace('stroke-width="2" ', "")
    shapes["twisted"] = f'<path d="{_TWISTED}" {_FRAME}/>'
    return {word: f'<svg viewBox="0 0 72 48" aria-hidden="true">{shape}</svg>' for word, shape in shapes.items()}
