"""Fleets for the study of policies: uneven wear, a hazard that levels off, and what readings tell who knows all that.

Readings, hubs and histories are those of `tests.simulation.loosening_fleet`; maps and hazard are others than any that
the package fits. Lengths are in um from the new spline width.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from scipy import stats

from tests.simulation.loosening_fleet import (
    OWNER_MEAN,
    OWNER_OCCASION_SD,
    OWNER_REPEATABILITY,
    OWNER_SD,
    SPLINES,
    STATIONS,
    STEP_SHARES,
    STEPS_UM,
    WEAR_MEAN,
    WEAR_SHAPE,
    LooseningFleet,
    _read,
)
from wearstats.domain.arrays import FloatArray

PLACES = SPLINES * STATIONS
PROFILE = np.array([1.02, 1.10, 0.88])  # shoulder, middle, nut end: share of the mean wear
NEW_SD, NEW_SPLINE_SD, NEW_CELL_SD = 3.0, 2.0, 2.0
SPLINE_SHARE, STATION_SHARE, CELL_SHARE = 0.10, 0.10, 0.06  # unevenness grows with the wear
WEAR_NODES = 80


@dataclass(frozen=True, kw_only=True)
class UnevenFleet(LooseningFleet):
    """A fleet of uneven shafts; cumulative hazards are those of a year."""

    tight: float
    loose: float
    turn_um: float = 22.0
    turn_width_um: float = 6.0

    def chance(self, gap_um: FloatArray) -> FloatArray:
        """Chance of having worked loose within a year."""
        return np.asarray(-np.expm1(-self._hazard(gap_um)))

    def _hazard(self, gap_um: FloatArray) -> FloatArray:
        rise = 1 / (1 + np.exp(-(gap_um - self.turn_um) / self.turn_width_um))
        return np.asarray(self.tight + (self.loose - self.tight) * rise)

    def _times(self, gap_um: FloatArray, rng: np.random.Generator) -> FloatArray:
        return np.asarray(12.0 * (rng.standard_exponential(gap_um.size) / self._hazard(gap_um)) ** (1 / self.shape))

    def _widths(self, rng: np.random.Generator) -> FloatArray:
        return draw_uneven(rng.gamma(WEAR_SHAPE, WEAR_MEAN / WEAR_SHAPE, self.shafts), rng)


def draw_uneven(wear_um: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Draw true maps of shafts so worn, shape (shafts, splines, stations)."""
    n, wear = wear_um.size, wear_um[:, None, None]
    return np.asarray(
        rng.normal(0, NEW_SD, (n, 1, 1))
        + rng.normal(0, NEW_SPLINE_SD, (n, SPLINES, 1))
        + rng.normal(0, NEW_CELL_SD, (n, SPLINES, STATIONS))
        - wear
        * (
            PROFILE
            + rng.normal(0, SPLINE_SHARE, (n, SPLINES, 1))
            + rng.normal(0, STATION_SHARE, (n, 1, STATIONS))
            + rng.normal(0, CELL_SHARE, (n, SPLINES, STATIONS))
        )
    )


@dataclass(frozen=True, kw_only=True)
class NewShafts:
    """Shafts that want a hub, each read once at home."""

    true_um: FloatArray  # shape (shafts, splines, stations)
    shown_um: FloatArray  # NaN where not read
    step_um: FloatArray  # shape (shafts,)

    def frames(self) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Write the readings down: moments and inspections."""
        n = self.step_um.size
        name = np.array([f"new-{row:04d}" for row in range(n)], dtype=object)
        row, spline, station = np.nonzero(np.isfinite(self.shown_um))
        seen = {"inspection": name[row], "spline": spline + 1, "station": station, "n": 1, "within_um2": 0.0}
        heads = {"inspection": name, "unit": name, "shaft": name, "measurer": name, "class": "home"}
        same = {"pattern": "P", "group": "", "check_um": np.nan, "marked": True}
        moments = pd.DataFrame(seen | {"mean_um": self.shown_um[row, spline, station]})
        return moments, pd.DataFrame(heads | {"step_um": self.step_um} | same)


def new_shafts(count: int, rng: np.random.Generator) -> NewShafts:
    """Draw them by the fleet's own laws of wear and of reading."""
    true = draw_uneven(rng.gamma(WEAR_SHAPE, WEAR_MEAN / WEAR_SHAPE, count), rng)
    step = rng.choice(STEPS_UM, count, p=STEP_SHARES)
    owner = rng.normal(OWNER_MEAN, OWNER_SD, count)
    shown = _read(true, owner, OWNER_OCCASION_SD, OWNER_REPEATABILITY, step, LooseningFleet.missing, rng)
    return NewShafts(true_um=true, shown_um=shown, step_um=step)


class BestReader:
    """What a reading tells of a map to someone who knows how shafts wear and how owners read."""

    @cached_property
    def _wear(self) -> FloatArray:
        at = (np.arange(WEAR_NODES) + 0.5) / WEAR_NODES
        return np.asarray(stats.gamma.ppf(at, WEAR_SHAPE, scale=WEAR_MEAN / WEAR_SHAPE))

    @cached_property
    def _covariance(self) -> FloatArray:
        """Of the maps at each wear, shape (nodes, places, places)."""
        spline, station = np.divmod(np.arange(PLACES), STATIONS)
        same_spline = (spline[:, None] == spline).astype(float)
        same_station = (station[:, None] == station).astype(float)
        worn = self._wear[:, None, None] ** 2
        constant = NEW_SD**2 + NEW_SPLINE_SD**2 * same_spline + NEW_CELL_SD**2 * np.eye(PLACES)
        uneven = SPLINE_SHARE**2 * same_spline + STATION_SHARE**2 * same_station + CELL_SHARE**2 * np.eye(PLACES)
        return np.asarray(constant + worn * uneven)

    def draw(self, shown_um: FloatArray, step_um: float, *, draws: int, rng: np.random.Generator) -> FloatArray:
        """Draw maps given one home reading, shape (draws, splines, stations).

        Given the mean wear, all is normal (a gauge's step as so much more scatter), so the wear is weighed on a grid
        and the maps drawn from the prior are moved by the readings' regression.
        """
        value = shown_um.ravel()
        seen = np.flatnonzero(np.isfinite(value))
        bias, noise = np.hypot(OWNER_SD, OWNER_OCCASION_SD), np.sqrt(OWNER_REPEATABILITY**2 + step_um**2 / 12)
        of_readings = self._covariance[:, seen][:, :, seen] + bias**2 + noise**2 * np.eye(seen.size)
        expected = OWNER_MEAN - self._wear[:, None] * np.tile(PROFILE, SPLINES)[seen]
        root = np.linalg.cholesky(of_readings)
        scaled = np.linalg.solve(root, (value[seen] - expected)[..., None])[..., 0]
        fit = -0.5 * (scaled**2).sum(axis=1) - np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
        weight = np.exp(fit - fit.max())
        at = np.cumsum(weight) / weight.sum()
        node = np.searchsorted(at, (np.arange(draws) + rng.random()) / draws).clip(max=WEAR_NODES - 1)
        maps = draw_uneven(self._wear[node], rng).reshape(draws, PLACES)
        shift = rng.normal(OWNER_MEAN, bias, (draws, 1))
        off = value[seen] - (maps[:, seen] + shift + noise * rng.standard_normal((draws, seen.size)))
        for k in np.unique(node):
            gain = np.linalg.solve(of_readings[k], self._covariance[k][seen])
            maps[node == k] += off[node == k] @ gain
        return np.asarray(maps.reshape(draws, SPLINES, STATIONS))
