"""How worn the shafts are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Z95, Estimate, no_estimate
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.remark import Remark, refused, remark
from wearstats.analysis.wear.describe import WearDistribution, mean_as_read, wear_of
from wearstats.analysis.wear.profile import ShapeWithDepth, shape_with_depth
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.analysis.wear.size_shares import size_shares
from wearstats.analysis.widths.components import MAP_COMPONENTS
from wearstats.analysis.widths.data import PatternShape, WidthData
from wearstats.analysis.widths.fitted import WidthFit, mostly_assumed, shared_sd
from wearstats.analysis.widths.prediction import MapPrediction, predict_maps
from wearstats.analysis.widths.shaft_means import hollow_weights, mean_weights, read_alone, taper_weights
from wearstats.errors import AnalysisError
from wearstats.studies.inputs.large_fleet_widths import read_fleet_levels
from wearstats.studies.inputs.sample_limits import lowered
from wearstats.studies.inputs.width_fit import SAMPLE_SHAFTS, width_components, width_fit
from wearstats.studies.inputs.widths import WidthReadings
from wearstats.studies.snapshot import Snapshot, part
from wearstats.studies.wear.answer import LAW_SHAFTS, PatternWear, WearStudy
from wearstats.studies.wear.growth import GrowthStudy, study_growth
from wearstats.studies.wear.remarks import WearStudyRemark

SHAPE_SHAFTS = 4_000
"""Of a large fleet, so many shafts of the sample show how hollows and tapers go with wear. May be lowered, as may
the others: `sample_limits`."""


_ENOUGH_SHAFTS = 10
"""With fewer it is said which spreads rest on assumptions."""

_FOR_CONTRACT = {
    "shaft": "shaft",
    "spline": "spline",
    "shaft_station": "shaft_station",
    "cell": "cell",
    "measurer": "measurer_home",
    "inspection": "inspection_home",
}


@part("known_on", "models_from", "pattern", "seed", kept=True)
def study_wear(snapshot: Snapshot, *, short: bool = False) -> WearStudy:
    """Answer how worn the shafts are.

    Parameters
    ----------
    short : bool
        Whether only what the short answer says is asked for: not the components' intervals, nor regions and duties.

    Returns
    -------
    WearStudy
        Of one pattern: the parts of a reading are learnt from all patterns, wear is that of the pattern's shafts.

    Raises
    ------
    AnalysisError
        With no reading.
    """
    fitted = width_fit(snapshot) if short else width_components(snapshot)
    readings, fit = fitted.readings.of_pattern(snapshot.pattern), fitted.fit
    if fitted.sampled_shafts is None:
        first = _first_units(readings)
        fleet, counts = _fleet(readings, fit, first)
    else:
        levels = read_fleet_levels(snapshot, fit, readings.shapes)
        fleet, counts = levels.rows, levels.readings
        first = _first_units(readings.some(lowered(SHAPE_SHAFTS, part_of=SAMPLE_SHAFTS)))
    common = shared_sd(fit) if fitted.readings.inspections["class"].eq("home").any() else 0.0
    describe = partial(_describe, common_se_um=common, draws=snapshot.draws.within("wear"))
    sizes = _sizes(snapshot, readings)
    by_pattern = {}
    for name, shape in readings.shapes.items():
        rows = fleet[fleet["pattern"] == name]
        wear = describe(rows, unworn=False) if len(rows) else None
        hollow, taper = (
            _shape_with_depth(fit, first, {name: weights(shape)}, rows) for weights in (hollow_weights, taper_weights)
        )
        by_pattern[name] = PatternWear(
            shafts=len(rows),
            readings=counts[name],
            wear=wear,
            station_um=_station_wear(fit, shape),
            hollow=hollow,
            taper=taper,
            shares=_shares(fit, shape, wear, sizes, common_se_um=common, draws=snapshot.draws),
        )
    kinds = {str(kind) for kind in fitted.readings.inspections["class"]}
    pooled = describe(fleet)
    growing, growth = _growth(snapshot)
    return WearStudy(
        as_of=snapshot.known_on,
        shafts=len(fleet),
        readings=sum(counts.values()),
        from_shafts=fitted.sampled_shafts,
        components_um=contract_components(fit),
        assumed=assumed_spreads(fit, kinds=kinds),
        wear_mean_um=pooled.mean_um,
        unworn_share=pooled.unworn_share,
        quantiles_um=pooled.quantiles_um,
        growth=growth,
        growing=growing,
        by_pattern=by_pattern,
        by_region={} if short else _described(fleet, "region", describe),
        by_duty={} if short else _described(fleet, "duty", describe),
        fleet=fleet,
        sizes=sizes,
    )


def _fleet(readings: WidthReadings, fit: WidthFit, first: WidthData) -> tuple[pd.DataFrame, dict[str, int]]:
    """Give one row a shaft, and the readings by pattern."""
    maps = predict_maps(fit, first)
    told = readings.inspections.drop_duplicates("shaft").set_index("shaft")[["region", "duty"]]
    fleet = pd.concat([_fleet_rows(prediction, first) for prediction in maps], ignore_index=True)
    alone = {name: mean_weights(shape) for name, shape in readings.shapes.items()}
    read = read_alone(fit, first, alone, shared=False).set_index("shaft")
    fleet = fleet.assign(
        read_um_below_new=-read["value_um"].reindex(fleet["shaft"]).to_numpy(),
        read_sd_um=read["sd_um"].reindex(fleet["shaft"]).to_numpy(),
    ).join(told, on="shaft")
    fleet = fleet.sort_values(["pattern", "shaft"], kind="stable").reset_index(drop=True)
    counts = readings.moments.merge(readings.inspections[["inspection", "pattern"]], on="inspection")
    return fleet, {name: int(counts.loc[counts["pattern"] == name, "n"].sum()) for name in readings.shapes}


def _described(fleet: pd.DataFrame, by: str, describe: Callable[..., WearDistribution]) -> dict[str, WearDistribution]:
    """Describe the wear of every group of two shafts or more."""
    groups = fleet.groupby(by, observed=True)
    return {str(name): describe(rows, unworn=False) for name, rows in groups if len(rows) > 1}


def _growth(snapshot: Snapshot) -> tuple[GrowthStudy | None, Estimate]:
    """Ask for growth, which may have no answer where wear has one."""
    try:
        study = study_growth(snapshot, each_pattern=False)
    except AnalysisError as error:
        return None, no_estimate(refused(error))
    return study, study.growth


def _describe(rows: pd.DataFrame, *, common_se_um: float, draws: NamedDraws, unworn: bool = True) -> WearDistribution:
    """Describe the wear of some shafts by those whose readings tell their mean; where none do, by their predictions."""
    told = rows["read_sd_um"].notna()
    columns = ("read_um_below_new", "read_sd_um")
    if not told.any():
        told, columns = ~told, ("width_um_below_new", "sd_um")
    numbers = [rows.loc[told, name].to_numpy(dtype=float) for name in columns]
    of_all, most = numbers[0], lowered(LAW_SHAFTS)
    if of_all.size > most:
        chosen = draws.some("shafts for the law", rows.loc[told, "shaft"], most)
        numbers = [each[chosen] for each in numbers]
    wear = wear_of(numbers[0], numbers[1], common_se_um=common_se_um, unworn=unworn)
    if of_all.size > most:
        wear = replace(wear, shafts=of_all.size, mean_um=mean_as_read(of_all, common_se_um))
    return wear


def _shape_with_depth(
    fit: WidthFit, data: WidthData, weights: dict[str, np.ndarray[Any, np.dtype[np.float64]]], rows: pd.DataFrame
) -> ShapeWithDepth:
    """Follow a hollow or taper over the wear of a pattern's shafts."""
    pattern = next(iter(weights))
    part = replace(data, blocks=tuple(block for block in data.blocks if block.shape.pattern == pattern))
    shape = read_alone(fit, part, weights, along_spline=True).set_index("shaft")
    shape = shape[["value_um", "sd_um"]].rename(columns={"value_um": "shape_um", "sd_um": "shape_sd_um"})
    both = rows.set_index("shaft").join(shape, how="inner").dropna(subset=["read_sd_um", "shape_sd_um"])
    columns = ("shape_um", "shape_sd_um", "read_um_below_new", "read_sd_um")
    return shape_with_depth(*(both[name].to_numpy(dtype=float) for name in columns))


def _shares(
    fit: WidthFit,
    shape: PatternShape,
    wear: WearDistribution | None,
    sizes: pd.DataFrame,
    *,
    common_se_um: float,
    draws: NamedDraws,
) -> pd.DataFrame:
    """Work out the share that each size on offer (each known one, where none is) would serve."""
    mine = sizes[sizes["pattern"] == shape.pattern]
    mine = mine[mine["offered"]] if mine["offered"].any() else mine
    stations = [fit.mean_of(f"station:{shape.pattern}:{station}") for station in shape.stations]
    if wear is None or wear.mixture is None or mine.empty or None in stations:
        return pd.DataFrame({"undersize_um": pd.Series(dtype=float), "share": pd.Series(dtype=object)})
    return size_shares(
        wear.mixture.law,
        shape,
        fit.variances,
        np.array([station[0] for station in stations if station is not None]),
        mine["undersize_um"].astype(float).tolist(),
        -mine["space_um_below_new"].to_numpy(dtype=float),
        common_se_um=common_se_um,
        rng=draws.generator("maps of a fleet"),
    )


def contract_components(fit: WidthFit) -> dict[str, Estimate]:
    """Name the components as the ``--json`` document does; those of other classes keep their own names beside them."""
    mostly = mostly_assumed(fit)
    told = {
        name: replace(value, status="bounded") if name in mostly and value.status == "ok" else value
        for name, value in fit.components_um.items()
    }
    named = {name: told[source] for name, source in _FOR_CONTRACT.items()}
    rest = {name: value for name, value in told.items() if name not in _FOR_CONTRACT.values()}
    return {**named, **rest}


def assumed_spreads(fit: WidthFit, *, kinds: set[str]) -> Remark | None:
    """Say which spreads of those kinds of measuring rest on assumptions, where there are fewer than ten shafts."""
    if fit.units >= _ENOUGH_SHAFTS:
        return None
    found = {
        name: value
        for name, value in mostly_assumed(fit).items()
        if name in MAP_COMPONENTS or name.rpartition("_")[2] in kinds
    }
    return remark(WearStudyRemark.SPREADS_ASSUMED, shafts=fit.units, **found) if found else None


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
                method=remark(WearRemark.STATION_MEAN),
            )
    return wear


def _sizes(snapshot: Snapshot, readings: WidthReadings) -> pd.DataFrame:
    sizes = snapshot.query("stock/sizes_known")
    sizes = sizes[sizes["pattern"].isin(readings.patterns)].reset_index(drop=True)
    spaces = [
        -readings.patterns[str(pattern)].space_um(float(undersize))
        for pattern, undersize in zip(sizes["pattern"], sizes["undersize_um"], strict=True)
    ]
    return sizes.assign(space_um_below_new=spaces, offered=sizes["offered"].astype(bool))[
        ["pattern", "undersize_um", "space_um_below_new", "offered"]
    ]
