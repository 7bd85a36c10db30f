"""What can be sent for a pattern: hubs on the shelf by number as gauged, sizes on offer, and specials on its grid."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.options import HubOption
from wearstats.analysis.gaps.posterior import HubSpace, hub_space
from wearstats.analysis.register.remarks import BoreRemark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import way_in
from wearstats.domain.pattern import Pattern
from wearstats.studies.register.of_shaft import Register
from wearstats.studies.snapshot import Snapshot, part

_MOST_SPECIALS = 6
_REACH_UM = 65.0


@part("known_on")
def spaces_on_offer(snapshot: Snapshot, pattern: Pattern) -> dict[float, HubSpace]:
    """Give the spaces of the sizes on offer, as their newest batch was gauged.

    Where the store does not say what is on offer, all sizes ever made, or the standard hub.
    """
    sizes = snapshot.query("stock/sizes_known")
    sizes = sizes[sizes["pattern"] == pattern.pattern]
    offered = sizes[sizes["offered"].astype(bool)]
    undersizes = (offered if len(offered) else sizes)["undersize_um"].tolist() or [0.0]
    batches = snapshot.query("shaft/newest_batches", pattern=pattern.pattern).astype(float)
    gauged = {um: (go, no_go) for um, go, no_go in batches.itertuples(index=False)}

    def between(um: float) -> tuple[float | None, float | None]:
        go, no_go = gauged.get(um, (np.nan, np.nan))
        if pd.isna(go) or pd.isna(no_go):
            return None, None
        return pattern.width_um(go), pattern.width_um(no_go)

    found = {}
    for um in map(float, undersizes):
        go, no_go = between(um)
        found[um] = hub_space(nominal_um=pattern.space_um(um), go_um=go, no_go_um=no_go)
    return found


def options_for(
    snapshot: Snapshot,
    pattern: Pattern,
    maps_um: FloatArray,
    *,
    limits: AdviceLimits,
    by_number: bool,
    register: Register | None,
) -> list[HubOption]:
    """List what can be sent to a shaft.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    pattern : Pattern
        The shaft's.
    maps_um : ndarray, shape (draws, splines, stations)
        What is known of it: specials are tried only where they could be right.
    limits : AdviceLimits
        The shop's settings.
    by_number : bool
        Whether hubs on the shelf are told by number: a number is offered to one shaft at a time.
    register : Register or None
        The shaft's: a hub whose bore is surely too wide for it is not offered.
    """
    offered = spaces_on_offer(snapshot, pattern)
    options = [HubOption(undersize_um=um, space=space) for um, space in offered.items()]
    if by_number:
        shelf = snapshot.query("shaft/shelf", pattern=pattern.pattern)
        if register is not None:
            bores = shelf["register_mm"].astype(object).where(shelf["register_mm"].notna(), None)
            goes = [register.over(bore)[0].code != BoreRemark.TOO_WIDE for bore in bores]
            shelf = shelf[np.array(goes, dtype=bool)]
        options += [
            HubOption(
                undersize_um=float(row["undersize_um"]),
                space=hub_space(
                    nominal_um=pattern.space_um(float(row["undersize_um"])),
                    gauged_um=pattern.width_um(float(row["space_width_mm"])),
                    gauged_u_um=None if pd.isna(row["space_u_um"]) else float(row["space_u_um"]),
                ),
                hub=str(row["hub"]),
            )
            for row in _apart(shelf).to_dict("records")
        ]
    return options + _specials(pattern, maps_um, offered, limits)


def _apart(shelf: pd.DataFrame) -> pd.DataFrame:
    """Keep one hub of every size and micrometre, the best gauged: those alike tell no more."""
    alike = shelf.assign(_um=(1000 * shelf["space_width_mm"]).round())
    ordered = alike.sort_values(["undersize_um", "_um", "space_u_um", "hub"])
    return ordered.drop_duplicates(["undersize_um", "_um"]).drop(columns="_um")


def _specials(
    pattern: Pattern, maps_um: FloatArray, offered: dict[float, HubSpace], limits: AdviceLimits
) -> list[HubOption]:
    """Try sizes on the grid that are not on offer, from the loosest that may grip to the deepest that may be filed."""
    grid = pattern.grid_um or 10.0
    # made for this shaft alone, so from where the widest place just holds it to a few trials tighter
    narrow = float(np.quantile(way_in(maps_um)[..., 0].max(axis=-1), 1 - limits.sure))
    loosest = pattern.space_um(0.0) - narrow - limits.play_um
    steps = grid * np.arange(np.ceil(max(loosest, 0.0) / grid), np.floor((loosest + _REACH_UM) / grid) + 1)
    wanted = [float(um) for um in steps if all(abs(um - other) >= grid / 2 for other in offered)]
    return [
        HubOption(undersize_um=um, space=hub_space(nominal_um=pattern.space_um(um)), special=True)
        for um in wanted[:: len(wanted) // _MOST_SPECIALS + 1]
    ]
