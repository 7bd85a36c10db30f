"""The fitted width model as a thing: components, means, and the limits that stand in where readings cannot tell."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.numerics.design_points import exponential_of_normal, normal_of_exponential
from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.domain.frames import columns

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

_NAMES = list(ASSUMED_UM)

CLASS_MEAN_SD_UM = {"home": 4.0, "workshop": 0.0, "caliper": 10.0}
"""How far the mean of a class may lie from the workshop's where no shaft was measured by both; judgement."""

STATED_SD = 1.0
"""How far the logarithm of a bias's variance may lie from the stated limit (SD): a factor of 1.6 in its standard
deviation, 2.7 at the outside; judgement."""

SHAFTS_UM, SHAFTS_FACTOR = 25.0, 2.0
"""Middle of the spread of shafts as far as is known before any reading, um, and the factor that two in three lie
within: lognormal; judgement. That shafts are alike is not the simplest there is, wear makes them differ; and a spread
taken too small draws worn shafts to the mean."""

ONE_IN_TWENTY_UM: dict[str, float] = {
    "spline": 13.0,
    "shaft_station": 8.5,
    "cell": 6.5,
    "repeatability_home": 10.5,
    "repeatability_workshop": 4.2,
    "repeatability_caliper": 21.0,
}
"""What a standard deviation passes, in um, with a chance of one in twenty as far as is known before any reading:
judgement.

The prior density of each is the exponential one with that end (`wearstats.analysis.numerics.design_points`), under
which the root of the mean square is the stated limit: what readings tell nothing of makes intervals as wide as the
limit does.

Biases are not among them. That hands have none is not the simplest there is, it is known not to be so; and of a few
owners who each read their own shaft, readings alike by chance would be taken for owners without bias. They are weighed
one by one against their limits, as of any fleet (`cautious`).
"""

LIKELY_UM = np.array(
    [ONE_IN_TWENTY_UM[name] / np.log(20) if name in ONE_IN_TWENTY_UM else ASSUMED_UM[name] for name in _NAMES]
)
"""Means of the exponential densities, the middle for shafts and the limits of biases, shape (13,)."""


def spread_of_normal(places: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give spreads other than biases at places of standard normal densities, um, with first and second slope.

    Parameters
    ----------
    places : ndarray, shape (13,)
        Where each is in its prior density; those of biases mean nothing.

    Returns
    -------
    value, slope, bend : ndarray, shape (13,)
    """
    found = exponential_of_normal(places, LIKELY_UM)
    step = np.log(SHAFTS_FACTOR)
    for k, each in enumerate(found):
        each[0] = SHAFTS_UM * np.exp(step * places[0]) * step**k
    return found


def normal_of_spread(value_um: FloatArray) -> FloatArray:
    """Give the places of spreads other than biases in standard normal densities, shape (13,)."""
    found = normal_of_exponential(value_um, LIKELY_UM)
    found[0] = np.log(value_um[0] / SHAFTS_UM) / np.log(SHAFTS_FACTOR)
    return found


FEW_SHAFTS, MANY_SHAFTS = 60, 120
"""Up to the first, spreads are integrated over; from the second on, readings tell them well enough; between the two
both have their weight, so that one more shaft makes no jump."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeighedSpreads:
    """What predictions rest on where few shafts are on record, instead of the spreads as estimated: some points.

    Parameters
    ----------
    weights : ndarray, shape (points,)
        Of the points; they add up to 1.
    variances : ndarray, shape (points, 13)
        The variances at each, um^2.
    means_um : ndarray, shape (points, means)
        The means of stations, groups and classes with these.
    mean_covariances : ndarray, shape (points, means, means)
        Of their errors, um^2.
    prior_share : ndarray, shape (13,)
        How much of what is known of each spread is assumption: what is left of its prior variance, or the limit's
        weight; 1 for those of classes that nobody measured in.
    """

    weights: FloatArray
    variances: FloatArray
    means_um: FloatArray
    mean_covariances: FloatArray
    prior_share: FloatArray

    def with_point(self, weight: float, fit: WidthFit) -> WeighedSpreads:
        """Add a point, the others giving way."""
        return WeighedSpreads(
            weights=np.append(self.weights * (1 - weight), weight),
            variances=np.concatenate([self.variances, fit.variances[None]]),
            means_um=np.concatenate([self.means_um, fit.means["value_um"].to_numpy(dtype=float)[None]]),
            mean_covariances=np.concatenate([self.mean_covariances, fit.mean_covariance[None]]),
            prior_share=self.prior_share * (1 - weight),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WidthFit:
    """The fitted width model.

    Parameters
    ----------
    components_um : dict of str to Estimate
        Standard deviations, by the names of `COMPONENTS`.
    variances : ndarray, shape (13,)
        The same squared, um^2; the predictions use them as `cautious` has them.
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
    weighed : WeighedSpreads or None
        What predictions use instead; None where there are shafts enough.
    """

    components_um: dict[str, Estimate]
    variances: FloatArray
    free: BoolArray
    means: Annotated[pd.DataFrame, columns(text="name", number="value_um se_um")]
    mean_covariance: FloatArray
    variance_covariance: FloatArray
    measurers: Annotated[pd.DataFrame, columns(text="measurer class", number="bias_um sd_um", whole="inspections")]
    units: int
    readings: int
    criterion: float
    weighed: WeighedSpreads | None = None

    def mean_of(self, name: str) -> tuple[float, float] | None:
        """Value and standard error of one mean, in um; None when the model has none such."""
        row = self.means[self.means["name"] == name]
        return None if row.empty else (float(row["value_um"].iloc[0]), float(row["se_um"].iloc[0]))


def cautious(fit: WidthFit) -> WidthFit:
    """Take spreads for as doubtful as they are, for predictions.

    Few inspections by several hands tell the spread of biases badly, and where it comes out too small by chance, or
    zero, every interval that rests on it is too short. So an estimated variance of a bias is weighed against its stated
    limit, on the logarithm, as far as it is itself doubtful, and its mean under what doubt is left is used, which is
    above its middle. Where it is well told nothing changes. The errors of the classes' means go with them. With few
    shafts the other spreads were integrated over when the model was fitted (`WidthFit.weighed`): the means over its
    points are used here, and what is predicted rests on each of them (`spread_points`).

    Parameters
    ----------
    fit : WidthFit
        As estimated.

    Returns
    -------
    WidthFit
        With other `variances`, means and errors of these; the estimates themselves stay. What was taken with caution
        once stays as it is.

    References
    ----------
    .. [1] R. E. Kass, D. Steffey, Approximate Bayesian inference in conditionally independent hierarchical models, JASA
       84 (1989) 717-726 (what estimated components add to the variance of a prediction).
    .. [2] N. G. N. Prasad, J. N. K. Rao, The estimation of the mean squared error of small-area estimators, JASA 85
       (1990) 163-171.
    """
    if fit.weighed is None:
        variances, _ = weigh_biases(fit)
        grown = np.ones(len(fit.means))
        for row, name in enumerate(fit.means["name"]):
            kind = str(name).removeprefix("class:")
            if str(name) != kind:
                parts = [
                    _NAMES.index(f"{part}_{of}") for part in ("measurer", "inspection") for of in (kind, "workshop")
                ]
                grown[row] = max(float(variances[parts].sum() / max(fit.variances[parts].sum(), 1e-9)), 1.0) ** 0.5
        means = fit.means["value_um"].to_numpy(dtype=float)
        covariance = fit.mean_covariance * np.outer(grown, grown)
    else:
        points = fit.weighed
        variances, means = points.weights @ points.variances, points.weights @ points.means_um
        apart = points.means_um - means
        covariance = np.tensordot(points.weights, points.mean_covariances, axes=1) + (apart.T * points.weights) @ apart
    return _at(fit, variances, means, covariance)


def _at(fit: WidthFit, variances: FloatArray, means_um: FloatArray, covariance: FloatArray) -> WidthFit:
    """Give the model with other spreads and means, nothing of which will be weighed again."""
    return replace(
        fit,
        variances=variances,
        free=np.zeros(fit.free.shape, dtype=bool),
        means=fit.means.assign(value_um=means_um, se_um=np.sqrt(np.diag(covariance))),
        mean_covariance=covariance,
        weighed=None,
    )


def spread_points(fit: WidthFit) -> list[tuple[float, WidthFit]]:
    """Give the models that predictions rest on, each with its weight: one where there are shafts enough."""
    points = fit.weighed
    if points is None:
        return [(1.0, cautious(fit))]
    parts = zip(points.variances, points.means_um, points.mean_covariances, strict=True)
    return [(float(weight), _at(fit, *part)) for weight, part in zip(points.weights, parts, strict=True)]


def weigh_biases(fit: WidthFit) -> tuple[FloatArray, FloatArray]:
    """Give the variances with those of biases as doubtful as they are, and how much of these is assumption.

    Parameters
    ----------
    fit : WidthFit
        As estimated.

    Returns
    -------
    variances, share : ndarray, shape (13,)
        In um^2; 1 for what is held at its limit or came out at zero, and 0 for estimates of other spreads.
    """
    bias = np.array([name.startswith(("measurer", "inspection")) for name in _NAMES]) & fit.free
    stated = np.array([ASSUMED_UM[name] ** 2 for name in _NAMES])
    told = bias & (fit.variances > 0)
    safe = np.where(told, fit.variances, 1.0)
    doubt = np.where(told, np.diag(fit.variance_covariance) / safe**2, np.inf)
    weight = STATED_SD**2 / (STATED_SD**2 + doubt)
    middle = np.exp(weight * np.log(safe) + (1 - weight) * np.log(stated))
    left = np.where(told, STATED_SD**2 * (1 - weight), 0.0)
    share = np.where(bias, 1 - weight, np.where(fit.free, 0.0, 1.0))
    return np.where(bias, middle * np.exp(left / 2), fit.variances), share


def mostly_assumed(fit: WidthFit) -> dict[str, float]:
    """Name the spreads of which more is assumed than read, each with what is assumed: a standard deviation in um."""
    share = weigh_biases(fit)[1] if fit.weighed is None else fit.weighed.prior_share
    # of the exponential prior densities too the limit is the root of the mean square
    return {name: ASSUMED_UM[name] for k, name in enumerate(_NAMES) if share[k] > 0.5}


def shared_sd(fit: WidthFit) -> float:
    """Give the error (SD, um) of the mean bias, which all readings at home share; its limit where nothing ties it."""
    tie = cautious(fit).mean_of("class:home")
    return CLASS_MEAN_SD_UM["home"] if tie is None else tie[1]
