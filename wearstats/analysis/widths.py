"""How readings of spline widths scatter, part by part, and what they say of one shaft's width map.

The parts are the components of `wearstats.analysis.width_system`; this room decides which of them the readings at
hand can tell apart, takes the others from stated limits (marked ``assumed``), and predicts maps whose standard
deviations contain the bias of whoever measured.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from wearstats.analysis.estimate import Estimate, assumed
from wearstats.analysis.reml import BoolArray, FloatArray, RemlFit, maximise_reml
from wearstats.analysis.rounding_sites import coarse_inspections, place_sites, without_coarse_within
from wearstats.analysis.width_data import CLASSES, PatternShape, WidthBlock, WidthData
from wearstats.analysis.width_likelihood import Solution, WidthLikelihood
from wearstats.analysis.width_system import COMPONENTS, MAP_COMPONENTS, couple, map_factor
from wearstats.errors import AnalysisError

ASSUMED_UM: dict[str, float] = {
    "shaft": 25.0,
    "spline": 6.0,
    "shaft_station": 4.0,
    "cell": 3.0,
    "measurer_home": 7.0,
    "measurer_workshop": 2.0,
    "measurer_caliper": 15.0,
    "inspection_home": 3.0,
    "inspection_workshop": 1.0,
    "inspection_caliper": 10.0,
    "repeatability_home": 5.0,
    "repeatability_workshop": 2.0,
    "repeatability_caliper": 10.0,
}
"""Standard deviations used where the readings cannot tell, in um.

The bands for a trained hand with a ratchet (repeatability about 2) and for an owner at home (repeatability about 5, a
bias of 5 to 10 that all readings of an inspection share) are judgement, after the spread of measuring force between
operators seen in J. Japan Soc. Precision Eng. 50(11) 1798; calipers good to 20 to 30 from memory.
"""

CLASS_MEAN_SD_UM = {"home": 4.0, "workshop": 0.0, "caliper": 10.0}
"""How far the mean of a class may lie from the workshop's where no shaft was measured by both; judgement."""

SITE_ROUNDS = 8
"""How often, at most, coarse readings are placed anew and the components fitted again."""

Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WidthFit:
    """The fitted width model.

    Parameters
    ----------
    components_um : dict of str to Estimate
        Standard deviations, by the names of `COMPONENTS`.
    variances : ndarray, shape (13,)
        The same squared, um^2, as the predictions use them.
    free : ndarray of bool, shape (13,)
        Which were estimated.
    means : DataFrame
        The means of stations, groups and classes: ``name``, ``value_um``, ``se_um``.
    mean_covariance : ndarray, shape (means, means)
        Of their errors, um^2.
    variance_covariance : ndarray, shape (13, 13)
        Of the estimated variances' errors, um^4; zero for those held or at zero.
    measurers : DataFrame
        Measurers with several inspections: ``measurer``, ``class``, ``inspections``, ``bias_um`` against the mean of
        their class, drawn towards it as far as it is doubtful, and ``sd_um`` of its error.
    units, readings : int
        What it rests on.
    criterion : float
        Minus twice the restricted log likelihood.
    """

    components_um: dict[str, Estimate]
    variances: FloatArray
    free: BoolArray
    means: pd.DataFrame
    mean_covariance: FloatArray
    variance_covariance: FloatArray
    measurers: pd.DataFrame
    units: int
    readings: int
    criterion: float

    def mean_of(self, name: str) -> tuple[float, float] | None:
        """Value and standard error of one mean, in um; None when the model has none such."""
        row = self.means[self.means["name"] == name]
        return None if row.empty else (float(row["value_um"].iloc[0]), float(row["se_um"].iloc[0]))


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
    data: WidthData, *, smallest_group: int = 5, intervals: bool = True, near: WidthFit | None = None
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

    Returns
    -------
    WidthFit

    Raises
    ------
    AnalysisError
        With no reading at all.

    Notes
    -----
    Inspections read in steps too coarse for the simple correction are taken as intervals, by sites placed anew at each
    fit until the components stand still (`wearstats.analysis.rounding_sites`); intervals then hold the sites fixed.
    """
    if data.readings == 0:
        raise AnalysisError("there are no width readings", needed="add inspections with readings of at least one shaft")
    shown = data
    sizes = data.units["group"].value_counts()
    groups = tuple(str(name) for name in sizes.index[1:] if sizes[name] >= smallest_group)
    likelihood = WidthLikelihood(data, couple(data, groups=groups, classes=linked_classes(data)))
    start = np.array([ASSUMED_UM[name] ** 2 for name in COMPONENTS])
    positive = np.array([name.startswith("repeatability") for name in COMPONENTS])
    # thousands of small matrices: more threads only get into each other's way
    with threadpool_limits(limits=1, user_api="blas"):
        reml = _maximise(likelihood, start if near is None else np.maximum(near.variances, 1e-2 * start))
        if coarse_inspections(shown, reml.variances).any():
            likelihood, reml = _with_intervals(likelihood, reml, start, positive)
        components_um = _component_estimates(likelihood, reml, positive, intervals=intervals)
        return _fit_at(likelihood, reml, components_um)


def _with_intervals(
    likelihood: WidthLikelihood, reml: RemlFit, start: FloatArray, positive: BoolArray
) -> tuple[WidthLikelihood, RemlFit]:
    """Place coarse readings' sites and maximise in turn, until the components stand still."""
    shown = likelihood.data
    # the simple correction may have taken all repeatability away; sites then start from half of what is usual
    at = np.where(positive, np.maximum(reml.variances, 0.25 * start), reml.variances)
    for _ in range(SITE_ROUNDS):
        fit = replace(_fit_at(likelihood, reml, {}), variances=at)
        likelihood = WidthLikelihood(with_sites(fit, shown), likelihood.coupling)
        reml = _maximise(likelihood, np.maximum(at, 1e-2 * start))
        moved = np.sqrt(reml.variances) - np.sqrt(at)
        if np.abs(moved).max() < 0.02:
            break
        # each round goes about half of the way that is left, where steps are coarsest
        further = np.maximum(np.sqrt(reml.variances) + 0.5 * moved, 0.1 * np.sqrt(start)) ** 2
        at = np.where(positive & reml.free, further, reml.variances)
    return likelihood, reml


def _maximise(likelihood: WidthLikelihood, start: FloatArray) -> RemlFit:
    """Walk to the maximum over the components that the layout can separate."""
    told = identified(likelihood.data)
    free = np.array([told[name] for name in COMPONENTS])
    positive = np.array([name.startswith("repeatability") for name in COMPONENTS])
    held = np.array([ASSUMED_UM[name] ** 2 for name in COMPONENTS])
    return maximise_reml(likelihood.evaluate, np.where(free, start, held), free=free, positive=positive, tolerance=1e-7)


def _fit_at(likelihood: WidthLikelihood, reml: RemlFit, components_um: dict[str, Estimate]) -> WidthFit:
    """Put together what is known at the maximum."""
    data = likelihood.data
    solution = likelihood.solve(reml.variances)
    fixed = len(likelihood.coupling.fixed)
    covariance = solution.covariance[:fixed, :fixed]
    return WidthFit(
        components_um=components_um,
        variances=reml.variances,
        free=reml.free,
        means=_means(likelihood.coupling.fixed, solution, covariance),
        mean_covariance=covariance,
        variance_covariance=reml.covariance,
        measurers=_measurers(likelihood, solution, reml.variances),
        units=len(data.units),
        readings=data.readings,
        criterion=reml.point.criterion,
    )


def _means(names: tuple[str, ...], solution: Solution, covariance: FloatArray) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "name": list(names),
            "value_um": solution.coefficients[: len(names)],
            "se_um": np.sqrt(np.diag(covariance)),
        }
    )


def _measurers(likelihood: WidthLikelihood, solution: Solution, variances: FloatArray) -> pd.DataFrame:
    coupling = likelihood.coupling
    fixed = len(coupling.fixed)
    kinds = coupling.measurer_class
    sd = np.sqrt(variances[len(MAP_COMPONENTS) + kinds])
    seen = likelihood.data.inspections["measurer"].astype(str).value_counts()
    return pd.DataFrame(
        {
            "measurer": list(coupling.measurers),
            "class": np.array(CLASSES, dtype=object)[kinds],
            "inspections": seen.reindex(list(coupling.measurers)).to_numpy(),
            "bias_um": solution.coefficients[fixed:] * sd,
            "sd_um": np.sqrt(np.diag(solution.covariance)[fixed:]) * sd,
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
            estimates[name] = assumed(ASSUMED_UM[name], why="not identified by these readings; a stated limit")
            continue
        se = float(np.sqrt(reml.covariance[k, k]))
        if not intervals:
            estimates[name] = Estimate(value=np.sqrt(variance), method="REML")
        elif variance > 0 and se < 0.4 * variance:
            spread = Z95 * se / variance
            estimates[name] = Estimate(
                value=np.sqrt(variance),
                low=np.sqrt(variance * np.exp(-spread)),
                high=np.sqrt(variance * np.exp(spread)),
                method="REML, interval by average information on the log scale",
            )
        else:
            low, high = profile_interval(likelihood, reml, k, positive=positive)
            estimates[name] = Estimate(
                value=np.sqrt(variance),
                low=np.sqrt(low),
                high=None if high is None else np.sqrt(high),
                method="REML, profile likelihood interval",
            )
    return estimates


def profile_interval(
    likelihood: WidthLikelihood, reml: RemlFit, component: int, *, positive: BoolArray, drop: float = 3.841458820694124
) -> tuple[float, float | None]:
    """Variances at which the profiled criterion has risen by `drop`.

    Parameters
    ----------
    likelihood : WidthLikelihood
        The likelihood.
    reml : RemlFit
        Its maximum.
    component : int
        Which variance.
    positive : ndarray of bool, shape (13,)
        Components kept above zero.
    drop : float
        The 95 % point of chi-square with one degree of freedom by default.

    Returns
    -------
    low, high : float, float or None
        In um^2; low is 0.0 when zero is inside the interval, high None when no bound was found.
    """
    free = reml.free.copy()
    free[component] = False
    best = reml.point.criterion
    top = float(reml.variances[component])
    scale = max(top, float(np.sqrt(reml.covariance[component, component])), 0.25)
    others = np.where(reml.free, np.maximum(reml.variances, 1e-3 * scale), reml.variances)

    def root(sd: float) -> float:
        """Square root of the rise of the profiled criterion at a standard deviation; nearly linear in it."""
        nonlocal others
        start = others.copy()
        start[component] = sd**2
        profiled = maximise_reml(likelihood.evaluate, start, free=free, positive=positive, tolerance=5e-3)
        others = np.where(reml.free, np.maximum(profiled.variances, 1e-3 * scale), reml.variances)
        return float(np.sqrt(max(profiled.point.criterion - best, 0.0)))

    wanted, here = float(np.sqrt(drop)), float(np.sqrt(top))
    low = 0.0
    if top > 0 and (positive[component] or root(0.0) > wanted):
        low = _crossing(root, wanted, here, 0.5 * here)
    high = _crossing(root, wanted, here, float(np.sqrt(top + scale)))
    return low**2, None if not np.isfinite(high) else high**2


def _crossing(root: Callable[[float], float], wanted: float, best: float, guess: float) -> float:
    """Find the standard deviation at which the root of the rise reaches `wanted`, to 2 %; inf when it never does."""
    inside, inside_root, outside, outside_root = best, 0.0, float("nan"), float("nan")
    trial = guess
    for _ in range(25):
        value = root(trial)
        if value < wanted:
            inside, inside_root = trial, value
        else:
            outside, outside_root = trial, value
        if abs(value - wanted) < 0.02 * wanted:
            return trial
        if np.isfinite(outside):
            slope = (outside_root - inside_root) / (outside - inside)
            trial = inside + (wanted - inside_root) / slope
            near, far = sorted((inside + 0.02 * (outside - inside), outside))
            trial = min(max(trial, near), far)
            if abs(outside - inside) < 0.005 * abs(outside):
                return trial
        elif trial > best:
            trial = best + min(max(1.1 * wanted / max(value, 1e-3), 1.3), 4.0) * (trial - best)
            if trial > 1e4:
                break
        else:
            trial = best - min(max(1.1 * wanted / max(value, 1e-3), 1.3), 4.0) * (best - trial)
            trial = max(trial, 0.05 * inside)
    return float("inf")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapPrediction:
    """What is known of the width maps of some units of one pattern.

    Parameters
    ----------
    shape : PatternShape
        The pattern.
    unit : ndarray of int, shape (units,)
        Row of each unit in the unit table of the data predicted from.
    mean_um : ndarray, shape (units, places)
        Best linear prediction of the true widths relative to the new width (negative: worn).
    covariance_um2 : ndarray, shape (units, places, places)
        Of its errors, with the bias of the measurers in it.
    """

    shape: PatternShape
    unit: np.ndarray[tuple[int], np.dtype[np.int64]]
    mean_um: FloatArray
    covariance_um2: FloatArray

    @property
    def sd_um(self) -> FloatArray:
        """Standard deviation of each place's error, shape (units, places)."""
        return np.sqrt(np.maximum(np.diagonal(self.covariance_um2, axis1=1, axis2=2), 0.0))


def predict_maps(fit: WidthFit, data: WidthData) -> tuple[MapPrediction, ...]:
    """Predict the width map of every unit from its own readings alone.

    Parameters
    ----------
    fit : WidthFit
        Components and means.
    data : WidthData
        The units to predict; they need not be those that were fitted, and each speaks only for itself: what is known of
        a shaft on one day never borrows from readings of another shaft by the same hand, taken perhaps later.

    Returns
    -------
    tuple of MapPrediction
        One a block of `data`.

    Notes
    -----
    Best linear unbiased prediction (Henderson 1975) at the fitted components; the error of the means is included, that
    of the components is not.
    """
    data = with_sites(fit, data)
    classes = data.class_index
    steps = data.inspections["step_um"].to_numpy(dtype=float)
    measurer = data.inspections["measurer"].astype("category").cat.codes.to_numpy()
    repeat = len(MAP_COMPONENTS) + 2 * len(CLASSES)
    reading = fit.variances[repeat + classes] + steps**2 / 12
    class_means, class_rows = _class_means(fit)
    predictions = []
    for block in data.blocks:
        prior_mean, prior_rows = _prior_means(fit, block.shape, data.units["group"].to_numpy(dtype=object)[block.unit])
        factor = map_factor(block.shape, fit.variances)
        if block.rounding is None:
            weight = block.count / reading[block.inspection][..., None]
        else:
            weight = block.count / (fit.variances[repeat + classes][block.inspection][..., None] + block.rounding)
        kinds = classes[block.inspection]
        size = kinds.shape[1]
        bias = _bias_covariance(fit, measurer[block.inspection], kinds)
        total = weight.sum(axis=2)
        middle = bias @ np.linalg.inv(np.eye(size) + total[:, :, None] * bias)
        offset = class_means[kinds]
        y = block.mean - prior_mean[:, None, :] - offset[..., None]
        wy = weight * y
        right = wy.sum(axis=1) - np.einsum("utc,uts,us->uc", weight, middle, wy.sum(axis=2), optimize=True)
        precision = -np.einsum("utc,uts,usd->ucd", weight, middle, weight, optimize=True)
        slot = np.arange(block.shape.slots)
        precision[:, slot, slot] += weight.sum(axis=1)
        inner = factor.T @ precision @ factor
        place = np.arange(inner.shape[1])
        inner[:, place, place] += 1.0
        posterior = factor @ np.linalg.inv(inner) @ factor.T
        places = slice(0, block.shape.places)
        mean = prior_mean + np.einsum("ucd,ud->uc", posterior, right)
        design = _mean_response(block.shape, prior_rows, class_rows, kinds, weight, middle, precision, posterior)
        covariance = posterior + design @ fit.mean_covariance @ np.swapaxes(design, 1, 2)
        predictions.append(
            MapPrediction(
                shape=block.shape,
                unit=block.unit,
                mean_um=np.ascontiguousarray(mean[:, places]),
                covariance_um2=np.ascontiguousarray(covariance[:, places, places]),
            )
        )
    return tuple(predictions)


def with_sites(fit: WidthFit, data: WidthData) -> WidthData:
    """Take coarsely rounded readings as intervals, each unit's by its own readings alone.

    Parameters
    ----------
    fit : WidthFit
        Components and means.
    data : WidthData
        The readings as shown.

    Returns
    -------
    WidthData
        The same object where no inspection is coarse at these components.
    """
    coarse = coarse_inspections(data, fit.variances)
    if not coarse.any():
        return data
    classes = data.class_index
    measurer = data.inspections["measurer"].astype("category").cat.codes.to_numpy()
    class_means, _ = _class_means(fit)

    def prior(block: WidthBlock) -> tuple[FloatArray, FloatArray]:
        mean, _ = _prior_means(fit, block.shape, data.units["group"].to_numpy(dtype=object)[block.unit])
        kinds = classes[block.inspection]
        level = mean[:, None, :] + class_means[kinds][..., None]
        return level, _bias_covariance(fit, measurer[block.inspection], kinds)

    return place_sites(without_coarse_within(data, fit.variances), fit.variances, prior, coarse)


def _bias_covariance(fit: WidthFit, who: NDArray[np.integer], kinds: NDArray[np.int64]) -> FloatArray:
    """Covariance of the inspections' biases within each unit, um^2, shape (units, inspections, inspections)."""
    own = fit.variances[len(MAP_COMPONENTS) + len(CLASSES) + kinds]
    shared = fit.variances[len(MAP_COMPONENTS) + kinds]
    bias = np.where(who[:, :, None] == who[:, None, :], shared[:, :, None], 0.0)
    diagonal = np.arange(who.shape[1])
    bias[:, diagonal, diagonal] += own
    # a class whose mean was not tied to the workshop carries that doubt in common
    _, class_rows = _class_means(fit)
    loose = np.array([CLASS_MEAN_SD_UM[name] ** 2 if class_rows[name] is None else 0.0 for name in CLASSES])
    bias += np.where(kinds[:, :, None] == kinds[:, None, :], loose[kinds][:, :, None], 0.0)
    return bias


def _class_means(fit: WidthFit) -> tuple[FloatArray, dict[str, int | None]]:
    """Mean bias of each class, shape (3,), and its row among the means (None: not estimated)."""
    names = list(fit.means["name"])
    rows: dict[str, int | None] = {}
    for name in CLASSES:
        label = f"class:{name}"
        rows[name] = names.index(label) if label in names else None
    values = fit.means["value_um"].to_numpy(dtype=float)
    return np.array([0.0 if rows[name] is None else values[rows[name]] for name in CLASSES]), rows


def _prior_means(
    fit: WidthFit, shape: PatternShape, groups: np.ndarray[tuple[int], np.dtype[np.object_]]
) -> tuple[FloatArray, FloatArray]:
    """Prior mean of every slot, shape (units, slots), and how it hangs on the means, shape (units, stations, means)."""
    names = list(fit.means["name"])
    values = fit.means["value_um"].to_numpy(dtype=float)
    rows = np.zeros((groups.size, len(shape.stations), len(names)))
    for j, station in enumerate(shape.stations):
        label = f"station:{shape.pattern}:{station}"
        if label not in names:
            raise AnalysisError(
                f"no reading of pattern {shape.pattern} at station {station} was fitted",
                needed="readings of at least one shaft of that pattern at every station",
            )
        rows[:, j, names.index(label)] = 1.0
    for k, name in enumerate(names):
        if name.startswith("group:"):
            rows[groups == name.removeprefix("group:"), :, k] = 1.0
    return (rows @ values) @ shape.station_design().T, rows


def _mean_response(
    shape: PatternShape,
    prior_rows: FloatArray,
    class_rows: dict[str, int | None],
    kinds: np.ndarray[tuple[int, int], np.dtype[np.int64]],
    weight: FloatArray,
    middle: FloatArray,
    precision: FloatArray,
    posterior: FloatArray,
) -> FloatArray:
    """How the prediction error hangs on the errors of the means, shape (units, slots, means)."""
    slot_rows = shape.station_design() @ prior_rows
    response = slot_rows - posterior @ (precision @ slot_rows)
    bias_pull = np.swapaxes(weight, 1, 2) @ (np.eye(kinds.shape[1]) - middle * weight.sum(axis=2)[:, None, :])
    bias_response = posterior @ bias_pull
    for k, name in enumerate(CLASSES):
        row = class_rows[name]
        if row is not None:
            response[..., row] -= np.einsum("uct,ut->uc", bias_response, (kinds == k).astype(float))
    return response
