"""What is remarked of wear."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.wear.remarks import WearRemark

_TELLING = "the widths of some shafts known to be new would tell"

WEAR: Final[Mapping[str, str | Callable[..., str]]] = {
    WearRemark.UNWORN_NOT_ASKED: "the unworn share was not asked for",
    WearRemark.UNWORN_NOT_NEW: (
        "what the readings show apart from the worn shafts lies too far from the nominal width, or spreads too much, "
        f"to be new shafts; {_TELLING}"
    ),
    WearRemark.UNWORN_NO_FAMILY: (
        "no family of wear fits these shafts (gamma, Weibull and lognormal were tried), and how many are unworn hangs "
        f"on what little wear looks like; {_TELLING}"
    ),
    WearRemark.UNWORN_NOT_TOLD: (
        "unworn shafts cannot be told from little worn ones: anything from {low_percent:.0f} to {high_percent:.0f} in "
        f"100 would fit; {_TELLING}"
    ),
    WearRemark.UNWORN_WEIGHT: "weight of the unworn in the mixture; profile likelihood over {families} wear",
}
