"""How readings of spline widths scatter, part by part.

The parts are the components of `wearstats.analysis.widths.components`; this room decides which of them the readings at
hand can tell apart, and takes the others from stated limits (marked ``assumed``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from wearstats.analysis.estimate import Z95, Estimate, assumed
from wearstats.analysis.numerics.design_points import place_points
from wearstats.analysis.numerics.remarks import RemlRemark
from wearstats.analysis.numerics.reml import RemlFit, maximise_reml
from wearstats.analysis.remark import remark
from wearstats.analysis.widths.common_system import Solution
from wearstats.analysis.widths.components import COMPONENTS, couple
from wearstats.analysis.widths.data import CLASSES, WidthData
from wearstats.analysis.widths.fitted import (
    ASSUMED_UM,
    FEW_SHAFTS,
    LIKELY_UM,
    MANY_SHAFTS,
    WeighedSpreads,
    WidthFit,
    cautious,
    normal_of_spread,
    spread_of_normal,
    weigh_biases,
)
from wearstats.analysis.widths.interval_readings import coarse_inspections
from wearstats.analysis.widths.intervals import curvature_interval, profile_interval, shared_piece_covariance
from wearstats.analysis.widths.likelihood import WidthLikelihood
from wearstats.analysis.widths.prediction import with_sites
from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.errors import AnalysisError

_MANY_UNITS = 10_000
"""From so many units on the likelihood is a parabola as far as an interval reaches."""

_BETWEEN_STEPS = np.array([name.startswith(("repeatability", "spline", "cell")) for name in COMPONENTS])
"""Components that say how readings of one inspection scatter."""

SITE_ROUNDS = 8
"""How often, at most, coarse readings are placed anew and the components fitted again."""


def identified(data: WidthData) -> dict[str, bool]:
    """Tell which components the layout of the readings can separate.

    Parameters
    ----------
    data : WidthData
        The readings, reduced.

    Returns
    -------
    dict of str to bool
        By component. The rules count shafts that link what is to be compared; they do not look at any width.
    """
    inspections = data.inspections
    per_unit = inspections.groupby("unit")["inspection"].transform("size")
    checks = np.zeros(len(inspections))
    spare = data.within.groupby("class")["spare"].sum()
    for block in data.blocks:
        checks[block.inspection.ravel()] = (block.count[..., -1] > 0).ravel()
    several_splines = any(block.shape.splines > 1 for block in data.blocks)
    several_stations = any(len(block.shape.stations) > 1 for block in data.blocks)
    several_shafts = len(data.units) >= 3
    told = {
        "shaft": several_shafts,
        "spline": several_shafts and several_splines,
        "shaft_station": several_shafts and several_stations and several_splines,
        "cell": several_shafts and several_stations and several_splines,
    }
    other_hand = inspections.groupby("unit")["measurer"].transform("nunique") > 1
    for name in CLASSES:
        mine = inspections["class"].eq(name)
        repeats = inspections[mine & (per_unit > 1)]["unit"].nunique()
        hands = inspections[mine]["measurer"]
        pieces = int(checks[mine.to_numpy()].sum())
        # a pin of known size compares a hand with the truth as a second hand on the shaft does with another
        compared = inspections[mine & other_hand]["unit"].nunique() + pieces >= 4
        same_hand = bool(hands.duplicated().sum() >= 3)
        told[f"repeatability_{name}"] = repeats >= 2 or float(spare.get(name, 0.0)) >= 8
        told[f"measurer_{name}"] = compared and hands.nunique() >= 3
        told[f"inspection_{name}"] = (repeats + pieces >= 4) and same_hand
    return told


def linked_classes(data: WidthData) -> tuple[str, ...]:
    """Name the classes whose mean bias against the workshop shows on shafts that both measured."""
    inspections = data.inspections
    at_workshop = inspections["unit"].isin(inspections.loc[inspections["class"] == "workshop", "unit"])
    linked = []
    for name in CLASSES:
        both = inspections[at_workshop & inspections["class"].eq(name)]["unit"].nunique()
        if name != "workshop" and both >= 2:
            linked.append(name)
    return tuple(linked)


def fit_widths(
    data: WidthData,
    *,
    smallest_group: int = 5,
    intervals: bool = True,
    near: WidthFit | None = None,
    rough: bool = False,
) -> WidthFit:
    """Fit the components by restricted maximum likelihood.

    Parameters
    ----------
    data : WidthData
        The readings, reduced.
    smallest_group : int
        Groups with fewer units share the station means instead of having a mean of their own.
    intervals : bool
        Whether to give the components intervals (the weakly identified ones cost a profile each).
    near : WidthFit, optional
        A fit of much the same readings, from whose components the walk begins; the maximum does not hang on it.
    rough : bool
        Whether components near the maximum will do, as a place to begin from: readings in coarse steps are then taken
        with the simple correction.

    Returns
    -------
    WidthFit

    Raises
    ------
    AnalysisError
        With no reading at all, or none at some station of a pattern.

    Notes
    -----
    Inspections read in steps too coarse for the simple correction are taken as intervals, by sites placed anew at each
    fit until the components stand still (`wearstats.analysis.widths.interval_readings`); intervals then hold the sites
    fixed.
    """
    if data.readings == 0:
        raise AnalysisError("there are no width readings", needed="add inspections with readings of at least one shaft")
    _require_every_station(data)
    shown = data
    sizes = data.units["group"].value_counts()
    groups = tuple(str(name) for name in sizes.index[1:] if sizes[name] >= smallest_group)
    likelihood = WidthLikelihood(data, couple(data, groups=groups, classes=linked_classes(data)))
    start = np.array([ASSUMED_UM[name] ** 2 for name in COMPONENTS])
    positive = np.array([name.startswith("repeatability") for name in COMPONENTS])
    # thousands of small matrices: more threads only get into each other's way
    with threadpool_limits(limits=1, user_api="blas"):
        if near is None or not coarse_inspections(shown, near.variances).any():
            begin = start if near is None else np.maximum(near.variances, 1e-2 * start)
            reml = _maximise(likelihood, begin, tolerance=1e-2 if rough else None)
            at = reml.variances
        else:
            at = np.maximum(near.variances, 1e-2 * start)
        if not rough and coarse_inspections(shown, at).any():
            likelihood, reml = _with_intervals(likelihood, at, start, positive, near=near)
        components_um = _component_estimates(likelihood, reml, positive, intervals=intervals)
        fit = _fit_at(likelihood, reml.variances, reml, components_um)
        return fit if rough or fit.units >= MANY_SHAFTS else replace(fit, weighed=weigh_spreads(likelihood, fit))


def weigh_spreads(likelihood: WidthLikelihood, fit: WidthFit) -> WeighedSpreads:
    """Place the points that stand for what readings leave open about the spreads.

    Parameters
    ----------
    likelihood : WidthLikelihood
        The restricted likelihood.
    fit : WidthFit
        What it says at its maximum.

    Returns
    -------
    WeighedSpreads

    Notes
    -----
    Biases are taken as `weigh_biases` has them. With these the restricted likelihood times the prior densities
    (`ONE_IN_TWENTY_UM`, `SHAFTS_UM`) is integrated over the other spreads that some reading hangs on, whether or not
    the layout of the readings can tell them: where it cannot, the prior stays. What was read in coarse steps keeps the
    sites it has at the maximum.
    """
    held, share = weigh_biases(fit)
    active = np.array([k for k in likelihood.active if not COMPONENTS[k].startswith(("measurer", "inspection"))])

    def spread(places: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        every = np.zeros(len(COMPONENTS))
        every[active] = places
        value, slope, bend = spread_of_normal(every)
        return value[active], slope[active], bend[active]

    def at(places: FloatArray) -> FloatArray:
        variances = held.copy()
        variances[active] = spread(places)[0] ** 2
        return variances

    def slopes(places: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        value, slope, bend = spread(places)
        point = likelihood.evaluate(at(places))
        score, by = point.score[active], 2 * value * slope
        # the scale bends the likelihood by its slope; with less than half of the prior's left, steps might lead up
        bent = np.maximum(1.0 - score * 2 * (slope**2 + value * bend), 0.5)
        curvature = np.outer(by, by) * point.information[np.ix_(active, active)] + np.diag(bent)
        return 0.5 * point.criterion + 0.5 * float(places @ places), places - score * by, curvature

    def height(places: FloatArray) -> float:
        return 0.5 * likelihood.means(at(places))[0] + 0.5 * float(places @ places)

    found = np.maximum(np.where(fit.free, np.sqrt(fit.variances), LIKELY_UM), 0.2 * LIKELY_UM)
    points = place_points(height, slopes, normal_of_spread(found)[active])
    variances = np.stack([at(places) for places in points.points])
    told = [likelihood.means(each)[1:] for each in variances]
    fixed = len(likelihood.coupling.fixed)
    covariances = np.stack([covariance[:fixed, :fixed] for _, covariance in told])
    pieces = shared_piece_covariance(likelihood, fit.variances)
    share[active] = np.minimum(points.left, 1.0)
    weighed = WeighedSpreads(
        weights=points.weights,
        variances=variances,
        means_um=np.stack([means[:fixed] for means, _ in told]),
        mean_covariances=covariances if pieces is None else covariances + pieces,
        prior_share=share,
    )
    plain = (fit.units - FEW_SHAFTS) / (MANY_SHAFTS - FEW_SHAFTS)
    return weighed.with_point(plain, cautious(fit)) if plain > 0 else weighed


def _require_every_station(data: WidthData) -> None:
    """Refuse patterns of which nobody ever read some station: what widths are there cannot be told."""
    read: dict[tuple[str, str], float] = {}
    for block in data.blocks:
        stations = block.shape.stations
        by_slot = block.count.sum(axis=(0, 1))
        places = by_slot[: block.shape.places].reshape(-1, len(stations)).sum(axis=0)
        averages = by_slot[block.shape.places : block.shape.places + len(stations)]
        for station, count in zip(stations, places + averages, strict=True):
            key = (block.shape.pattern, station)
            read[key] = read.get(key, 0.0) + float(count)
    for (pattern, station), count in read.items():
        if count == 0:
            raise AnalysisError(
                f"pattern {pattern}: no shaft was ever read at station {station}",
                needed="readings there of at least one shaft; or, where nobody measures there, name only the stations "
                "that are measured in the column stations of patterns",
            )


def _with_intervals(
    likelihood: WidthLikelihood, at: FloatArray, start: FloatArray, positive: BoolArray, *, near: WidthFit | None
) -> tuple[WidthLikelihood, RemlFit]:
    """Place coarse readings' sites and maximise in turn, until the components stand still.

    The first sites are placed with the means of a fit near by, if it has all that are needed.
    """
    shown = likelihood.data
    told_at = at
    many = len(shown.units) >= _MANY_UNITS
    stations = {name for name in likelihood.coupling.fixed if name.startswith("station:")}
    means = near if near is not None and stations <= set(near.means["name"]) else None
    # the simple correction may have taken all repeatability away; sites then start from half of what is usual
    at = np.where(positive, np.maximum(at, 0.25 * start), at)
    for _ in range(SITE_ROUNDS):
        fit = replace(_fit_at(likelihood, told_at) if means is None else means, variances=at)
        means = None
        likelihood = WidthLikelihood(with_sites(fit, shown), likelihood.coupling)
        reml = _maximise(likelihood, np.maximum(at, 1e-2 * start))
        told_at = reml.variances
        moved = np.sqrt(reml.variances) - np.sqrt(at)
        # of many units the sites may stand once the scatter of readings between steps hardly moves any more
        if np.abs(moved).max() < 0.02 or (many and np.all(np.abs(moved) < 0.03 * np.sqrt(at), where=_BETWEEN_STEPS)):
            break
        # each round goes about half of the way that is left, where steps are coarsest
        further = np.maximum(np.sqrt(reml.variances) + 0.5 * moved, 0.1 * np.sqrt(start)) ** 2
        at = np.where(positive & reml.free, further, reml.variances)
    return likelihood, reml


def _maximise(likelihood: WidthLikelihood, start: FloatArray, *, tolerance: float | None = None) -> RemlFit:
    """Walk to the maximum over the components that the layout can separate."""
    told = identified(likelihood.data)
    free = np.array([told[name] for name in COMPONENTS])
    positive = np.array([name.startswith("repeatability") for name in COMPONENTS])
    held = np.array([ASSUMED_UM[name] ** 2 for name in COMPONENTS])
    # a thousandth of a standard error is near enough where every step takes long
    if tolerance is None:
        tolerance = 1e-7 if len(likelihood.data.units) < _MANY_UNITS else 1e-5
    return maximise_reml(
        likelihood.evaluate, np.where(free, start, held), free=free, positive=positive, tolerance=tolerance
    )


def _fit_at(
    likelihood: WidthLikelihood,
    variances: FloatArray,
    reml: RemlFit | None = None,
    components_um: dict[str, Estimate] | None = None,
) -> WidthFit:
    """Put together what is known at some variances, or at the maximum with what is known of these."""
    data = likelihood.data
    solution = likelihood.solve(variances)
    fixed = len(likelihood.coupling.fixed)
    covariance = solution.covariance[:fixed, :fixed]
    if reml is not None and (pieces := shared_piece_covariance(likelihood, variances)) is not None:
        covariance = covariance + pieces
    return WidthFit(
        components_um=components_um or {},
        variances=variances,
        free=np.zeros(len(COMPONENTS), dtype=bool) if reml is None else reml.free,
        means=_means(likelihood.coupling.fixed, solution, covariance),
        mean_covariance=covariance,
        variance_covariance=np.zeros((len(COMPONENTS), len(COMPONENTS))) if reml is None else reml.covariance,
        measurers=_measurers(likelihood, solution),
        units=len(data.units),
        readings=data.readings,
        criterion=likelihood.evaluate(variances).criterion,
    )


def _means(names: tuple[str, ...], solution: Solution, covariance: FloatArray) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "name": list(names),
            "value_um": solution.coefficients[: len(names)],
            "se_um": np.sqrt(np.diag(covariance)),
        }
    )


def _measurers(likelihood: WidthLikelihood, solution: Solution) -> pd.DataFrame:
    several = likelihood.measurer_inspections > 1
    return pd.DataFrame(
        {
            "measurer": np.asarray(likelihood.measurers, dtype=object)[several],
            "class": np.array(CLASSES, dtype=object)[likelihood.measurer_class[several]],
            "inspections": likelihood.measurer_inspections[several],
            "bias_um": solution.measurer_bias_um[several],
            "sd_um": solution.measurer_sd_um[several],
        }
    )


def _component_estimates(
    likelihood: WidthLikelihood, reml: RemlFit, positive: BoolArray, *, intervals: bool
) -> dict[str, Estimate]:
    """Give standard deviations with intervals: on the log scale where well determined, by profile where not."""
    estimates = {}
    for k, name in enumerate(COMPONENTS):
        variance = float(reml.variances[k])
        if not reml.free[k]:
            estimates[name] = assumed(ASSUMED_UM[name], why=remark(RemlRemark.STATED))
            continue
        se = float(np.sqrt(max(reml.covariance[k, k], 0.0)))
        if not intervals:
            estimates[name] = Estimate(value=np.sqrt(variance), method=remark(RemlRemark.PLAIN))
        # with f degrees of freedom se / variance is sqrt(2 / f): from about a dozen on the log is nearly normal
        elif variance > 0 and se < 0.4 * variance:
            spread = Z95 * se / variance
            estimates[name] = Estimate(
                value=np.sqrt(variance),
                low=np.sqrt(variance * np.exp(-spread)),
                high=np.sqrt(variance * np.exp(spread)),
                method=remark(RemlRemark.LOG_SCALE),
            )
        elif len(likelihood.data.units) >= _MANY_UNITS:
            below, above = curvature_interval(reml, k)
            estimates[name] = Estimate(
                value=np.sqrt(variance),
                low=np.sqrt(below),
                high=np.sqrt(above),
                method=remark(RemlRemark.CURVATURE),
            )
        else:
            low, high = profile_interval(likelihood, reml, k, positive=positive)
            estimates[name] = Estimate(
                value=np.sqrt(variance),
                low=np.sqrt(low),
                high=None if high is None else np.sqrt(high),
                method=remark(RemlRemark.PROFILE),
            )
    return estimates
