"""What to ask an owner to measure: how well each plan tells a width, and how often it leads to the right size.

The error of the best linear prediction does not depend on the readings, so standard uncertainties follow from the plan
alone; the chance of the right size is found by drawing shafts, reading them by the plan and choosing.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace

import numpy as np
import pandas as pd

from wearstats.analysis.wear.size_shares import gripping_width
from wearstats.analysis.widths.components import MAP_COMPONENTS, map_factor
from wearstats.analysis.widths.data import PatternShape, WidthBlock, WidthData, piece_variances
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.analysis.widths.shaft_means import hollow_weights
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import way_in


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementPlan:
    """What is asked for.

    Parameters
    ----------
    splines : int
        Splines measured, spread evenly round the shaft.
    stations : int
        Stations measured on each: 1 the middle, 2 the ends, else all.
    inspections : int
        How often all of it is done.
    same_measurer : bool
        Whether further inspections are by the same hand.
    check_piece : bool
        Whether a pin of known size is measured along with each.
    trials : int
        Readings of each place.
    """

    splines: int
    stations: int
    inspections: int = 1
    same_measurer: bool = True
    check_piece: bool = False
    trials: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanQuality:
    """What a plan achieves.

    Parameters
    ----------
    plan : MeasurementPlan
        Which.
    width_u_um : float
        Standard uncertainty of the shaft's mean width.
    widest_u_um, narrowest_u_um : float
        Of the widest place on the way in and the narrowest place (standard deviation of their prediction's error).
    hollow_u_um : float
        Of how far the inner stations lie below the ends, on average; 0 for a pattern of fewer than three stations.
    right_size_probability : float
        Chance that the size chosen is the one that the true widths ask for: the loosest of a ladder of sizes that still
        grips enough of the splines at their widest place.
    right_size_se : float
        Its Monte Carlo standard error.
    """

    plan: MeasurementPlan
    width_u_um: float
    widest_u_um: float
    narrowest_u_um: float
    hollow_u_um: float
    right_size_probability: float
    right_size_se: float

    def to_dict(self) -> dict[str, object]:
        """Give the part of the ``--json`` document."""
        told: dict[str, object] = asdict(self)
        del told["plan"]
        return asdict(self.plan) | told


def standard_plans(shape: PatternShape) -> list[MeasurementPlan]:
    """List the plans worth comparing for a pattern."""
    few, half, every = max(2, shape.splines // 4), max(3, shape.splines // 2), shape.splines
    all_stations = len(shape.stations)
    plans = [
        MeasurementPlan(splines=splines, stations=stations, check_piece=check_piece)
        for check_piece in (False, True)
        for splines in sorted({few, half, every})
        for stations in sorted({1, min(2, all_stations), all_stations})
    ]
    whole = MeasurementPlan(splines=every, stations=all_stations)
    return [
        *plans,
        replace(whole, trials=2),
        replace(whole, inspections=2),
        replace(whole, inspections=2, same_measurer=False),
        replace(whole, inspections=2, same_measurer=False, check_piece=True),
        replace(whole, inspections=3, same_measurer=False),
    ]


def judge_plan(
    fit: WidthFit,
    shape: PatternShape,
    plan: MeasurementPlan,
    *,
    size_step_um: float,
    step_um: float = 10.0,
    kind: str = "home",
    group: str = "",
    shafts: int = 1200,
    piece_u_um: float = 0.0,
    rng: np.random.Generator,
) -> PlanQuality:
    """Work out what a plan achieves.

    Parameters
    ----------
    fit : WidthFit
        How shafts differ and readings scatter.
    shape : PatternShape
        The pattern.
    plan : MeasurementPlan
        What is asked for.
    size_step_um : float
        Distance between the hub sizes kept.
    step_um : float
        Resolution of the gauge.
    kind : str
        Who measures.
    group : str
        Whose prior mean holds.
    shafts : int
        How many are drawn.
    piece_u_um : float
        Standard uncertainty of the check piece's own size.
    rng : Generator
        For the draws.

    Returns
    -------
    PlanQuality
    """
    data = _layout(shape, plan, kind=kind, step_um=step_um, group=group, shafts=shafts)
    block = data.blocks[0]
    true, mean = _read(fit, shape, plan, block, kind=kind, step_um=step_um, rng=rng)
    # where the ladder of sizes lies against the fleet is chance, the same for every plan
    ladder = rng.uniform(0.0, size_step_um, shafts)
    if plan.check_piece and piece_u_um > 0:
        # one piece goes to all who measure the shaft
        mean[..., -1] += rng.normal(0.0, piece_u_um, (shafts, 1))
        one = np.zeros_like(block.inspection)
        block = replace(block, piece_um2=piece_variances(one, np.full(one.shape, piece_u_um)))
    read = replace(block, mean=mean * (block.count > 0))
    prediction = predict_maps(
        fit,
        WidthData(
            blocks=(read,),
            units=data.units,
            inspections=data.inspections,
            within=data.within,
            readings=data.readings,
        ),
    )[0]
    average = np.full(shape.places, 1 / shape.places)
    grid = (-1, shape.splines, len(shape.stations))
    # predictions are smoother than the truth, so their extremes are too near the middle: told by a constant
    truths, tellings = (_extremes(widths.reshape(grid)) for widths in (true, prediction.mean_um))
    tellings += truths.mean(axis=1, keepdims=True) - tellings.mean(axis=1, keepdims=True)
    errors = (truths - tellings).std(axis=1)
    right = np.floor((truths[2] + ladder) / size_step_um) == np.floor((tellings[2] + ladder) / size_step_um)
    share = float(right.mean())
    hollow = hollow_weights(shape)
    # alike for all shafts, but where readings in coarse steps tell of some more than of others
    covariance = prediction.covariance_um2.mean(axis=0)
    return PlanQuality(
        plan=plan,
        width_u_um=float(np.sqrt(average @ covariance @ average)),
        widest_u_um=float(errors[0]),
        narrowest_u_um=float(errors[1]),
        hollow_u_um=float(np.sqrt(hollow @ covariance @ hollow)),
        right_size_probability=share,
        right_size_se=float(np.sqrt(share * (1 - share) / shafts)),
    )


def _extremes(widths: FloatArray) -> FloatArray:
    """Widest place on the way in, narrowest place, and the width that the gripped share of splines reaches.

    From widths of shape (shafts, splines, stations) to (3, shafts).
    """
    return np.stack([way_in(widths).max(axis=(1, 2)), widths.min(axis=(1, 2)), gripping_width(widths)])


def _layout(
    shape: PatternShape, plan: MeasurementPlan, *, kind: str, step_um: float, group: str, shafts: int
) -> WidthData:
    stations = len(shape.stations)
    where = {1: [stations // 2], 2: [0, stations - 1]}.get(plan.stations, list(range(stations)))
    chosen = np.unique(np.floor(np.arange(plan.splines) * shape.splines / plan.splines).astype(int))
    asked = np.zeros((shape.splines, stations))
    asked[chosen[:, None], np.array(where)] = plan.trials
    count = np.zeros((shafts, plan.inspections, shape.slots))
    count[..., : shape.places] = asked.ravel()
    count[..., -1] = plan.check_piece
    inspection = np.arange(shafts * plan.inspections).reshape(shafts, plan.inspections)
    who = np.where(plan.same_measurer, 0, np.arange(plan.inspections))
    # every drawn shaft has hands of its own: a bias known from other shafts would flatter the plan
    labels = [f"{shaft}/{hand}" for shaft in range(shafts) for hand in who]
    return WidthData(
        blocks=(
            WidthBlock(
                shape=shape, unit=np.arange(shafts), inspection=inspection, count=count, mean=np.zeros_like(count)
            ),
        ),
        units=pd.DataFrame({"unit": range(shafts), "shaft": range(shafts), "pattern": shape.pattern, "group": group}),
        inspections=pd.DataFrame(
            {
                "inspection": range(inspection.size),
                "unit": np.repeat(np.arange(shafts), plan.inspections),
                "measurer": labels,
                "class": kind,
                "step_um": step_um,
            }
        ),
        within=pd.DataFrame({"class": [], "step_um": [], "spare": [], "within_um2": []}),
        readings=int(count.sum()),
    )


def _read(
    fit: WidthFit,
    shape: PatternShape,
    plan: MeasurementPlan,
    block: WidthBlock,
    *,
    kind: str,
    step_um: float,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Draw true maps about zero and what is read of them, shapes (shafts, places) and (shafts, inspections, slots)."""
    shafts, inspections, slots = block.count.shape
    factor = map_factor(shape, fit.variances)
    slot_widths = rng.standard_normal((shafts, factor.shape[1])) @ factor.T
    sd = {
        name: float(
            np.sqrt(fit.variances[len(MAP_COMPONENTS) + 3 * part + ("home", "workshop", "caliper").index(kind)])
        )
        for part, name in enumerate(("measurer", "inspection", "repeatability"))
    }
    hands = rng.normal(0.0, sd["measurer"], (shafts, 1 if plan.same_measurer else inspections))
    bias = hands + rng.normal(0.0, sd["inspection"], (shafts, inspections))
    total = np.zeros((shafts, inspections, slots))
    for _ in range(plan.trials):
        raw = slot_widths[:, None] + bias[..., None] + rng.normal(0.0, sd["repeatability"], total.shape)
        total += np.round(raw / step_um) * step_um
    return slot_widths[:, : shape.places], total / plan.trials
