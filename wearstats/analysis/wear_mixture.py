"""The distribution of true wear over shafts: new ones as a normal, mixed with a continuous family of wear.

What a shaft has lost is read with a known error, so the histogram of readings is wider than the truth. Here the truth
is a law with parameters, and its likelihood is that of the readings, the error integrated out::

    read below new = new + wear + error,    new ~ normal(new mean, new sd),    wear = 0 with the unworn share,
                                            else gamma, Weibull or lognormal,  error ~ normal(0, known sd)

The integral over wear is a sum over quantiles of the family, so a fit of hundreds of shafts takes a fraction of a
second, and large fleets are first counted into cells.

References
----------
.. [1] B. Efron, Empirical Bayes deconvolution estimates, Biometrika 103 (2016) 1-20.
.. [2] G. McLachlan, D. Peel, Finite Mixture Models, Wiley 2000 (2.4 starting values; 6.9 choosing a family).
.. [3] K. P. Burnham, D. R. Anderson, Model Selection and Multimodel Inference, 2nd ed., Springer 2002, 4.3
   (unconditional standard errors).
.. [4] H. White, Maximum likelihood estimation of misspecified models, Econometrica 50 (1982) 1-25.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

import numpy as np
from scipy import optimize, special

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.reml import FloatArray
from wearstats.errors import AnalysisError

FAMILIES = ("gamma", "weibull", "lognormal")
"""The families of wear that are compared."""

NEW_MEAN_SD_UM = 4.0
"""How far the mean of new shafts may lie from the nominal width: a weak normal prior, half a usual tolerance."""

LEAST_SHAFTS = 30
"""Fewer shafts than that bear no mixture of five parameters (judgement)."""

_WIDEST_SHARE = 0.5
_CELL_UM = 0.5
_Z95 = 1.959963984540054
_DROP = 3.841458820694124


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
    parameters : ndarray, shape (5,)
        Logit of `unworn`, new mean, log new sd, log shape, log mean.
    covariance : ndarray, shape (5, 5)
        Of their errors.
    """

    family: str
    unworn: float
    new_mean_um: float
    new_sd_um: float
    shape: float
    mean_um: float
    aic: float
    parameters: FloatArray
    covariance: FloatArray

    def to_dict(self) -> dict[str, float | str]:
        """Give the part of the ``--json`` document."""
        return {
            "family": self.family,
            "unworn": self.unworn,
            "new_mean_um": self.new_mean_um,
            "new_sd_um": self.new_sd_um,
            "shape": self.shape,
            "mean_um": self.mean_um,
            "aic": self.aic,
        }

    def cumulative(self, below_new_um: FloatArray) -> FloatArray:
        """Share of shafts that have lost less than that, new spread included."""
        return _cumulative(self.family, self.parameters, below_new_um)

    def density(self, below_new_um: FloatArray) -> FloatArray:
        """Density of what shafts have lost, per um, same shape as the argument."""
        wear, weight = _wear_grid(self.family, self.parameters)
        _, new_mean, new_sd, _, _ = _natural(self.parameters)
        at = np.asarray(below_new_um, dtype=float)[..., None] - wear - new_mean
        return np.asarray(np.exp(-0.5 * (at / new_sd) ** 2) @ weight / (new_sd * np.sqrt(2 * np.pi)))

    def quantile(self, probability: float) -> float:
        """Give what that share of the shafts has lost less than, um."""
        return _quantile(self.family, self.parameters, probability)

    def at(self, worn: FloatArray, lost: FloatArray, new: FloatArray) -> FloatArray:
        """Give true losses below the nominal new width, um, for given chances.

        Parameters
        ----------
        worn, lost : ndarray, shape (n,)
            Uniform numbers that decide whether a shaft is worn, and how much.
        new : ndarray, shape (n,)
            Standard normal numbers that decide its width when new.
        """
        wear = np.where(worn >= self.unworn, family_quantile(self.family, self.shape, self.mean_um, lost), 0.0)
        return np.asarray(self.new_mean_um + self.new_sd_um * new + wear)

    def moved(self, *, rng: np.random.Generator) -> WearLaw:
        """Draw another law from the errors of the parameters."""
        values, vectors = np.linalg.eigh(self.covariance)
        step = vectors @ (np.sqrt(np.maximum(values, 0.0)) * rng.standard_normal(values.size))
        theta = np.clip(self.parameters + step, *np.array(_BOUNDS).T)
        unworn, new_mean, new_sd, shape, mean = _natural(theta)
        return replace(
            self, unworn=unworn, new_mean_um=new_mean, new_sd_um=new_sd, shape=shape, mean_um=mean, parameters=theta
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearMixture:
    """The fitted families, the best first.

    Parameters
    ----------
    laws : tuple of WearLaw
        In order of Akaike's criterion.
    unworn_share : Estimate
        With its profile-likelihood interval; status ``none`` where unworn shafts cannot be told from little worn ones.
    shafts : int
        How many stand behind it.
    """

    laws: tuple[WearLaw, ...]
    unworn_share: Estimate
    shafts: int

    @property
    def law(self) -> WearLaw:
        """The best."""
        return self.laws[0]

    @property
    def weights(self) -> FloatArray:
        """Akaike's weights of the families, shape (3,)."""
        relative = np.exp(-0.5 * np.array([law.aic - self.law.aic for law in self.laws]))
        return np.asarray(relative / relative.sum())

    def quantile_um(self, probability: float, *, common_se_um: float) -> Estimate:
        """Give what a share of the shafts has lost less than; what all readings share adds to the doubt."""
        return self._average([_quantile_and_error(law, probability) for law in self.laws], common_se_um)

    def _average(self, told: list[tuple[float, float]], common_se_um: float) -> Estimate:
        """Average the families by Akaike's weights; what they disagree about widens the interval [3]_."""
        weights = self.weights
        values, errors = np.array(told).T
        mean = float(weights @ values)
        own = float(weights @ np.sqrt(errors**2 + (values - mean) ** 2))
        se = float(np.hypot(own, common_se_um))
        low, high = mean - _Z95 * se, mean + _Z95 * se
        worn = mean - self.law.new_mean_um
        if worn > 2 * se:  # well above the new ones errors grow with the wear: the interval is even on its logarithm
            ratio = float(np.exp(_Z95 * se / worn))
            low, high = self.law.new_mean_um + worn / ratio, self.law.new_mean_um + worn * ratio
        return Estimate(
            value=mean,
            low=low,
            high=high,
            method="maximum likelihood, new shafts mixed with gamma, Weibull or lognormal wear (averaged by Akaike's "
            "weights), the readings' error integrated out",
        )


def _quantile_and_error(law: WearLaw, probability: float) -> tuple[float, float]:
    """Quantile and its standard error under one family: its slope is that of the share below it over the density."""
    value = law.quantile(probability)
    at, step = np.array(value), 1e-3
    slope = np.array(
        [
            float(_cumulative(law.family, law.parameters + move, at))
            - float(_cumulative(law.family, law.parameters - move, at))
            for move in step * np.eye(law.parameters.size)
        ]
    ) / (2 * step * float(law.density(at)))
    return value, max(float(slope @ law.covariance @ slope), 0.0) ** 0.5


def fit_wear_mixture(
    below_new_um: FloatArray, error_sd_um: FloatArray, *, new_sd_um: float | None = None, unworn: bool = True
) -> WearMixture:
    """Fit all families.

    Parameters
    ----------
    below_new_um : ndarray, shape (shafts,)
        Mean of each shaft as read, not drawn towards anything (positive: metal lost).
    error_sd_um : ndarray, shape (shafts,)
        Known standard deviation of its error.
    new_sd_um : float, optional
        Spread of new shafts where it is set (from the tolerance) instead of estimated.
    unworn : bool
        Whether to give the unworn share its interval, which costs most of the time.

    Returns
    -------
    WearMixture

    Raises
    ------
    AnalysisError
        With fewer than `LEAST_SHAFTS` shafts.
    """
    if below_new_um.size < LEAST_SHAFTS:
        raise AnalysisError(
            f"{below_new_um.size} shafts are too few for the shape of their wear",
            needed=f"readings of at least {LEAST_SHAFTS} shafts",
        )
    likelihood = _Likelihood(below_new_um, error_sd_um, new_sd_um=new_sd_um)
    laws = sorted((likelihood.fit(family, thorough=unworn) for family in FAMILIES), key=lambda law: law.aic)
    share = _unworn_share(likelihood, laws) if unworn else no_estimate("the unworn share was not asked for")
    return WearMixture(laws=tuple(laws), unworn_share=share, shafts=int(below_new_um.size))


class _Likelihood:
    """The likelihood of the readings, counted into cells where there are many."""

    def __init__(self, below_new_um: FloatArray, error_sd_um: FloatArray, *, new_sd_um: float | None) -> None:
        self.new_sd_um = new_sd_um
        if below_new_um.size > 5000:
            cells = np.stack([np.round(below_new_um / _CELL_UM), np.round(error_sd_um / _CELL_UM)])
            values, counts = np.unique(cells, axis=1, return_counts=True)
            self.y, self.sd = values[0] * _CELL_UM, np.maximum(values[1] * _CELL_UM, 0.5 * _CELL_UM)
            self.count = counts.astype(float)
        else:
            self.y, self.sd, self.count = below_new_um, error_sd_um, np.ones(below_new_um.size)

    def minus_log(self, family: str, theta: FloatArray) -> float:
        """Minus the log likelihood with its weak prior."""
        return self.with_slope(family, theta)[0]

    def with_slope(self, family: str, theta: FloatArray) -> tuple[float, FloatArray]:
        """Minus the log likelihood with its weak prior, and its slope, shape (5,)."""
        log_density, scores = self.scores(family, theta)
        scaled = (theta - _PRIOR_MEAN) / _PRIOR_SD
        value = 0.5 * float(scaled @ scaled) - float(self.count @ log_density)
        return value, scaled / _PRIOR_SD - self.count @ scores

    def scores(self, family: str, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Logarithm of each reading's density, shape (n,), and its slopes, shape (n, 5)."""
        unworn, new_mean, new_sd, shape, mean_um = _natural(theta)
        wear, weight = _wear_grid(family, theta)
        variance = (new_sd**2 + self.sd**2)[:, None]
        at = self.y[:, None] - new_mean - wear
        kernel = np.exp(-0.5 * at**2 / variance) / np.sqrt(variance)
        mass = kernel * weight
        density = np.maximum(mass.sum(axis=1), 1e-300)
        pull = mass * at / variance
        # how the quantiles of wear move with the shape, by a small step
        moved = np.append(0.0, family_quantile(family, shape * 1.0001, mean_um, _LEVEL))
        slopes = np.stack(
            [
                unworn * (1 - unworn) * (kernel[:, 0] - kernel[:, 1:] @ _LEVEL_WEIGHT),
                pull.sum(axis=1),
                (mass * (at**2 / variance - 1) * (new_sd**2 / variance)).sum(axis=1),
                pull @ (moved - wear) / np.log(1.0001),
                pull @ wear,
            ],
            axis=1,
        )
        return np.log(density), slopes / density[:, None]

    def fit(
        self,
        family: str,
        *,
        logit_unworn: float | None = None,
        start: FloatArray | None = None,
        thorough: bool = True,
    ) -> WearLaw:
        """Maximise, the unworn share held where it is given; from two starts if it is to be thorough."""
        held = {} if logit_unworn is None else {0: logit_unworn}
        if self.new_sd_um is not None:
            held[2] = float(np.log(self.new_sd_um))
        free = np.array([k for k in range(5) if k not in held])
        best: tuple[float, FloatArray] | None = None
        starts = self._starts()[: 2 if thorough else 1] if start is None else [start]
        for first in starts:
            full = first.copy()
            for k, value in held.items():
                full[k] = value

            def objective(part: FloatArray, full: FloatArray = full) -> tuple[float, FloatArray]:
                theta = full.copy()
                theta[free] = part
                value, slope = self.with_slope(family, theta)
                return value, slope[free]

            found = optimize.minimize(
                objective, full[free], jac=True, method="L-BFGS-B", bounds=[_BOUNDS[k] for k in free]
            )
            theta = full.copy()
            theta[free] = found.x
            if best is None or found.fun < best[0]:
                best = (float(found.fun), theta)
        assert best is not None
        value, theta = best
        covariance = np.zeros((5, 5))
        if logit_unworn is None:
            covariance[np.ix_(free, free)] = _parameter_covariance(self, family, theta, free)
        unworn, new_mean, new_sd, shape, mean = _natural(theta)
        return WearLaw(
            family=family,
            unworn=unworn,
            new_mean_um=new_mean,
            new_sd_um=new_sd,
            shape=shape,
            mean_um=mean,
            aic=2 * value + 2 * free.size,
            parameters=theta,
            covariance=covariance,
        )

    def _starts(self) -> list[FloatArray]:
        spread = float(np.sqrt(np.average((self.y - np.average(self.y, weights=self.count)) ** 2, weights=self.count)))
        mean = max(float(np.average(self.y, weights=self.count)), 2.0)
        return [
            np.array([np.log(share / (1 - share)), 0.0, np.log(6.0), np.log(shape), np.log(max(worn, spread / 3))])
            for share, shape, worn in ((0.1, 1.2, mean / 0.9), (0.4, 2.0, mean / 0.6))
        ]


# weak: an unworn share between a tenth of a percent and all but that, a new mean within about a tolerance of the
# nominal width, a spread of new shafts within a factor of seven of 6 um, a shape within a factor of about twenty of 1
_PRIOR_MEAN = np.array([0.0, 0.0, np.log(6.0), 0.0, 0.0])
_PRIOR_SD = np.array([5.0, NEW_MEAN_SD_UM, 1.0, 1.5, np.inf])
_BOUNDS = ((-7.0, 7.0), (-30.0, 30.0), (np.log(0.5), np.log(60.0)), (np.log(0.02), np.log(50.0)), (0.0, np.log(2000.0)))


def _natural(theta: FloatArray) -> tuple[float, float, float, float, float]:
    logit, new_mean, log_new_sd, log_shape, log_mean = (float(value) for value in theta)
    return 1 / (1 + exp(-logit)), new_mean, exp(log_new_sd), exp(log_shape), exp(log_mean)


def family_quantile(family: str, shape: float, mean_um: float, level: FloatArray) -> FloatArray:
    """Give the wear that a share `level` of worn shafts stays below, um, same shape as `level`."""
    if family == "gamma":
        return np.asarray(special.gammaincinv(shape, level) * (mean_um / shape))
    if family == "weibull":
        return np.asarray((-np.log1p(-level)) ** (1 / shape) * (mean_um / special.gamma(1 + 1 / shape)))
    return np.asarray(np.exp(shape * special.ndtri(level) - 0.5 * shape**2) * mean_um)


def _levels(nodes: int) -> tuple[FloatArray, FloatArray]:
    """Gauss points of the levels 0 to 1 and their weights, thinned out to both ends, where quantiles run away."""
    at, weight = np.polynomial.legendre.leggauss(nodes)
    even = 0.5 * (1 + at)
    return even**2 * (3 - 2 * even), 3 * weight * even * (1 - even)


_LEVEL, _LEVEL_WEIGHT = _levels(200)


def _wear_grid(family: str, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Wear and its weights: first none at all with the unworn share, then the family's quantiles."""
    unworn, _, _, shape, mean_um = _natural(theta)
    wear = family_quantile(family, shape, mean_um, _LEVEL)
    return np.append(0.0, wear), np.append(unworn, (1 - unworn) * _LEVEL_WEIGHT)


def _cumulative(family: str, theta: FloatArray, below_new_um: FloatArray) -> FloatArray:
    wear, weight = _wear_grid(family, theta)
    _, new_mean, new_sd, _, _ = _natural(theta)
    at = np.asarray(below_new_um, dtype=float)[..., None] - wear - new_mean
    return np.asarray(special.ndtr(at / new_sd) @ weight)


def _quantile(family: str, theta: FloatArray, probability: float) -> float:
    _, new_mean, new_sd, shape, mean_um = _natural(theta)
    low = new_mean - 8 * new_sd
    top = family_quantile(family, shape, mean_um, np.array(0.5 * (1 + probability)))
    high = new_mean + 8 * new_sd + float(top)
    return float(
        optimize.brentq(
            lambda x: float(_cumulative(family, theta, np.array(x))) - probability, low, 2 * high, xtol=1e-6
        )
    )


def _parameter_covariance(
    likelihood: _Likelihood, family: str, theta: FloatArray, free: np.ndarray[tuple[int], np.dtype[np.int64]]
) -> FloatArray:
    """Errors of the parameters: in every direction the larger of what the family and what the shafts' own scatter say.

    The inverse of the observed information holds if the family is right; the sandwich of it around the scatter of the
    slopes holds if it is not [4]_, but is unsteady for few shafts.
    """
    step = 1e-3
    second = np.array(
        [
            (likelihood.with_slope(family, theta + move)[1] - likelihood.with_slope(family, theta - move)[1])[free]
            for move in step * np.eye(5)[free]
        ]
    ) / (2 * step)
    values, vectors = np.linalg.eigh(0.5 * (second + second.T))
    root = vectors / np.sqrt(np.maximum(values, 1e-3))
    slopes = likelihood.scores(family, theta)[1][:, free] @ root
    scatter, turn = np.linalg.eigh((slopes.T * likelihood.count) @ slopes)
    root = root @ turn
    return np.asarray((root * np.maximum(scatter, 1.0)) @ root.T)


def _unworn_share(likelihood: _Likelihood, laws: list[WearLaw]) -> Estimate:
    """Profile the share under every family that fits about as well, and refuse where it is not told.

    Families within 2 of the best criterion are all taken: what they disagree about is not known.
    """
    near = [law for law in laws if law.aic <= laws[0].aic + 2]
    ends = [_profile(likelihood, law) for law in near]
    low, high = min(low for low, _ in ends), max(high for _, high in ends)
    if high - low > _WIDEST_SHARE:
        return no_estimate(
            f"unworn shafts cannot be told from little worn ones: anything from {100 * low:.0f} to {100 * high:.0f} in "
            "100 would fit; the widths of some shafts known to be new would tell"
        )
    families = ", ".join(law.family for law in near)
    return Estimate(
        value=laws[0].unworn if laws[0].unworn > 2e-3 else 0.0,
        low=low,
        high=high,
        method=f"weight of the unworn in the mixture; profile likelihood over {families} wear",
    )


def _profile(likelihood: _Likelihood, law: WearLaw) -> tuple[float, float]:
    """Shares at which twice the log likelihood has dropped by the 95 % point of chi-square, 0 and 1 at the ends."""
    best = likelihood.minus_log(law.family, law.parameters)
    centre = float(law.parameters[0])

    def rise(logit: float) -> float:
        """Signed root of the drop, nearly linear in the logit, against the one that is allowed."""
        held = likelihood.fit(law.family, logit_unworn=logit, start=law.parameters)
        drop = 2 * (likelihood.minus_log(law.family, held.parameters) - best)
        return float(np.sqrt(max(drop, 0.0)) - np.sqrt(_DROP))

    edges = []
    for end in (_BOUNDS[0][0], _BOUNDS[0][1]):
        if abs(end - centre) < 1e-3 or rise(end) < 0:
            edges.append(0.0 if end < 0 else 1.0)
        else:
            logit = float(optimize.brentq(rise, *sorted((centre, end)), xtol=0.05, rtol=0.01))
            edges.append(float(1 / (1 + np.exp(-logit))))
    return edges[0], edges[1]
