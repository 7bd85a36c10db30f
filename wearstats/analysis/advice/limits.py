"""The shop's settings: what it demands of a hub before it is sent, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass, replace

from wearstats.domain.contact import PLAY_LIMIT_UM

WARN_FROM = 0.10
"""Chance to be loose already or within a quarter from which an owner is warned, in every answer."""

NEAR_LIMIT = 0.005
"""A chance that lies so near to the limit is called *at the limit*: no seed may move it over or under."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceLimits:
    """The shop's settings.

    Parameters
    ----------
    sure : float
        How sure a demand of safety must be met before a hub is sent.
    slide_um : float
        Interference up to which a hub goes on as it is supplied, tapped or pulled (judgement); beyond it the hub would
        have to be forced.
    play_um : float
        The shop's shake limit: most play a fitted hub may have.
    deepest_um : float
        Most filing at one place: beyond it a hub's splines grow thin (judgement; a pattern may carry its own).
    owner_filing_um, owner_filing_min : float
        Most filing, at one place and in minutes, that is left to an owner (judgement).
    unknown_gap_um : float
        Largest mean gap at any station that is sent where nothing is known of the chance of working loose (judgement:
        about what the shake limit allows).
    near : float
        See `NEAR_LIMIT`.
    warn_from : float
        See `WARN_FROM`.
    """

    sure: float = 0.9
    slide_um: float = 8.0
    play_um: float = PLAY_LIMIT_UM
    deepest_um: float = 150.0
    owner_filing_um: float = 80.0
    owner_filing_min: float = 240.0
    unknown_gap_um: float = 25.0
    near: float = NEAR_LIMIT
    warn_from: float = WARN_FROM

    def with_deepest(self, deepest_um: float | None) -> AdviceLimits:
        """Take a pattern's own depth of filing, where it has one."""
        return self if deepest_um is None else replace(self, deepest_um=deepest_um)
