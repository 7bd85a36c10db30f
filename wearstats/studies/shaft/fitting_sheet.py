"""What a fitting sheet tells: where a hub binds first on a shaft, and about how much has to come off it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.analysis.advice.remarks import NO_HUB
from wearstats.analysis.estimate import Z95, Estimate
from wearstats.analysis.remark import remark
from wearstats.domain.contact import filing, way_in
from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.widths import patterns_known
from wearstats.studies.shaft.answer import Advice
from wearstats.studies.shaft.remarks import ShaftRemark
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class BindingSpline:
    """What is expected of one spline.

    Parameters
    ----------
    spline : int
        Its number.
    order : int or None
        1 for the one that binds first; None where the hub passes it freely.
    station : str
        Its widest place; the one nearest to the nut end of several.
    off_um : Estimate
        What has to come off the hub's space there, both flanks together.
    """

    spline: int
    order: int | None
    station: str
    off_um: Estimate


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
    gauged : bool
        Whether the hub's spaces were gauged; else they are taken as meant.
    splines : tuple of BindingSpline
        From spline 1.
    mean_off_um : Estimate
        What has to come off a place on average.
    advice : Advice
        What was advised for the shaft.
    on_other : str or None
        Another shaft that the store has this hub on.
    """

    as_of: datetime.date
    shaft: str
    hub: str
    pattern: Pattern
    undersize_um: float
    gauged: bool
    splines: tuple[BindingSpline, ...]
    mean_off_um: Estimate
    advice: Advice
    on_other: str | None = None

    @property
    def as_advised(self) -> bool:
        """Whether this is the hub that was advised."""
        return self.advice.hub is not None and self.advice.hub.undersize_um == self.undersize_um


def study_fitting_sheet(snapshot: Snapshot, shaft: str, hub: str) -> FittingSheet:
    """Find where a hub binds first on a shaft.

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
    study = study_shaft(snapshot, shaft, wanted=True)
    if row["pattern"] != study.pattern:
        raise AnalysisError(
            f"hub {hub} is of pattern {row['pattern']} and shaft {shaft} of {study.pattern}",
            needed=f"a hub of {study.pattern}",
        )
    if study.advice.first in NO_HUB:
        # a sheet would lead somebody to fit it
        raise AnalysisError(
            f"no hub may be fitted to shaft {shaft} ({study.advice.because[0].code})",
            needed=f"what stands in the way put right first: wearstats shaft {shaft}",
        )
    pattern = patterns_known(snapshot)[study.pattern]
    undersize = float(row["undersize_um"])
    gauged = pd.notna(row["space_width_mm"])
    space = pattern.width_um(float(row["space_width_mm"])) if gauged else pattern.space_um(undersize)
    grid = study.map_frame().sort_values(["spline", "station_index"])
    width = -grid["width_um_below_new"].to_numpy(dtype=float).reshape(pattern.cells)
    spread = Z95 * grid["sd_um"].to_numpy(dtype=float).reshape(pattern.cells)
    off = [filing(width + shift, space) for shift in (0.0, -spread, spread)]
    widest = way_in(width)[:, 0]
    # several places may be the widest: the hub meets the one nearest to the nut end first
    places = pattern.cells[1] - 1 - np.argmax(width[:, ::-1], axis=1)
    order = (-widest).argsort(kind="stable").argsort(kind="stable") + 1
    splines = tuple(
        BindingSpline(
            spline=at + 1,
            order=int(order[at]) if widest[at] > space else None,
            station=pattern.stations[int(places[at])],
            off_um=_estimate(*(float(part[at].max()) for part in off)),
        )
        for at in range(pattern.splines)
    )
    return FittingSheet(
        as_of=as_of,
        shaft=shaft,
        hub=hub,
        pattern=pattern,
        undersize_um=undersize,
        gauged=bool(gauged),
        on_other=None if pd.isna(row["last_on"]) or row["last_on"] == shaft else str(row["last_on"]),
        splines=splines,
        mean_off_um=_estimate(*(float(part.mean()) for part in off)),
        advice=study.advice,
    )


def _estimate(value: float, low: float, high: float) -> Estimate:
    return Estimate(value=value, low=low, high=high, level=0.95, method=remark(ShaftRemark.MOVED_ALIKE))
