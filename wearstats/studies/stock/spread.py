"""How hubs of one nominal size come off the machine, and what gauging and sorting them would save."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from wearstats.analysis.gaps.posterior import ASSUMED_SPACE_SD_UM, GAUGED_SD_UM, HubSpace
from wearstats.analysis.gaps.spoiled import LEFT_OUT, judge_hubs
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.stock.sizes.choice import SizeChoice, SizePlan
from wearstats.analysis.stock.sizes.draws import shafts_anew
from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.analysis.stock.sizes.sorting import Sorting, cost_sorted, saved
from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.domain.pattern import Pattern
from wearstats.studies.snapshot import Snapshot

_FEWEST_HUBS = 5
_EVENLY = 12.0**0.5
"""Standard deviations in the width of an even distribution."""

_FINEST_UM, _COARSEST_UM = 2.5, 5.0
"""Steps to which gauged hubs are told apart."""
_ANEW = 200


class SpreadFrom(StrEnum):
    """What the spread is taken from."""

    PLUGS = "plug-gauges"
    HUBS = "gauged-hubs"
    GUESS = "guess"


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeSpread:
    """What comes off the machine of a nominal size.

    Parameters
    ----------
    off_um : float
        How much wider its spaces are on average than nominal.
    sd_um : float
        Standard deviation of a hub of a new batch about that.
    taken_from : SpreadFrom
    number : int
        Batches, or hubs, that it is taken from; 0 where it is a guess.
    gauged_sd_um : float
        Standard uncertainty of a hub that is gauged.
    """

    off_um: float
    sd_um: float
    taken_from: SpreadFrom
    number: int
    gauged_sd_um: float = GAUGED_SD_UM

    @property
    def width_um(self) -> float:
        """How far hubs of one size lie apart: the width of an even spread. Sizes closer than that are one size."""
        return _EVENLY * self.sd_um

    def space(self, nominal_um: float) -> HubSpace:
        """Tell what is known of the spaces of a hub that will be made."""
        return HubSpace(mean_um=nominal_um + self.off_um, sd_um=self.sd_um)

    def gauged(self, space_um: float) -> HubSpace:
        """Tell what is known of the spaces of a hub that was gauged."""
        return HubSpace(mean_um=space_um, sd_um=self.gauged_sd_um)

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form."""
        return {
            "off_um": self.off_um,
            "sd_um": self.sd_um,
            "width_um": self.width_um,
            "taken_from": self.taken_from,
            "number": self.number,
        }


def made_spread(snapshot: Snapshot, pattern: Pattern) -> MadeSpread:
    """Read how the hubs of a pattern spread: by its batches' plug gauges, else by gauged hubs, else a stated guess."""
    plugs = snapshot.query("stock/plug_gauges", pattern=pattern.pattern)
    hubs = snapshot.query("stock/gauged_hubs", pattern=pattern.pattern)
    said = hubs["space_u_um"].dropna().to_numpy(dtype=float)
    gauged = float(np.median(said)) if said.size else GAUGED_SD_UM
    if len(plugs):
        go, no_go = (pattern.width_um(plugs[name].to_numpy(dtype=float)) for name in ("go_mm", "no_go_mm"))
        return plug_spread(
            go, no_go, pattern.space_um(plugs["undersize_um"].to_numpy(dtype=float)), gauged_sd_um=gauged
        )
    if len(hubs) >= _FEWEST_HUBS:
        found = pattern.width_um(hubs["space_width_mm"].to_numpy(dtype=float))
        off = found - pattern.space_um(hubs["undersize_um"].to_numpy(dtype=float))
        off = off[judge_hubs(off, hubs["batch"].to_numpy(dtype=object)) <= LEFT_OUT]
        return MadeSpread(
            off_um=float(off.mean()),
            sd_um=float(off.std(ddof=1)),
            taken_from=SpreadFrom.HUBS,
            number=off.size,
            gauged_sd_um=gauged,
        )
    return MadeSpread(off_um=0.0, sd_um=ASSUMED_SPACE_SD_UM, taken_from=SpreadFrom.GUESS, number=0, gauged_sd_um=gauged)


def plug_spread(go_um: FloatArray, no_go_um: FloatArray, nominal_um: FloatArray, *, gauged_sd_um: float) -> MadeSpread:
    """Take the spread from plug gauges: even between the two of a batch, and batches lie differently about nominal.

    Parameters
    ----------
    go_um, no_go_um, nominal_um : ndarray, shape (batches,)
        Widths between which the spaces of each batch lie, and what they were to be, from the new spline width.
    gauged_sd_um : float
        Standard uncertainty of a hub that is gauged.
    """
    off = (go_um + no_go_um) / 2 - nominal_um
    between = float(off.var(ddof=1)) if off.size > 1 else 0.0
    within = float(np.mean((no_go_um - go_um) ** 2)) / 12.0
    return MadeSpread(
        off_um=float(off.mean()),
        sd_um=float(np.sqrt(within + between)),
        taken_from=SpreadFrom.PLUGS,
        number=off.size,
        gauged_sd_um=gauged_sd_um,
    )


def ladder(made_um: list[float], spread: MadeSpread) -> list[float]:
    """List the steps to which gauged hubs are told apart, over all that comes off the machine."""
    step = float(np.clip(spread.width_um / 2, _FINEST_UM, _COARSEST_UM))
    low = made_um[0] - spread.off_um - spread.width_um / 2
    steps = np.ceil((made_um[-1] - made_um[0] + spread.width_um) / step) + 1
    return [float(um) for um in low + step * np.arange(steps)]


def sort_out(
    choice: SizeChoice,
    made: PairCosts,
    gauged: PairCosts,
    spread: MadeSpread,
    shaft: IntArray,
    *,
    year: float,
    keeping: float,
    hubs: int,
    draws: NamedDraws,
) -> Sorting:
    """Work out what gauging every hub saves, with the chosen sizes and with fewer, and what a finer set saves."""
    number = len(choice.chosen.undersizes_um)

    def sorted_out(plan: SizePlan) -> FloatArray:
        sizes = [um - spread.off_um for um in plan.undersizes_um]
        # one name for all: sets differ by nothing but their sizes
        rng = draws.generator("hubs gauged and sorted")
        return cost_sorted(gauged, sizes, sd_um=spread.sd_um, hubs=hubs, rng=rng)

    plans = {len(plan.undersizes_um): plan for plan in choice.plans if len(plan.undersizes_um) < number}
    plans[number] = choice.chosen
    found = {size: sorted_out(plan) for size, plan in plans.items()}
    # what is lost on hubs used up stays as it is
    costs = {
        size: year * (float(each.mean()) + plans[size].used_up_a_shaft) + keeping * size for size, each in found.items()
    }
    unsorted = choice.chosen.cost_a_year.value or 0.0
    least = made.whole()[:, np.isin(made.undersizes_um, choice.chosen.undersizes_um)].min(axis=1)
    weight = shafts_anew(shaft, replicates=_ANEW, rng=draws.generator("shafts anew, sorted"))
    cheapest = min(choice.plans, key=lambda plan: plan.cost_a_year.value or 0.0)
    finer_saves = unsorted - (cheapest.cost_a_year.value or 0.0)
    return Sorting(
        cost_a_year=costs,
        saved_a_year=saved(least, found[number], weight, times=year),
        saved_a_hub=saved(least, found[number], weight),
        does_for=next((size for size, cost in sorted(costs.items()) if size < number and cost <= unsorted), None),
        finer=len(cheapest.undersizes_um) if finer_saves > 0 and len(cheapest.undersizes_um) > number else None,
        finer_saves=finer_saves,
    )
