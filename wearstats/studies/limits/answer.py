"""What tolerances give a hub of a pattern."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark
from wearstats.domain.tolerances.limits_fits import Fit


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardFit:
    """One standard fit of the spline's width.

    Parameters
    ----------
    meant : str
        ``fixed``, ``close``, ``sliding``, or ``fixed, hardened``.
    classes : str
        Of hub and shaft, as the standard writes them: ``H9/h10``.
    fit : Fit
        Its limits, micrometres.
    within_25 : tuple of float
        The share of new pairs with at most 25 um clearance: where parts are uniform within their limits, and where
        they are normal and centred with a tolerance of six standard deviations, 0 to 1.
    worn_um : tuple of float or None
        Least and largest clearance on a shaft worn as much as is usual on record, micrometres.
    """

    meant: str
    classes: str
    fit: Fit
    within_25: tuple[float, float]
    worn_um: tuple[float, float] | None

    def to_dict(self) -> dict[str, Any]:
        """Give what the ``--json`` document has."""
        return {
            "meant": self.meant,
            "classes": self.classes,
            "hub_um": [self.fit.hub.low_um, self.fit.hub.high_um],
            "shaft_um": [self.fit.shaft.low_um, self.fit.shaft.high_um],
            "clearance_um": [self.fit.low_um, self.fit.high_um],
            "within_25_um": dict(zip(("uniform", "normal"), self.within_25, strict=True)),
            "on_worn_shafts_um": self.worn_um,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternLimits:
    """What tolerances give a hub of one pattern.

    Parameters
    ----------
    pattern : str
        Its name.
    source : Remark
        Where the fits come from.
    width_mm : float
        Of a new spline.
    fits : tuple of StandardFit
        From the tightest on.
    centring : Fit or None
        Of the hub on the minor diameter, where the standard centres it there.
    worn_um : Estimate
        What shafts on record have lost on average.
    verdict : Remark
        `LimitsVerdict`.
    """

    pattern: str
    source: Remark
    width_mm: float
    fits: tuple[StandardFit, ...]
    centring: Fit | None
    worn_um: Estimate
    verdict: Remark

    def to_dict(self) -> dict[str, Any]:
        """Give what the ``--json`` document has."""
        centred = None if self.centring is None else [self.centring.low_um, self.centring.high_um]
        return {
            "verdict": self.verdict,
            "source": self.source,
            "width_mm": self.width_mm,
            "fits": self.fits,
            "centring_clearance_um": centred,
            "worn_um": self.worn_um,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsStudy:
    """What tolerances give hubs.

    Parameters
    ----------
    as_of : datetime.date
        The day.
    by_pattern : mapping
        Pattern to its limits.
    """

    as_of: datetime.date
    by_pattern: Mapping[str, PatternLimits]

    def to_dict(self) -> dict[str, Any]:
        """Give what the ``--json`` document has."""
        return {"by_pattern": self.by_pattern}

    def fits_frame(self) -> pd.DataFrame:
        """Give one row a pattern and fit: limits of clearance in micrometres, new and on worn shafts."""
        rows = [
            {
                "pattern": name,
                "meant": each.meant,
                "classes": each.classes,
                "clearance_low_um": each.fit.low_um,
                "clearance_high_um": each.fit.high_um,
                "worn_low_um": None if each.worn_um is None else each.worn_um[0],
                "worn_high_um": None if each.worn_um is None else each.worn_um[1],
            }
            for name, limits in self.by_pattern.items()
            for each in limits.fits
        ]
        return pd.DataFrame(rows)
