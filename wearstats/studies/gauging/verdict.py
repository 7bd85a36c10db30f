"""What to ask an owner to measure next: a function of what each way of measuring achieves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from wearstats.analysis.gauging.measurement_plan import PlanQuality
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.gauging.remarks import GaugingVerdict

SURELY: Final = 2.0
"""A way is better where it is by more than so many of its Monte Carlo standard errors."""

_CHANGED: Final[Mapping[GaugingVerdict, dict[str, Any]]] = {
    GaugingVerdict.READ_TWICE: {"trials": 2},
    GaugingVerdict.SAME_HAND: {"inspections": 2},
    GaugingVerdict.OTHER_HAND: {"inspections": 2, "same_measurer": False},
    GaugingVerdict.CHECK_PIECE: {"check_piece": True},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """What could be asked for beyond one whole inspection.

    Parameters
    ----------
    whole : PlanQuality
        All splines at all stations, once.
    rivals : mapping of GaugingVerdict to PlanQuality
        The same with something more, by what to ask for.
    few_with_piece : PlanQuality or None
        The fewest places that, with a check piece, surely do better than the whole without.
    """

    whole: PlanQuality
    rivals: Mapping[GaugingVerdict, PlanQuality]
    few_with_piece: PlanQuality | None


def ways_of(plans: tuple[PlanQuality, ...]) -> Ways:
    """Find the ways that are weighed among all plans."""
    plain = [quality for quality in plans if is_single(quality) and not quality.plan.check_piece]
    whole = max(plain, key=lambda quality: (quality.plan.splines, quality.plan.stations))
    found = {code: _changed(whole, plans, changed) for code, changed in _CHANGED.items()}
    bar = whole.right_size_probability + SURELY * whole.right_size_se
    few = [
        quality
        for quality in plans
        if is_single(quality)
        and quality.plan.check_piece
        and quality.plan.stations == whole.plan.stations
        and quality.plan.splines < whole.plan.splines
        and quality.right_size_probability >= bar
    ]
    return Ways(
        whole=whole,
        rivals={code: quality for code, quality in found.items() if quality is not None},
        few_with_piece=min(few, key=lambda quality: quality.plan.splines, default=None),
    )


def judge_ways(whole: float, rivals: Mapping[GaugingVerdict, tuple[float, float]], *, assumed: bool) -> Remark:
    """Say what to ask for.

    Parameters
    ----------
    whole : float
        Chance of the right size after one whole inspection, 0 to 1.
    rivals : mapping of GaugingVerdict to (float, float)
        Chance, and its standard error, with something more.
    assumed : bool
        Whether the errors that all rests on are assumed.

    Returns
    -------
    Remark
        `GaugingVerdict`.
    """
    if not rivals:
        return remark(GaugingVerdict.ENOUGH, right=whole, assumed=assumed)
    best = max(rivals, key=lambda code: rivals[code][0])
    chance, error = rivals[best]
    if chance - whole <= SURELY * error:
        return remark(GaugingVerdict.ENOUGH, right=whole, assumed=assumed)
    # a piece in the post is cheaper than a second person: it comes first where it does as well
    piece = rivals.get(GaugingVerdict.CHECK_PIECE)
    if piece is not None and piece[0] >= chance - SURELY * error and piece[0] - whole > SURELY * piece[1]:
        best, chance = GaugingVerdict.CHECK_PIECE, piece[0]
    return remark(best, right=chance, instead=whole, assumed=assumed)


def is_single(quality: PlanQuality) -> bool:
    """Whether it is one inspection that reads each place once."""
    return quality.plan.inspections == 1 and quality.plan.trials == 1


def _changed(whole: PlanQuality, plans: tuple[PlanQuality, ...], changed: dict[str, Any]) -> PlanQuality | None:
    wanted = replace(whole.plan, **changed)
    return next((quality for quality in plans if quality.plan == wanted), None)
