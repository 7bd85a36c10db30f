"""What a fitting sheet tells: where a hub jams on a shaft, what has to come off where, and when to stop."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import pandas as pd

from wearstats.analysis.advice.remarks import NO_HUB
from wearstats.analysis.estimate import Z95, Estimate
from wearstats.analysis.gaps.posterior import HubSpace, estimate_draws, fit_draws, hub_space
from wearstats.analysis.remark import Remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import filing, way_in
from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.widths import patterns_known
from wearstats.studies.shaft.answer import Advice, ShaftStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

ALIKE_UM = 3.0
"""Spaces of two hubs of one size that differ by less are filed alike (judgement: a stroke or two)."""

MARKS_QUANTILE = 0.1
"""Filing stops once as many sides mark as nine such hubs in ten would reach; more would be asking for luck."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BindingSpline:
    """What is expected of one spline.

    Parameters
    ----------
    spline : int
        Its number.
    rank : int or None
        1 for those off whose space most has to come, the same for all that are alike; None where the hub surely
        passes freely.
    off_um : tuple of Estimate
        What has to come off the hub's space at each place, both flanks together, from the shoulder end to the nut face.
    """

    spline: int
    rank: int | None
    off_um: tuple[Estimate, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittingSheet:
    """What a fitting sheet tells.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    shaft, hub : str
        Which.
    pattern : Pattern
        Of both.
    undersize_um : float
        The hub's.
    space_um : float
        The width of the hub's spaces, from the new spline.
    gauged : bool
        Whether they were gauged; else they are taken as meant.
    unit : {"mm", "in"}
        What the owner reads in, by the shaft's last inspection.
    splines : tuple of BindingSpline
        From spline 1.
    jams_at : str or None
        The station of the shaft at which the hub is first held, on its way from the nut end; None where nowhere.
    jams_on : tuple of int
        The splines that hold it there, the widest first; those that are alike with it.
    doubt_um : float
        Smaller differences between two splines are alike (95 %).
    mean_off_um : Estimate
        What has to come off a place on average.
    marks : int
        So many sides at least have to mark before it is pulled home.
    advice : Advice
        What was advised for the shaft.
    as_advised : bool
        Whether this is the hub that was advised, or one of its size whose spaces are alike.
    on_other : str or None
        Another shaft that the store has this hub on.
    bore : tuple of Remark
        What to do with its bore before it goes on, and what to beware of; none where no register was read.
    """

    as_of: datetime.date
    shaft: str
    hub: str
    pattern: Pattern
    undersize_um: float
    space_um: float
    gauged: bool
    unit: Literal["mm", "in"]
    splines: tuple[BindingSpline, ...]
    jams_at: str | None
    jams_on: tuple[int, ...]
    doubt_um: float
    mean_off_um: Estimate
    marks: int
    advice: Advice
    as_advised: bool
    on_other: str | None = None
    bore: tuple[Remark, ...] = ()

    @property
    def no_work(self) -> bool:
        """Whether nothing may be fitted, so that no step of work belongs on the sheet."""
        return self.advice.first in NO_HUB


def study_fitting_sheet(snapshot: Snapshot, shaft: str, hub: str) -> FittingSheet:
    """Find where a hub jams on a shaft, what has to come off, and how many sides have to mark.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    shaft, hub : str
        Their names.

    Returns
    -------
    FittingSheet

    Raises
    ------
    AnalysisError
        When hub or shaft is unknown, the shaft has no reading, they are of different patterns, or no hub may be fitted.
    """
    as_of = snapshot.known_on
    found = snapshot.query("forms/hubs", hub=hub).to_dict("records")
    if not found:
        raise AnalysisError(
            f"no hub {hub} was known on {as_of.isoformat()}",
            needed="its name as the store has it, or its row of hubs, added with: wearstats store add",
        )
    row = found[0]
    spoiled = snapshot.query("shaft/hub_spoiled", hub=hub).to_dict("records")
    if spoiled:
        why, day = spoiled[0]["reason"], spoiled[0]["returned_on"]
        raise AnalysisError(
            f"hub {hub} came back {why} on {day:%Y-%m-%d}: it may not go on again", needed="another hub"
        )
    study = study_shaft(snapshot, shaft, wanted=True)
    if row["pattern"] != study.pattern:
        raise AnalysisError(
            f"hub {hub} is of pattern {row['pattern']} and shaft {shaft} of {study.pattern}",
            needed=f"a hub of {study.pattern}",
        )
    assert study.maps_um is not None, "a shaft asked about by itself has its maps"
    pattern, maps = patterns_known(snapshot)[study.pattern], study.maps_um
    told = _space(row, pattern, shaft)
    # the same draws as where hubs were weighed, so that sheet and answer cannot differ by chance
    normal = snapshot.draws.generator("hub to be sent").standard_normal(len(maps))
    spaces = told.mean_um + told.sd_um * normal
    width, drawn = maps.mean(axis=0), filing(maps, spaces[:, None, None])
    off = filing(width, told.mean_um)
    doubt = doubt_between(way_in(maps)[..., 0])
    ranks = ranks_of(way_in(width)[:, 0] - told.mean_um, doubt)
    splines = tuple(
        BindingSpline(
            spline=at + 1,
            rank=ranks[at],
            off_um=tuple(_about(off[at, place], drawn[:, at, place]) for place in range(pattern.cells[1])),
        )
        for at in range(pattern.splines)
    )
    bore = None if pd.isna(row["register_mm"]) else float(row["register_mm"])
    station, held = _jam(width, told.mean_um, doubt)
    gripped = fit_draws(maps, spaces).gripped_share
    return FittingSheet(
        as_of=as_of,
        shaft=shaft,
        hub=hub,
        pattern=pattern,
        undersize_um=float(row["undersize_um"]),
        space_um=told.mean_um,
        gauged=told.status == "ok",
        unit="mm" if snapshot.query("forms/last_unit", shaft=shaft)["unit"].iloc[0] == "mm" else "in",
        on_other=None if pd.isna(row["last_on"]) or row["last_on"] == shaft else str(row["last_on"]),
        splines=splines,
        jams_at=None if station is None else pattern.stations[station],
        jams_on=held,
        doubt_um=doubt,
        mean_off_um=_about(float(off.mean()), drawn.mean(axis=(1, 2))),
        marks=marks_wanted(gripped, pattern.splines),
        advice=study.advice,
        as_advised=_as_advised(snapshot, study, row, told.mean_um),
        bore=() if study.register is None else study.register.over(bore),
    )


def doubt_between(depth_um: FloatArray) -> float:
    """Give the difference under which two splines are alike: 1.96 standard deviations of one, for the middle pair.

    Parameters
    ----------
    depth_um : ndarray, shape (draws, splines)
        Drawn depths; what is unsure of all splines together cancels.
    """
    together = np.cov(depth_um.T)
    variance = np.diag(together)
    between = variance[:, None] + variance[None, :] - 2 * together
    pairs = between[np.triu_indices(len(variance), 1)]
    return Z95 * float(np.sqrt(np.median(np.maximum(pairs, 0.0))))


def ranks_of(depth_um: FloatArray, doubt_um: float) -> list[int | None]:
    """Rank splines by depth, shape (splines,): within the doubt of the deepest of a rank is the same rank.

    So a spline that passes freely by the middle map alone has the rank of one that binds, if they are alike.
    """
    ranks: list[int | None] = [None] * len(depth_um)
    rank, top = 0, math.inf
    for at in np.argsort(-depth_um, kind="stable"):
        apart = top - depth_um[at] > doubt_um
        if depth_um[at] <= 0 and apart:
            break
        if apart:
            rank, top = rank + 1, float(depth_um[at])
        ranks[int(at)] = rank
    return ranks


def marks_wanted(gripped_share: FloatArray, splines: int) -> int:
    """Give how many sides have to mark: the tenth percentile of those expected, and at least half of them.

    Parameters
    ----------
    gripped_share : ndarray, shape (draws,)
        Drawn shares of splines that bind; both sides of one mark where both are eased alike.
    splines : int
        Of the pattern; it has twice as many sides.
    """
    expected = math.floor(2 * splines * float(np.quantile(gripped_share, MARKS_QUANTILE)) + 1e-9)
    return max(expected, splines)


def _space(row: dict[Any, Any], pattern: Pattern, shaft: str) -> HubSpace:
    nominal = pattern.space_um(float(row["undersize_um"]))
    changed = row["gauged_before"] and row["last_on"] != shaft
    if pd.isna(row["space_width_mm"]) or changed:
        return hub_space(nominal_um=nominal)
    spread = None if pd.isna(row["space_u_um"]) else float(row["space_u_um"])
    return hub_space(nominal_um=nominal, gauged_um=pattern.width_um(float(row["space_width_mm"])), gauged_u_um=spread)


def _as_advised(snapshot: Snapshot, study: ShaftStudy, row: dict[Any, Any], space_um: float) -> bool:
    """Whether a hub is the one advised, or one of its size that is alike; the latter is often sent already."""
    advised, pattern = study.advice.hub, patterns_known(snapshot)[study.pattern]
    if advised is None or advised.undersize_um != float(row["undersize_um"]):
        return False
    if advised.hub in (None, row["hub"]):
        return advised.hub is not None or abs(space_um - pattern.space_um(advised.undersize_um)) < ALIKE_UM
    other = snapshot.query("forms/hubs", hub=advised.hub).to_dict("records")[0]
    return abs(space_um - _space(other, pattern, study.shaft).mean_um) < ALIKE_UM


def _jam(width_um: FloatArray, space_um: float, doubt_um: float) -> tuple[int | None, tuple[int, ...]]:
    """Find the station at which the mouth is first held, coming from the nut end, and the splines that hold it."""
    for station in reversed(range(width_um.shape[1])):
        here = width_um[:, station]
        if here.max() > space_um:
            widest_first = np.argsort(-here, kind="stable")
            return station, tuple(int(at) + 1 for at in widest_first if here.max() - here[at] <= doubt_um)
    return None, ()


def _about(value: float, draws: FloatArray) -> Estimate:
    """Give what the middle map says, with the interval of the draws."""
    drawn = estimate_draws(draws)
    low, high = min(drawn.low or 0.0, value), max(drawn.high or 0.0, value)
    return Estimate(value=float(value), low=float(low), high=float(high), method=drawn.method)
