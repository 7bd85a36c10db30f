"""What each hub size would leave on a shaft, with the shop's settings and what else is known of the shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.gaps.posterior import FitDraws, HubSpace, fit_draws
from wearstats.analysis.gauging.agreement import Disagreement
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import PLAY_LIMIT_UM


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceLimits:
    """The shop's settings.

    Parameters
    ----------
    sure : float
        How sure a demand must be met before a hub is sent.
    gripped_share : float
        Share of splines that must grip; borrowed from taper practice, where 80 % contact is asked for
        (ANSI/AGMA 9003-B08), for want of a figure for straight flanks.
    hollow_um : float
        Mean gap at a station, left by any hub, beyond which none is sent; starts at the play limit of common practice.
    slide_um : float
        Filing up to which a hub may go on as it is supplied, tapped or pulled (judgement).
    play_um : float
        The shop's shake limit: nothing goes on as supplied where more play than this is not ruled out.
    owner_filing_um, owner_filing_min : float
        Most filing, at one place and in minutes, that is left to an owner (judgement).
    most_filing_um : float
        Most filing at one place that anybody does: beyond it the hub's splines grow thin (judgement).
    width_sd_um : float
        Doubt about the mean width beyond which it is measured again first (judgement: a quarter of a coarse size step).
    """

    sure: float = 0.9
    gripped_share: float = 0.8
    hollow_um: float = PLAY_LIMIT_UM
    slide_um: float = 8.0
    play_um: float = PLAY_LIMIT_UM
    owner_filing_um: float = 80.0
    owner_filing_min: float = 240.0
    most_filing_um: float = 150.0
    width_sd_um: float = 12.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeOption:
    """What one hub size would do on the shaft.

    Parameters
    ----------
    undersize_um : float
        Its undersize.
    space : HubSpace
        Its spaces.
    fit : FitDraws
        How it fits, shape (draws,) each.
    tight : float
        Probability that it grips the demanded share of the splines.
    """

    undersize_um: float
    space: HubSpace
    fit: FitDraws
    tight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What the advice rests on besides the map.

    Parameters
    ----------
    width_sd_um : float
        Standard deviation of what is known of the mean width.
    measured_share : float
        Share of the places that were read at least once.
    calipers_only : bool
        Whether only calipers were used.
    filing_min_per_um : float
        Minutes a micrometre of filing, summed over the places, takes.
    places : int
        Number of places of the shaft.
    disagreement : Disagreement or None
        The two inspections that differ most, where there are two.
    all_equal : tuple of str
        Inspections whose readings are all the same.
    inspections : int
        How many are in hand.
    """

    width_sd_um: float
    measured_share: float
    calipers_only: bool
    filing_min_per_um: float
    places: int
    disagreement: Disagreement | None = None
    all_equal: tuple[str, ...] = ()
    inspections: int = 1


def weigh_sizes(
    maps_um: FloatArray,
    spaces: dict[float, HubSpace],
    *,
    limits: AdviceLimits,
    rng: np.random.Generator,
) -> list[SizeOption]:
    """Work out what every size would leave, from the loosest to the tightest.

    Parameters
    ----------
    maps_um : ndarray, shape (draws, splines, stations)
        Drawn true maps of the shaft.
    spaces : dict of float to HubSpace
        Hubs by undersize, um.
    limits : AdviceLimits
        The settings.
    rng : Generator
        For the hubs' spaces; the same draws serve all sizes.

    Returns
    -------
    list of SizeOption
    """
    normal = rng.standard_normal(maps_um.shape[0])
    options = []
    for undersize in sorted(spaces):
        space = spaces[undersize]
        fit = fit_draws(maps_um, np.asarray(space.mean_um + space.sd_um * normal))
        tight = float(np.mean(fit.gripped_share >= limits.gripped_share - 1e-9))
        options.append(SizeOption(undersize_um=undersize, space=space, fit=fit, tight=tight))
    return options
