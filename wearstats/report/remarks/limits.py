"""The sentences of standard fits."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.report.words.phrases import millimetres, two_figures
from wearstats.studies.limits.remarks import LimitsRemark, LimitsVerdict


def _may_rattle(loosest_um: float | None, worn_um: float | None) -> str:
    if loosest_um is None:
        return "no standard fit is on hand for this width"
    told = f"within limits alone a hub may have {millimetres(loosest_um)} mm of play on a new shaft"
    return told if worn_um is None else f"{told}, {millimetres(loosest_um + worn_um)} on a worn one"


LIMITS: Final[Mapping[str, str | Callable[..., str]]] = {
    LimitsVerdict.MAY_RATTLE: _may_rattle,
    LimitsVerdict.HOLDS: lambda tightest_um: (
        f"the tightest standard fit holds with at least {two_figures(tightest_um)} µm of interference"
    ),
    LimitsRemark.ISO_14: "its sizes are those of ISO 14:1982, {designation}; limits by ISO 286",
    LimitsRemark.BY_WIDTH: (
        "its sizes are not in ISO 14; the same classes of ISO 286 are taken for its width of {width_mm:g} mm"
    ),
    LimitsRemark.TOO_WIDE: "a width of {width_mm:g} mm is beyond the tables on hand, which end at {most_mm:g} mm",
}
