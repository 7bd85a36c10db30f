"""The likelihood of what was read of shafts under a law of wear, the readings' error integrated out.

    read below new = lost + error,    error ~ normal(0, known sd of that shaft)

The chance of a reading from every cell of loss is worked out once; a law is then tried by one product of a matrix with
the chances of its cells. Large fleets are first counted into cells of reading and error.

References
----------
.. [1] B. Efron, Empirical Bayes deconvolution estimates, Biometrika 103 (2016) 1-20.
.. [2] G. McLachlan, D. Peel, Finite Mixture Models, Wiley 2000 (2.4 starting values).
.. [3] J. C. W. Rayner, O. Thas, D. J. Best, Smooth Tests of Goodness of Fit, 2nd ed., Wiley 2009 (chapter 8, parameters
   estimated).
"""

from __future__ import annotations

import numpy as np
from scipy import special

from wearstats.analysis.numerics.bounded_bfgs import descend
from wearstats.analysis.wear.families import Cells, WearLaw, law_masses, natural
from wearstats.domain.arrays import FloatArray

NEW_MEAN_SD_UM = 4.0
"""How far the mean of new shafts may lie from the nominal width: a weak normal prior, half a usual tolerance."""

_CELL_UM = 0.5  # large fleets are counted so
_MANY = 5000
_MOST_CELLS = 250
_WAVES = 8
_LEFT = 0.3
_STRAY = 1e-9  # density of a reading that no law explains, per um: keeps the logarithm finite

# weak: an unworn share between a tenth of a percent and all but that, a new mean within about a tolerance of the
# nominal width, a spread of new shafts within a factor of seven of 6 um, a shape within a factor of about twenty of 1
_PRIOR_MEAN = np.array([0.0, 0.0, np.log(6.0), 0.0, 0.0])
_PRIOR_SD = np.array([5.0, NEW_MEAN_SD_UM, 1.0, 1.5, np.inf])
BOUNDS = np.array([(-7.0, 7.0), (-30.0, 30.0), np.log((0.5, 60.0)), np.log((0.02, 50.0)), (0.0, np.log(2000.0))])
"""What the parameters may be, shape (5, 2)."""


class WearLikelihood:
    """The likelihood of the readings as a function of a law.

    Parameters
    ----------
    below_new_um, error_sd_um : ndarray, shape (shafts,)
        What was read of each shaft, and the standard deviation of its error.
    new_sd_um : float or None
        Spread of new shafts where it is set.
    """

    def __init__(self, below_new_um: FloatArray, error_sd_um: FloatArray, *, new_sd_um: float | None = None) -> None:
        self.new_sd_um = new_sd_um
        self.shafts = below_new_um.size
        if self.shafts > _MANY:
            # both in one whole number, which sorts quickly
            at, wide = (np.round(each / _CELL_UM).astype(np.int64) for each in (below_new_um, error_sd_um))
            keys, counts = np.unique(at * 2**24 + wide, return_counts=True)
            self.y, self.sd = (keys >> 24) * _CELL_UM, np.maximum((keys % 2**24) * _CELL_UM, 0.5 * _CELL_UM)
            self.count = counts.astype(float)
        else:
            self.y, self.sd, self.count = below_new_um, error_sd_um, np.ones(self.shafts)
        self.cells = _cells_for(self.y, self.sd)
        edges = (self.y[:, None] - self.cells.edges_um) / np.maximum(self.sd, 0.05 * self.cells.width_um)[:, None]
        # chance density of each reading from each cell, loss being even within it
        self.kernel: FloatArray = -np.diff(special.ndtr(edges), axis=1) / self.cells.width_um

    def density(self, masses: FloatArray) -> FloatArray:
        """Density of each reading under chances of the cells, shape (readings,)."""
        return self.kernel @ masses + _STRAY

    def with_slope(self, family: str, theta: FloatArray) -> tuple[float, FloatArray]:
        """Minus the log likelihood with its weak prior, and its slope, shape (5,)."""
        masses, slopes = law_masses(family, theta, self.cells)
        density = self.density(masses)
        scaled = (theta - _PRIOR_MEAN) / _PRIOR_SD
        value = 0.5 * float(scaled @ scaled) - float(self.count @ np.log(density))
        return value, scaled / _PRIOR_SD - slopes @ ((self.count / density) @ self.kernel)

    def scores(self, family: str, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Logarithm of each reading's density, shape (readings,), and its slopes, shape (readings, 5)."""
        masses, slopes = law_masses(family, theta, self.cells)
        density = self.density(masses)
        return np.log(density), (self.kernel @ slopes.T) / density[:, None]

    def scatter(self, family: str, theta: FloatArray) -> FloatArray:
        """Scatter of the readings' slopes and the prior's curvature, shape (5, 5): about the curvature near the top."""
        _, scores = self.scores(family, theta)
        return np.asarray((scores.T * self.count) @ scores + np.diag(_PRIOR_SD**-2.0))

    def held(self) -> dict[int, float]:
        """Give the parameters that are set."""
        return {} if self.new_sd_um is None else {2: float(np.log(self.new_sd_um))}

    def maximise(self, family: str, start: FloatArray, held: dict[int, float]) -> tuple[float, FloatArray]:
        """Give minus the log likelihood and the parameters where it is greatest, some of them held."""
        theta = start.copy()
        for k, value in held.items():
            theta[k] = value
        free = np.array([k for k in range(5) if k not in held])
        metric = np.zeros((5, 5))
        scatter = self.scatter(family, theta)[np.ix_(free, free)]
        metric[np.ix_(free, free)] = np.linalg.inv(scatter + 1e-6 * np.diag(np.diag(scatter)))
        return descend(lambda at: self.with_slope(family, at), theta, metric, BOUNDS)

    def fit(self, family: str, *, thorough: bool = True) -> WearLaw:
        """Fit a family; from two starts if it is to be thorough."""
        held = self.held()
        starts = self._starts()[: 2 if thorough else 1]
        value, theta = min((self.maximise(family, start, held) for start in starts), key=lambda found: found[0])
        unworn, new_mean, new_sd, shape, mean = natural(theta)
        return WearLaw(
            family=family,
            unworn=unworn,
            new_mean_um=new_mean,
            new_sd_um=new_sd,
            shape=shape,
            mean_um=mean,
            aic=2 * value + 2 * (5 - len(held)),
            fit_p=self.fit_p(family, theta),
            parameters=theta,
        )

    def curvature(self, family: str, theta: FloatArray) -> FloatArray:
        """Second derivatives of minus the log likelihood, shape (5, 5)."""
        step = 1e-3
        second = np.array(
            [
                self.with_slope(family, theta + move)[1] - self.with_slope(family, theta - move)[1]
                for move in step * np.eye(5)
            ]
        ) / (2 * step)
        return np.asarray(0.5 * (second + second.T))

    def fit_p(self, family: str, theta: FloatArray) -> float:
        """Smooth test of fit with polynomials of the readings' ranks under the law [3]_.

        Where a reading stands among all that the law allows for it is even between 0 and 1 if the law is true. How
        far its polynomials are from their mean 0 is measured beside what fitting the parameters takes away.
        """
        masses, slopes = law_masses(family, theta, self.cells)
        width = self.cells.width_um
        edges = (self.y[:, None] - self.cells.middles_um) / np.maximum(self.sd, 0.05 * width)[:, None]
        total = self.count @ _waves(special.ndtr(edges) @ masses)
        scatter = np.zeros((total.size, total.size))
        order = np.argsort(self.sd)
        passed = np.cumsum(self.count[order]) / self.count.sum()
        for at in (1 / 6, 1 / 2, 5 / 6):
            sd = max(float(self.sd[order][np.searchsorted(passed, at)]), 0.3 * width)
            scatter += self.count.sum() / 3 * _told_by_waves(masses, slopes, sd / width)
        # directions that fitting takes away nearly whole have nothing left to tell
        values, vectors = np.linalg.eigh(scatter)
        kept = values > _LEFT * self.count.sum()
        statistic = float(((total @ vectors[:, kept]) ** 2 / values[kept]).sum())
        return float(special.chdtrc(kept.sum(), statistic))

    def _starts(self) -> list[FloatArray]:
        mean = float(np.average(self.y, weights=self.count))
        spread = float(np.sqrt(np.average((self.y - mean) ** 2, weights=self.count)))
        mean = max(mean, 2.0)
        return [
            np.array([np.log(share / (1 - share)), 0.0, np.log(6.0), np.log(shape), np.log(max(worn, spread / 3))])
            for share, shape, worn in ((0.1, 1.2, mean / 0.9), (0.4, 2.0, mean / 0.6))
        ]


def _waves(rank: FloatArray) -> FloatArray:
    """Legendre polynomials of degree 1 to 8, even and of unit variance over ranks, shape (n, 8)."""
    inside = 2 * np.clip(rank, 0.0, 1.0) - 1
    return np.stack([np.sqrt(2 * k + 1) * special.eval_legendre(k, inside) for k in range(1, _WAVES + 1)], axis=1)


def _told_by_waves(masses: FloatArray, slopes: FloatArray, sd_cells: float) -> FloatArray:
    """Covariance of the polynomials of one reading less what the scores explain, shape (8, 8)."""
    reach = int(np.ceil(5 * sd_cells))
    blur = np.diff(special.ndtr((np.arange(-reach, reach + 2) - 0.5) / sd_cells))
    density = np.convolve(masses, blur)
    slope = np.stack([np.convolve(row, blur) for row in slopes])
    waves = _waves(np.cumsum(density) - 0.5 * density)
    crossed = slope @ waves
    known = (slope / np.maximum(density, 1e-12)) @ slope.T
    return np.asarray((waves.T * density) @ waves - crossed.T @ np.linalg.pinv(known, hermitian=True) @ crossed)


def _cells_for(y: FloatArray, sd: FloatArray) -> Cells:
    """Choose cells that hold all losses the readings allow, and a tail beyond."""
    low, high = float((y - 4 * sd).min()), float((y + 4 * sd).max())
    low, high = min(low, -25.0), max(high, 25.0)
    high += 0.3 * (high - low)
    width = max(1.0, (high - low) / _MOST_CELLS)
    return Cells(start_um=low, width_um=width, count=int(np.ceil((high - low) / width)))
