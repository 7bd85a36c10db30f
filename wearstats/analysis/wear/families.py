"""Laws of wear with a few parameters: new shafts as a normal, mixed with a continuous family of wear.

    lost below the nominal width = new + wear,    new ~ normal(new mean, new sd),
                                                  wear = 0 with the unworn share, else gamma, Weibull or lognormal

A law is worked out as the chances of even cells of width: those of wear, folded with those of the new widths. Cells are
even so that a far tail is as finely summed as the middle; points at quantiles run apart there, and a shaft that falls
between two of them drags the whole fit.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

import numpy as np
from scipy import special

from wearstats.domain.arrays import FloatArray

FAMILIES = ("gamma", "weibull", "lognormal")
"""The families of wear that are compared."""

_REACH = 7.0  # standard deviations of new shafts that are folded in


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """Even cells of what a shaft has lost below the nominal width.

    Parameters
    ----------
    start_um : float
        Lower edge of the first.
    width_um : float
        Of each.
    count : int
        How many.
    """

    start_um: float
    width_um: float
    count: int

    @property
    def edges_um(self) -> FloatArray:
        """Edges, shape (count + 1,)."""
        return np.asarray(self.start_um + self.width_um * np.arange(self.count + 1))

    @property
    def middles_um(self) -> FloatArray:
        """Middles, shape (count,)."""
        return np.asarray(self.start_um + self.width_um * (np.arange(self.count) + 0.5))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearLaw:
    """One fitted family.

    Parameters
    ----------
    family : {"gamma", "weibull", "lognormal"}
        Of wear where there is any.
    unworn : float
        Share of shafts without wear, 0 to 1.
    new_mean_um, new_sd_um : float
        How far below the nominal width new shafts are, and their spread.
    shape, mean_um : float
        Shape of the family (gamma, Weibull: shape; lognormal: SD of the logarithm) and mean of the wear of worn shafts.
    aic : float
        Akaike's criterion; the smaller the better.
    fit_p : float
        Chance of readings that fit no better, were the family the true one; below 0.05 it hardly is.
    parameters : ndarray, shape (5,)
        Logit of `unworn`, new mean, log new sd, log shape, log mean.
    """

    family: str
    unworn: float
    new_mean_um: float
    new_sd_um: float
    shape: float
    mean_um: float
    aic: float
    fit_p: float
    parameters: FloatArray

    def to_dict(self) -> dict[str, float | str]:
        """Give the part of the ``--json`` document."""
        names = ("family", "unworn", "new_mean_um", "new_sd_um", "shape", "mean_um", "aic", "fit_p")
        return {name: getattr(self, name) for name in names}


def natural(theta: FloatArray) -> tuple[float, float, float, float, float]:
    """Unworn share, new mean and sd, shape and mean of wear, from the parameters as they are fitted."""
    logit, new_mean, log_new_sd, log_shape, log_mean = (float(value) for value in theta)
    return 1 / (1 + exp(-logit)), new_mean, exp(log_new_sd), exp(log_shape), exp(log_mean)


def worn_below(family: str, shape: float, mean_um: float, wear_um: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the share of worn shafts with less wear than that, and its slopes.

    Parameters
    ----------
    family : str
        Of `FAMILIES`.
    shape, mean_um : float
        Its parameters.
    wear_um : ndarray, shape (n,)
        Not negative.

    Returns
    -------
    share : ndarray, shape (n,)
    slopes : ndarray, shape (2, n)
        By the logarithms of shape and mean.
    """
    ratio = np.maximum(wear_um / mean_um, 1e-12)
    log = np.log(ratio)
    if family == "gamma":
        step = 1e-4
        share = special.gammainc(shape, shape * ratio)
        by_shape = (special.gammainc(shape * (1 + step), shape * (1 + step) * ratio) - share) / np.log1p(step)
        by_mean = -np.exp(special.xlogy(shape, shape * ratio) - shape * ratio - special.gammaln(shape))
    elif family == "weibull":
        power = shape * (log + special.gammaln(1 + 1 / shape))
        hazard = np.exp(np.minimum(power, 700.0))
        share = -np.expm1(-hazard)
        density = hazard * np.exp(-hazard)
        by_shape = density * (power - special.digamma(1 + 1 / shape))
        by_mean = -shape * density
    else:
        at = log / shape + 0.5 * shape
        density = np.exp(-0.5 * at**2) / np.sqrt(2 * np.pi)
        share = special.ndtr(at)
        by_shape = density * (shape - at)
        by_mean = -density / shape
    none = wear_um <= 0
    return np.where(none, 0.0, share), np.where(none, 0.0, np.stack([by_shape, by_mean]))


def law_masses(family: str, theta: FloatArray, cells: Cells) -> tuple[FloatArray, FloatArray]:
    """Give the chance of every cell under a law, and its slopes by the parameters.

    Parameters
    ----------
    family : str
        Of `FAMILIES`.
    theta : ndarray, shape (5,)
        As in `WearLaw.parameters`.
    cells : Cells
        What a shaft may have lost.

    Returns
    -------
    masses : ndarray, shape (cells,)
        They add up to one but for what lies outside.
    slopes : ndarray, shape (5, cells)
    """
    unworn, new_mean, new_sd, shape, mean_um = natural(theta)
    width = cells.width_um
    share, slope = worn_below(family, shape, mean_um, np.asarray(width * np.arange(cells.count + 1)))
    worn = np.diff(np.vstack([share, slope]), axis=1)
    first = int(np.floor((new_mean - _REACH * new_sd - cells.start_um) / width))
    last = int(np.ceil((new_mean + _REACH * new_sd - cells.start_um) / width)) + 1
    # wear stands in the middle of its cell; edges of what new widths then reach
    offsets = np.asarray(cells.start_um + width * (np.arange(first, last + 1) - 0.5) - new_mean)
    folded = _normal_masses(np.asarray(offsets / new_sd))
    new = _normal_masses((cells.edges_um - new_mean) / new_sd)
    new[1] /= new_sd
    folded[1] /= new_sd

    def fold(wear: FloatArray, widths: FloatArray) -> FloatArray:
        full = np.zeros(cells.count)
        every = np.convolve(wear, widths)[max(-first, 0) :][: cells.count - max(first, 0)]
        full[max(first, 0) : max(first, 0) + every.size] = every
        return full

    all_worn = fold(worn[0], folded[0])
    masses = unworn * new[0] + (1 - unworn) * all_worn
    slopes = np.stack(
        [
            unworn * (1 - unworn) * (new[0] - all_worn),
            unworn * new[1] + (1 - unworn) * fold(worn[0], folded[1]),
            unworn * new[2] + (1 - unworn) * fold(worn[0], folded[2]),
            (1 - unworn) * fold(worn[1], folded[0]),
            (1 - unworn) * fold(worn[2], folded[0]),
        ]
    )
    return masses, slopes


def _normal_masses(edges: FloatArray) -> FloatArray:
    """Chance between edges under a standard normal; its slopes by the mean and by the logarithm of the SD, (3, n)."""
    density = np.exp(-0.5 * edges**2) / np.sqrt(2 * np.pi)
    return np.stack([np.diff(special.ndtr(edges)), -np.diff(density), -np.diff(edges * density)])
