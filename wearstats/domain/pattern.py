"""A spline pattern: what a shaft and its standard hub measure when new, and the one zero that widths are counted from.

Within the program a width or a space is a difference from the *new* spline width of its pattern, in micrometres: a new
spline is 0, a worn one negative, a hub's space is positive where it is wider than a new spline.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from wearstats.domain.tables import STATIONS
from wearstats.domain.units import mm_to_um, um_to_mm
from wearstats.errors import InputError, Problem

STATION_SHARE = 1 / 8
STATION_NEAREST_MM, STATION_FARTHEST_MM = 3.0, 6.0
"""How far in from its ends a spline is measured: an eighth of the engaged length, but so far that the flat of a
micrometer (6.35 to 6.5 mm wide, common practice) bears on the flank with all of its width, and no farther."""

_Number = TypeVar("_Number", float, NDArray[np.float64])


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Straight-sided splines of one kind.

    Parameters
    ----------
    pattern : str
        Its name.
    splines : int
        Number of splines.
    width_mm : float
        Width of a new spline.
    space_width_mm : float
        Width of the standard hub's spaces.
    minor_mm, major_mm : float
        Minor and major diameter.
    engaged_mm : float
        Length over which hub and shaft engage.
    register_mm : float, optional
        Diameter of the round register, where there is one.
    stations : tuple of str
        Places along the spline at which it is measured, from the shoulder to the nut end.
    pull_on_mm : float, optional
        Last stretch over which a hub is pulled on.
    grid_um : float, optional
        Step in which undersizes can be made.
    lead_days : int, optional
        Days from ordering a batch to having it.
    batch_size : int, optional
        Hubs made at a time.
    deepest_um : float, optional
        How deep a hub's spaces may be filed at one place.

    Raises
    ------
    InputError
        Where the sizes contradict each other; every contradiction is named.
    """

    pattern: str
    splines: int
    width_mm: float
    space_width_mm: float
    minor_mm: float
    major_mm: float
    engaged_mm: float
    register_mm: float | None = None
    stations: tuple[str, ...] = STATIONS
    pull_on_mm: float | None = None
    grid_um: float | None = None
    lead_days: int | None = None
    batch_size: int | None = None
    deepest_um: float | None = None

    def __post_init__(self) -> None:
        """Refuse sizes that cannot belong to one shaft."""
        problems = []

        def refuse(column: str, found: str, allowed: str) -> None:
            problems.append(Problem(place=f"pattern {self.pattern}, {column}", found=found, allowed=allowed))

        if self.splines < 3:
            refuse("splines", f"{self.splines}", "3 or more")
        for column in ("width_mm", "space_width_mm", "minor_mm", "engaged_mm"):
            size = getattr(self, column)
            if not (math.isfinite(size) and size > 0):
                refuse(column, f"{size}", "a size over 0")
        if not self.major_mm > self.minor_mm:
            refuse("major_mm", f"{self.major_mm}", f"more than the minor diameter {self.minor_mm}")
        if self.splines * self.width_mm >= math.pi * self.minor_mm:
            refuse(
                "width_mm",
                f"{self.splines} splines of {self.width_mm} mm leave no spaces on a minor diameter of {self.minor_mm}",
                f"less than {math.pi * self.minor_mm / self.splines:.3f}",
            )
        if not self.stations or len(set(self.stations)) != len(self.stations):
            refuse("stations", f"'{';'.join(self.stations)}'", "one or more different names")
        if problems:
            raise InputError(problems)

    @property
    def flank_height_mm(self) -> float:
        """Height of a flank, h = (D - d) / 2, in millimetres."""
        return (self.major_mm - self.minor_mm) / 2

    @property
    def mean_radius_mm(self) -> float:
        """Mean radius of the flanks, r_m = (D + d) / 4, in millimetres."""
        return (self.major_mm + self.minor_mm) / 4

    @property
    def flanks(self) -> int:
        """Number of flanks, two a spline: one drives, one coasts."""
        return 2 * self.splines

    @property
    def faces(self) -> int:
        """Number of faces to consider: two flanks, a major and a minor face a spline (common practice, no source)."""
        return 4 * self.splines

    @property
    def flank_area_mm2(self) -> float:
        """Nominal area of one flank, h L, in square millimetres."""
        return self.flank_height_mm * self.engaged_mm

    @property
    def flank_area_all_mm2(self) -> float:
        """Nominal area of all flanks, both sides of every spline, in square millimetres."""
        return self.flanks * self.flank_area_mm2

    @property
    def new_clearance_um(self) -> float:
        """Clearance of the standard hub on a new shaft, both flanks together, in micrometres."""
        return self.space_um(0.0)

    @property
    def station_mm(self) -> tuple[float, ...]:
        """Distance of each station from the shoulder, in millimetres, to the half.

        The first and the last an eighth of the engaged length in from its ends, at least 3 and at most 6 mm but never
        over a quarter; the others evenly between; a single one in the middle.
        """
        long = self.engaged_mm
        inset = min(min(max(STATION_SHARE * long, STATION_NEAREST_MM), STATION_FARTHEST_MM), long / 4)
        places = [long / 2] if len(self.stations) == 1 else np.linspace(inset, long - inset, len(self.stations))
        return tuple(round(2 * float(place)) / 2 for place in places)

    @property
    def cells(self) -> tuple[int, int]:
        """Shape of a map of the shaft: splines, stations."""
        return (self.splines, len(self.stations))

    def space_um(self, undersize_um: _Number) -> _Number:
        """Give the space width of a hub, in micrometres from the new spline width.

        Parameters
        ----------
        undersize_um : float or ndarray, any shape
            How much narrower the spaces are than the standard hub's; positive is tighter.

        Returns
        -------
        float or ndarray, same shape
            ``space_width_mm - width_mm - undersize``, in micrometres; negative where narrower than a new spline.
        """
        # cut at a picometre, so that 5.9 mm less 6.0 mm is -100 um and not -99.99999999999964
        return round(mm_to_um(self.space_width_mm - self.width_mm), 6) - undersize_um

    def undersize_um(self, space_um: _Number) -> _Number:
        """Give the undersize whose spaces have the width `space_um` from the new spline width; undoes `space_um`."""
        return round(mm_to_um(self.space_width_mm - self.width_mm), 6) - space_um

    def width_um(self, width_mm: _Number) -> _Number:
        """Give a measured width in micrometres from the new width; a worn spline comes out negative."""
        return mm_to_um(width_mm - self.width_mm)

    def width_mm_of(self, width_um: _Number) -> _Number:
        """Give the full width in millimetres of a width counted from new; undoes `width_um`."""
        return um_to_mm(width_um) + self.width_mm
