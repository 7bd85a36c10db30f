"""Small stores that a beginner has: one shaft, a dozen of which nobody was asked, one pattern without prices."""

from __future__ import annotations

from typing import Any, Final

SMALL_STORES: Final[dict[str, dict[str, Any]]] = {
    "one shaft": {"shafts": 1},
    "twelve shafts without follow-ups": {"shafts": 12, "without": ("follow_ups",)},
    "one pattern without costs": {"pattern": "D8", "without": ("costs",)},
}
"""By name, what of the demo they hold: as `tests.studies.support.small_demo.make_small_demo` takes it."""
