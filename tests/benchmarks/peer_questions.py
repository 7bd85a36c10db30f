"""The same models on the same data, asked of this project and of general libraries, each giving the same numbers.

Every question makes its data from a size and gives, by name, functions without arguments that answer it from the raw
data in memory. Answers are arrays that must agree within the question's tolerance.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import ckwrap
import numpy as np
import pandas as pd
import statsmodels.formula.api as smf
from lifelines import KaplanMeierFitter, WeibullAFTFitter
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, hstack, identity, kron, vstack
from sklearn.cluster import KMeans
from statsmodels.duration.survfunc import SurvfuncRight
from surpyval import WeibullPH

from tests.analysis.support.width_layout import component, layout
from tests.analysis.support.width_layout import fit as fit_layout
from tests.benchmarks import sizes as priced
from tests.benchmarks import width_components as nested
from wearstats.analysis.gaps.nodes import as_single_values
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.stock.sizes.best_sets import best_sets
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier
from wearstats.analysis.survival.reporting import SilentHistories

FloatArray = np.ndarray
Answers = dict[str, Callable[[], FloatArray]]
OURS = "wearstats"
MOST = 8
FEW = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked: title, unit and sizes, the smallest first; how answers are made, how near they must be."""

    title: str
    unit: str
    sizes: tuple[int, ...]
    make: Callable[[int], Answers]
    relative: float
    absolute: Callable[[int], float] = lambda size: 0.0 * size


def nested_variances(shafts: int) -> Answers:
    """Variances of shafts, of splines in shafts, and of readings, unbalanced."""
    nested.SHAFTS = shafts
    frame = nested.invent(rng=np.random.default_rng(1))

    def ours() -> FloatArray:
        fit = nested.ours(frame)
        return np.array([fit.group, fit.subgroup, fit.residual])

    return {OURS: ours, "statsmodels MixedLM": lambda: np.array(nested.theirs(frame))}


def crossed_variances(shafts: int, hands: int = 5) -> Answers:
    """Variances of shafts, of the hands that measured all of them, and of readings; one in four readings is missing."""
    rng = np.random.default_rng(2)
    unit, hand, _ = (axis.ravel() for axis in np.indices((shafts, hands, 2)))
    width = 20 * rng.standard_normal(shafts)[unit] + 5 * rng.standard_normal(hands)[hand]
    width = width + 3 * rng.standard_normal(unit.size)
    frame = pd.DataFrame({"unit": unit, "measurer": hand, "width": width})[rng.random(unit.size) < 0.75]

    def ours() -> FloatArray:
        inspection = frame["unit"] * hands + frame["measurer"]
        data = layout(frame.assign(inspection=inspection, spline=1, station=0, **{"class": "workshop"}))
        names = ["shaft", "measurer_workshop", "repeatability_workshop"]
        found = fit_layout(data, names)
        return np.array([component(found, name) for name in names])

    def statsmodels() -> FloatArray:
        parts = {"hand": "0 + C(measurer)", "unit": "0 + C(unit)"}
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = smf.mixedlm("width ~ 1", frame, groups=np.ones(len(frame)), re_formula="0", vc_formula=parts)
            # as it stands it stops two thousandths short
            found = model.fit(reml=True, method="bfgs", gtol=1e-9)
        told = dict(zip(model.exog_vc.names, found.vcomp, strict=True))
        return np.array([told["unit"], told["hand"], found.scale])

    return {OURS: ours, "statsmodels MixedLM": statsmodels}


def known_times(fittings: int) -> Answers:
    """Share still tight after every day on which one failed, times in whole days, three in ten failed."""
    rng = np.random.default_rng(3)
    fails, last = rng.weibull(1.4, fittings) * 2500, rng.uniform(30, 1800, fittings)
    days, failed = np.ceil(np.minimum(fails, last)), fails <= last
    at = np.unique(days[failed])

    def lifelines() -> FloatArray:
        fit = KaplanMeierFitter().fit(days, failed)
        return np.asarray(fit.survival_function_at_times(at), dtype=float)

    return {
        OURS: lambda: fit_kaplan_meier(days, failed).still_tight,
        "statsmodels SurvfuncRight": lambda: np.asarray(SurvfuncRight(days, failed.astype(int)).surv_prob),
        "lifelines KaplanMeierFitter": lifelines,
    }


def seen_now_and_then(fittings: int) -> Answers:
    """Slope by 10 um, shape and log of the failures in a year: asked every half year, gaps known, no penalties."""
    rng = np.random.default_rng(4)
    gap = rng.gamma(2.0, 8.0, fittings)
    fails = 12 * (rng.standard_exponential(fittings) / (0.06 * np.exp(0.05 * (gap - 16)))) ** (1 / 1.4)
    asked = 6.0 * rng.integers(1, 7, fittings)
    failed = fails <= asked
    left = np.where(failed, np.ceil(fails / 6) * 6 - 6, asked)
    right = np.where(failed, left + 6, np.inf)
    term = (gap - gap.mean()) / 10
    nothing = np.zeros(fittings, dtype=bool)
    histories = SilentHistories(
        left=left,
        right=right,
        entry=np.zeros(fittings),
        silent_from=np.full(fittings, np.nan),
        last_word=np.where(failed, right, left),
        failed=failed,
        unasked=nothing,
        asked=nothing,
        shaft=np.arange(fittings),
    )

    def ours() -> FloatArray:
        fit = fit_loosening(histories, as_single_values(gap, histories.shaft), steadied=False)
        return np.array([fit.slope, fit.shape, fit.parameters[0]])

    def lifelines() -> FloatArray:
        frame = pd.DataFrame({"left": left, "right": right, "term": term})
        found = WeibullAFTFitter().fit_interval_censoring(frame, "left", "right").params_
        # accelerated times and proportional hazards are the same Weibull law: H = (t / exp(scale)) ** shape
        shape = np.exp(found["rho_", "Intercept"])
        scale, slope = found["lambda_", "Intercept"], found["lambda_", "term"]
        return np.array([-shape * slope, shape, shape * (np.log(12) - scale)])

    def surpyval() -> FloatArray:
        both = np.column_stack([left, np.where(failed, right, left)])
        scale, shape, slope = WeibullPH.fit(x=both, Z=term[:, None], c=np.where(failed, 2, 1)).params
        return np.array([slope, shape, shape * (np.log(12) - np.log(scale))])

    return {OURS: ours, "lifelines WeibullAFTFitter": lifelines, "surpyval WeibullPH": surpyval}


def symmetric_sets(count: int) -> Answers:
    """Mean squared distance of a million shafts to the nearest of 1 to 8 sizes, needs binned on the grid of sizes."""
    step = 200.0 / count
    bins, number = priced.invent(rng=np.random.default_rng(1))
    need, which = np.unique(np.round(bins[:, 0] / step) * step, return_inverse=True)
    weight = np.bincount(which, weights=number).astype(float)
    grid = np.arange(count) * step

    def spread(centres: FloatArray) -> float:
        return float(np.average(((need[:, None] - centres) ** 2).min(axis=1), weights=weight))

    def ours() -> FloatArray:
        return np.array([one.cost for one in best_sets((need[:, None] - grid) ** 2, most=MOST, weight=weight)])

    def scikit_learn() -> FloatArray:
        fits = [KMeans(k, n_init=10, random_state=1) for k in range(1, MOST + 1)]
        return np.array([spread(f.fit(need[:, None], sample_weight=weight).cluster_centers_[:, 0]) for f in fits])

    def plain() -> FloatArray:
        return np.array([spread(lloyd(need, weight, k)) for k in range(1, MOST + 1)])

    def exact() -> FloatArray:
        fits = [ckwrap.ckmeans(need, k, weights=weight) for k in range(1, MOST + 1)]
        return np.array([spread(np.asarray(fit.centers)) for fit in fits])

    return {
        OURS: ours,
        "ckwrap ckmeans": exact,
        "scikit-learn KMeans, ten starts": scikit_learn,
        "plain k-means, one start": plain,
    }


def lloyd(need: FloatArray, weight: FloatArray, k: int) -> FloatArray:
    """Move k centres to the means of what is nearest to them, from even quantiles, until they stand still."""
    centres = need[np.searchsorted(np.cumsum(weight) / weight.sum(), (np.arange(k) + 0.5) / k)]
    while True:
        nearest = np.abs(need[:, None] - centres).argmin(axis=1)
        held = np.bincount(nearest, weights=weight, minlength=k)
        moved = np.bincount(nearest, weights=weight * need, minlength=k) / np.maximum(held, 1e-300)
        moved = np.where(held > 0, moved, centres)
        if np.allclose(moved, centres, rtol=0, atol=1e-9):
            return centres
        centres = moved


def priced_sets(count: int) -> Answers:
    """Cost a shaft of the best 1 to 4 sizes at one-sided prices, needs binned twice as coarsely as sizes."""
    step = 200.0 / count
    bins, number = priced.invent(rng=np.random.default_rng(1))
    bins[:, 0] = np.round(bins[:, 0] / (2 * step)) * 2 * step
    bins, which = np.unique(bins, axis=0, return_inverse=True)
    weight = np.bincount(which.ravel(), weights=number).astype(float)
    every = max(1, len(priced.SIZES_UM) // count)
    cost = priced.price(bins)[:, ::every]

    def ours() -> FloatArray:
        return np.array([one.cost for one in best_sets(cost, most=FEW, weight=weight)])

    return {OURS: ours, "scipy milp": partial(_programmed, cost, weight / weight.sum())}


def _programmed(cost: FloatArray, share: FloatArray) -> FloatArray:
    """Write facility location out for the solver: which sizes are kept, and which bin goes to which of these."""
    bins, sizes = cost.shape
    goes = identity(bins * sizes, format="csr")
    served = hstack([csr_array((bins, sizes)), kron(identity(bins), np.ones((1, sizes)))])
    only = hstack([-kron(np.ones((bins, 1)), identity(sizes)), goes])
    kept = np.concatenate([np.ones(sizes), np.zeros(bins * sizes)])[None]
    rows = csr_array(vstack([served, only, csr_array(kept)]))
    price = np.concatenate([np.zeros(sizes), (cost * share[:, None]).ravel()])
    whole = np.concatenate([np.ones(sizes), np.zeros(bins * sizes)])
    found = []
    for number in range(1, FEW + 1):
        low = np.concatenate([np.ones(bins), np.full(bins * sizes, -np.inf), [number]])
        high = np.concatenate([np.ones(bins), np.zeros(bins * sizes), [number]])
        limits = LinearConstraint(rows, low, high)
        options = {"mip_rel_gap": 1e-9}
        found.append(
            float(milp(price, constraints=limits, integrality=whole, bounds=Bounds(0, 1), options=options).fun)
        )
    return np.array(found)


QUESTIONS = {
    "nested": Question(
        title="variance components, splines nested in shafts",
        unit="shafts",
        sizes=(30, 100, 300, 1000),
        make=nested_variances,
        relative=1e-4,
    ),
    "crossed": Question(
        title="variance components, shafts crossed with five hands",
        unit="shafts",
        sizes=(20, 80, 240),
        make=crossed_variances,
        relative=1e-5,
    ),
    "times": Question(
        title="Kaplan-Meier curve",
        unit="fittings",
        sizes=(10_000, 100_000, 1_000_000),
        make=known_times,
        relative=1e-9,
    ),
    "intervals": Question(
        title="Weibull regression on intervals",
        unit="fittings",
        sizes=(500, 5000, 50_000),
        make=seen_now_and_then,
        relative=0.0,
        absolute=lambda size: 0.01 / size**0.5,
    ),
    "symmetric": Question(
        title="best sets of 1 to 8 sizes, squared distance",
        unit="sizes on the grid",
        sizes=(100, 200, 400),
        make=symmetric_sets,
        relative=0.0,
        absolute=lambda size: (200.0 / size) ** 2 / 4,
    ),
    "priced": Question(
        title="best sets of 1 to 4 sizes, one-sided prices",
        unit="sizes on the grid",
        sizes=(20, 40, 50),
        make=priced_sets,
        relative=1e-6,
    ),
}
