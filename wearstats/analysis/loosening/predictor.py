"""The law of working loose once it is fitted: no more of it than predicting one more hub takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from wearstats.analysis.numerics.covariance_roots import symmetric_root
from wearstats.domain.arrays import FloatArray

REFERENCE_MONTHS = 12.0
"""The level counts for a year."""

_PER_UM = 10.0


@dataclass(frozen=True, slots=True)
class LineTerm:
    """The straight term: the gap from a centre, in 10 um.

    Parameters
    ----------
    centre_um : float
        Gap at which it is 0.
    """

    centre_um: float

    def __call__(self, gap_um: FloatArray) -> FloatArray:
        """Give the term of gaps of any shape, a last axis of 1 longer."""
        return np.asarray((gap_um - self.centre_um)[..., None] / _PER_UM)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LooseningLaw:
    """The law with its doubt.

    Parameters
    ----------
    names : tuple of str
        Covariates.
    covariate_means : ndarray, shape (effects,)
        Their means over the fittings, from which they count.
    parameters : ndarray, shape (size,)
        Level, slopes, effects, log shape, logit of the chance of an unasked report.
    covariance : ndarray, shape (size, size)
        Of their errors.
    term : callable
        Gap in um, any shape, to the terms, a last axis longer.
    """

    names: tuple[str, ...]
    covariate_means: FloatArray
    parameters: FloatArray
    covariance: FloatArray
    term: Callable[[FloatArray], FloatArray]

    def never_safer_wider(self) -> LooseningLaw:
        """Take for granted that a wider gap is never safer: the slope's doubt cut off at 0, by its first two moments.

        Of some twenty failures a slope below 0 comes by chance, and loose hubs would be sent on its word; the other
        parameters go along as far as they hang on the slope (truncated normal moments: N. L. Johnson, S. Kotz, N.
        Balakrishnan, Continuous Univariate Distributions 1, 2nd ed., Wiley 1994, 10.1). A law with several terms stays.
        """
        if not isinstance(self.term, LineTerm):
            return self
        slope, variance = float(self.parameters[1]), float(self.covariance[1, 1])
        if variance <= 0:
            return self
        sd = variance**0.5
        cut = -slope / sd
        ahead = np.exp(-(cut**2) / 2 - special.log_ndtr(-cut)) / np.sqrt(2 * np.pi)
        mean, left = slope + sd * ahead, variance * (1 + cut * ahead - ahead**2)
        along = self.covariance[:, 1] / variance
        return replace(
            self,
            parameters=self.parameters + along * (float(mean) - slope),
            covariance=self.covariance - np.outer(along, along) * (variance - float(left)),
        )

    def risk_draws(
        self, gap_um: FloatArray, covariates: FloatArray, months: FloatArray, *, normal: FloatArray
    ) -> FloatArray:
        """Predict one more fitting: draws of its risk, the law's own doubt in them.

        Parameters
        ----------
        gap_um : ndarray, shape (draws,)
            Drawn gaps.
        covariates : ndarray, shape (effects,)
            What is known of it beside the gap, in the order of `names`.
        months : ndarray, shape (months,)
            When.
        normal : ndarray, shape (draws, size)
            Standard normal numbers for the parameters.

        Returns
        -------
        ndarray, shape (draws, months)
        """
        drawn = self.parameters + normal @ symmetric_root(self.covariance)
        terms = self.term(gap_um)
        slopes = terms.shape[-1]
        line = drawn[:, 0] + np.einsum("ds,ds->d", terms, drawn[:, 1 : 1 + slopes])
        line = line + drawn[:, 1 + slopes : -2] @ (covariates - self.covariate_means)
        log_time = np.log(months / REFERENCE_MONTHS)
        return np.asarray(-np.expm1(-np.exp(np.minimum(line[:, None] + np.exp(drawn[:, -2:-1]) * log_time, 50.0))))
