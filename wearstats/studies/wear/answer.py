"""The answer on wear, of all shafts and by pattern."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark
from wearstats.analysis.wear.describe import WearDistribution
from wearstats.analysis.wear.profile import ShapeWithDepth
from wearstats.domain.frames import columns
from wearstats.studies.inputs.sample_limits import lowered
from wearstats.studies.wear.growth import GrowthStudy
from wearstats.studies.wear.verdict import judge_wear

LAW_SHAFTS = 50_000
"""Of more shafts than that, the law of wear is fitted to so many taken at random, and the mean is that of all."""


_CURVE = ("shafts_per_um", "low", "high")
_POINTS = 100


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearStudy:
    """The answer.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    shafts, readings : int
        What it rests on.
    from_shafts : int or None
        Of a large fleet, how many shafts taken at random the components, the shape along the spline and the growth
        rest on; None where these rest on all of them. Mean wear is that of all shafts always.
    components_um : dict of str to Estimate
        Standard deviations of the parts of a reading; ``bounded`` where more of what predictions take for one is
        assumed than read.
    assumed : Remark or None
        Of fewer than ten shafts, which of these rest on assumptions, and what is assumed.
    wear_mean_um : Estimate
        Mean wear of all shafts.
    unworn_share : Estimate
        Share of shafts as good as new.
    quantiles_um : dict of str to Estimate
        Quantiles of the shafts' true mean wear.
    growth : Estimate
        Wear per 1000 running hours, um.
    growing : GrowthStudy or None
        All about growth; None where no shaft has hours.
    by_pattern : dict of str to PatternWear
        The same by pattern, and the wear along the spline.
    by_region, by_duty : dict of str to WearDistribution
        The same by region and by duty, where these are said of two shafts or more.
    fleet : DataFrame
        One row a shaft: ``pattern``, ``shaft``, ``region``, ``duty``, ``width_um_below_new`` (predicted), ``sd_um``
        (of the prediction's error); ``read_um_below_new``, ``read_sd_um``, as the shaft's own readings alone have it
        (NaN where they do not tell the mean).
    sizes : DataFrame
        One row a size: ``pattern``, ``undersize_um``, ``space_um_below_new``, ``offered``.
    """

    as_of: datetime.date
    shafts: int
    readings: int
    components_um: dict[str, Estimate]
    wear_mean_um: Estimate
    unworn_share: Estimate
    quantiles_um: dict[str, Estimate]
    growth: Estimate
    by_pattern: dict[str, PatternWear]
    by_region: dict[str, WearDistribution]
    by_duty: dict[str, WearDistribution]
    fleet: Annotated[
        pd.DataFrame,
        columns(text="pattern shaft region duty", number="width_um_below_new sd_um read_um_below_new read_sd_um"),
    ]
    sizes: Annotated[pd.DataFrame, columns(text="pattern", number="undersize_um space_um_below_new", flag="offered")]
    growing: GrowthStudy | None = None
    assumed: Remark | None = None
    from_shafts: int | None = None

    @property
    def verdict(self) -> Remark:
        """How worn the shafts are."""
        one_in_ten = self.quantiles_um.get("0.9", Estimate(value=None))
        return judge_wear(mean_um=self.wear_mean_um, one_in_ten_um=one_in_ten, shafts=self.shafts)

    def laws_frame(self) -> pd.DataFrame:
        """One row a pattern and width: ``pattern``, ``width_um_below_new``, ``shafts_per_um``, ``low``, ``high``."""
        parts = [pattern.law_frame(name) for name, pattern in self.by_pattern.items()]
        return pd.concat(parts, ignore_index=True)

    def shares_frame(self) -> pd.DataFrame:
        """One row a pattern and size: ``pattern``, ``undersize_um`` (NaN: none), ``share``, ``low``, ``high``."""
        parts = [pattern.shares_frame(name) for name, pattern in self.by_pattern.items()]
        return pd.concat(parts, ignore_index=True)

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {
            "shafts": self.shafts,
            "readings": self.readings,
            "verdict": self.verdict,
            "components_from_shafts": self.from_shafts or self.shafts,
            "law_from_shafts": min(self.shafts, lowered(LAW_SHAFTS)),
            "components_um": self.components_um,
            "wear_um": {
                "mean": self.wear_mean_um,
                "unworn_share": self.unworn_share,
                "quantiles": self.quantiles_um,
            },
            "growth_um_per_1000h": self.growth,
            "growth": self.growing,
            "by_pattern": self.by_pattern,
            "by_region": self.by_region,
            "by_duty": self.by_duty,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatternWear:
    """The answer for one pattern.

    Parameters
    ----------
    shafts, readings : int
        What it rests on.
    wear : WearDistribution or None
        How wear is spread; None for a single shaft.
    station_um : dict of str to Estimate
        Mean wear by station.
    hollow, taper : ShapeWithDepth
        How far the inner stations lie below the ends, and the nut end below the shoulder, and how that goes with wear.
    shares : DataFrame
        ``undersize_um`` and ``share`` (Estimate) of the shafts that each size would serve; empty without a law.
    """

    shafts: int
    readings: int
    wear: WearDistribution | None
    station_um: dict[str, Estimate]
    hollow: ShapeWithDepth
    taper: ShapeWithDepth
    shares: Annotated[pd.DataFrame, columns(number="undersize_um", any="share")]

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "shafts": self.shafts,
            "readings": self.readings,
            "wear_um": self.wear,
            "station_um": self.station_um,
            "hollow": self.hollow,
            "taper": self.taper,
            "served": self.shares,
        }

    def law_frame(self, pattern: str) -> pd.DataFrame:
        """Give the averaged families as a curve with its 95 % band; empty where there is none, or none fits."""
        smooth = None if self.wear is None or self.wear.mixture is None else self.wear.mixture.smooth
        if smooth is None:
            return pd.DataFrame({name: [] for name in ("pattern", "width_um_below_new", *_CURVE)})
        ends = smooth.quantile(0.002), smooth.quantile(0.998)
        at = np.linspace(*ends, _POINTS)
        curve = smooth.density_band(at, window_um=2 * (ends[1] - ends[0]) / _POINTS)
        told = {name: self.shafts * values for name, values in zip(_CURVE, curve, strict=True)}
        return pd.DataFrame({"pattern": pattern, "width_um_below_new": at, **told})

    def shares_frame(self, pattern: str) -> pd.DataFrame:
        """Give the shares as numbers."""
        ends = {"share": "value", "low": "low", "high": "high"}
        numbers = {name: [getattr(share, end) for share in self.shares["share"]] for name, end in ends.items()}
        return self.shares.assign(**numbers, pattern=pattern)
