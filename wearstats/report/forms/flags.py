"""What a filled-in page finds odd or refuses: the limits that its script judges by."""

from __future__ import annotations

from typing import Final

SHARE: Final = 0.15
"""How far a size may lie from the new one before the store refuses it; a test holds it to the store's own."""
OVER_PINS_TIMES: Final = 3
OVER_PINS_MOST: Final = 20
"""Between so many times the new width a size can only be one over pins; a test holds them to the store's own."""
ABOVE_UM: Final = 50.0
"""How much wider than new a spline may be read before it is asked after, as the store's own check has it."""
CHECK_UM: Final = 30.0
"""How far off the check piece is asked after. Judgement: more than an owner's usual bias."""
TURN_UM: Final = {"mm": 500.0, "in": 635.0, "thou": 635.0, "tenth-thou": 635.0}
"""What one turn of a micrometer's thimble makes: 0.5 mm, or 0.025 in; common practice, no source."""
WORN_UM: Final = 20.0
"""How far below new the first reading is looked for, where first figures are filled in. Judgement."""

STRAY: Final = {
    "least": 4,
    "scatters": 5.0,
    "swap_scatters": 3.5,
    "swap_near": 1.5,
    "floor_um": 5.0,
    "early": 8.0,
}
"""When a reading is odd among those of its sheet.

From `least` readings on, one that lies `scatters` scatters from the middle of its station; or `swap_scatters`, and two
neighbouring figures exchanged would bring it to within `swap_near` of that middle. A scatter is 1.4826 times the median
distance of all readings from their stations' middles (a normal distribution's standard deviation), and never less than
`floor_um` times 1 + `early` / readings, with the gauge's step over the root of twelve added in squares. Judgement,
tried on the invented sheets: tests/browser/forms/test_odd_readings.py.
"""
