"""How worn the shafts are."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.wear import WearDistribution, describe_wear
from wearstats.analysis.width_data import PatternShape, WidthData
from wearstats.analysis.widths import Z95, MapPrediction, WidthFit, predict_maps
from wearstats.store.connection import Store
from wearstats.studies.fitted_widths import FittedWidths, fit_fleet
from wearstats.studies.width_readings import WidthReadings

_FOR_CONTRACT = {
    "shaft": "shaft",
    "spline": "spline",
    "shaft_station": "shaft_station",
    "cell": "cell",
    "measurer": "measurer_home",
    "inspection": "inspection_home",
}
_UNWORN = "the share of unworn shafts is not told apart from little wear in this version"
_GROWTH = "the growth of wear with running hours is not worked out in this version"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearStudy:
    """The answer.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    shafts, readings : int
        What it rests on.
    components_um : dict of str to Estimate
        Standard deviations of the parts of a reading.
    wear_mean_um : Estimate
        Mean wear of all shafts.
    unworn_share : Estimate
        Share of shafts as good as new.
    quantiles_um : dict of str to Estimate
        Quantiles of the shafts' true mean wear.
    growth : Estimate
        Wear per 1000 running hours, um.
    by_pattern : dict of str to dict
        The same by pattern, and the mean wear by station.
    fleet, sizes : DataFrame
        See `fleet_frame` and `sizes_frame`.
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
    fleet: pd.DataFrame
    sizes: pd.DataFrame

    def fleet_frame(self) -> pd.DataFrame:
        """One row a shaft: ``pattern``, ``shaft``, ``width_um_below_new`` (predicted), ``sd_um`` of its error."""
        return self.fleet

    def sizes_frame(self) -> pd.DataFrame:
        """One row a size: ``pattern``, ``undersize_um``, ``space_um_below_new``, ``offered``."""
        return self.sizes

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {
            "shafts": self.shafts,
            "readings": self.readings,
            "components_um": {name: estimate.to_dict() for name, estimate in self.components_um.items()},
            "wear_um": {
                "mean": self.wear_mean_um.to_dict(),
                "unworn_share": self.unworn_share.to_dict(),
                "quantiles": {key: estimate.to_dict() for key, estimate in self.quantiles_um.items()},
            },
            "growth_um_per_1000h": self.growth.to_dict(),
            "by_pattern": {name: pattern.to_dict() for name, pattern in self.by_pattern.items()},
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PatternWear:
    """The answer for one pattern; the distribution is None where it has a single shaft."""

    shafts: int
    readings: int
    wear: WearDistribution | None
    station_um: dict[str, Estimate]

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "shafts": self.shafts,
            "readings": self.readings,
            "wear_um": None if self.wear is None else self.wear.to_dict(),
            "station_um": {station: estimate.to_dict() for station, estimate in self.station_um.items()},
        }


def study_wear(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    rng: np.random.Generator,
    fitted: FittedWidths | None = None,
) -> WearStudy:
    """Answer how worn the shafts are.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    rng : Generator
        For the bootstrap.
    fitted : FittedWidths, optional
        The model, where it was fitted already.

    Returns
    -------
    WearStudy

    Raises
    ------
    AnalysisError
        With no reading, or only one shaft.
    """
    fitted = fitted or fit_fleet(store, as_of=as_of, pattern=pattern)
    readings, fit = fitted.readings, fitted.fit
    first = _first_units(readings)
    maps = predict_maps(fit, first)
    fleet = pd.concat([_fleet_rows(prediction, first) for prediction in maps], ignore_index=True)
    fleet = fleet.sort_values(["pattern", "shaft"], kind="stable").reset_index(drop=True)
    tie = fit.mean_of("class:home")
    common = 0.0 if tie is None else tie[1]

    def describe(rows: pd.DataFrame) -> WearDistribution:
        return describe_wear(
            rows["width_um_below_new"].to_numpy(dtype=float),
            rows["sd_um"].to_numpy(dtype=float) ** 2,
            common_se_um=common,
            rng=rng,
        )

    pooled = describe(fleet)
    read = readings.moments.merge(readings.inspections[["inspection", "pattern"]], on="inspection")
    by_pattern = {}
    for name, shape in readings.shapes.items():
        rows = fleet[fleet["pattern"] == name]
        by_pattern[name] = PatternWear(
            shafts=len(rows),
            readings=int(read.loc[read["pattern"] == name, "n"].sum()),
            wear=describe(rows) if len(rows) > 1 else None,
            station_um=_station_wear(fit, shape),
        )
    return WearStudy(
        as_of=as_of,
        shafts=len(fleet),
        readings=int(readings.moments["n"].sum()),
        components_um=contract_components(fit),
        wear_mean_um=pooled.mean_um,
        unworn_share=no_estimate(_UNWORN),
        quantiles_um=pooled.quantiles_um,
        growth=no_estimate(_GROWTH),
        by_pattern=by_pattern,
        fleet=fleet,
        sizes=_sizes(store, readings, as_of=as_of),
    )


def contract_components(fit: WidthFit) -> dict[str, Estimate]:
    """Name the components as the ``--json`` document does; those of other classes keep their own names beside them."""
    named = {name: fit.components_um[source] for name, source in _FOR_CONTRACT.items()}
    rest = {name: value for name, value in fit.components_um.items() if name not in _FOR_CONTRACT.values()}
    return {**named, **rest}


def _first_units(readings: WidthReadings) -> WidthData:
    """Stack each shaft's first unit: later ones are only of shafts whose hub came off."""
    read = readings.inspections[readings.inspections["inspection"].isin(readings.moments["inspection"].unique())]
    first = read.sort_values(["hubs_before", "measured_on"], kind="stable").drop_duplicates("shaft")
    return readings.reduce(read[read["unit"].isin(first["unit"])])


def _fleet_rows(prediction: MapPrediction, data: WidthData) -> pd.DataFrame:
    places = prediction.shape.places
    average = np.full(places, 1 / places)
    variance = np.einsum("i,uij,j->u", average, prediction.covariance_um2, average, optimize=True)
    return pd.DataFrame(
        {
            "pattern": prediction.shape.pattern,
            "shaft": data.units["shaft"].to_numpy(dtype=object)[prediction.unit],
            "width_um_below_new": -(prediction.mean_um @ average),
            "sd_um": np.sqrt(np.maximum(variance, 0.0)),
        }
    )


def _station_wear(fit: WidthFit, shape: PatternShape) -> dict[str, Estimate]:
    wear = {}
    for station in shape.stations:
        found = fit.mean_of(f"station:{shape.pattern}:{station}")
        if found is not None:
            value, se = found
            wear[station] = Estimate(
                value=-value,
                low=-value - Z95 * se,
                high=-value + Z95 * se,
                method="generalised least squares, of the most common duty before its first hub",
            )
    return wear


def _sizes(store: Store, readings: WidthReadings, *, as_of: datetime.date) -> pd.DataFrame:
    sizes = store.query("sizes_known", as_of=as_of)
    sizes = sizes[sizes["pattern"].isin(readings.patterns)].reset_index(drop=True)
    spaces = [
        -readings.patterns[str(pattern)].space_um(float(undersize))
        for pattern, undersize in zip(sizes["pattern"], sizes["undersize_um"], strict=True)
    ]
    return sizes.assign(space_um_below_new=spaces, offered=sizes["offered"].astype(bool))[
        ["pattern", "undersize_um", "space_um_below_new", "offered"]
    ]
