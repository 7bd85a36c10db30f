"""The chance of working loose against the gap left: a Weibull law with the gap known only to a distribution.

The likelihood (`wearstats.analysis.loosening.likelihood`) averages over what is known of each gap, so the slope is that
on the true gap. It is steadied by weak penalties, which matter only where failures are few:

* slope on the gap: normal about 0 with SD 1 of log hazard per 10 um (two thirds of such slopes change the hazard by
  less than a factor of 2.7 in 10 um);
* log of the shape: normal about 0 with SD 0.7 (shape 0.25 to 4);
* effects of covariates: normal about 0 with SD 1;
* logit of the chance that a failure is reported unasked: normal about 0 with SD 1.5 (nearly flat over 0 to 1).

What the fit says in numbers with intervals is in `wearstats.analysis.loosening.estimates`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special
from scipy.optimize import minimize

from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.likelihood import LooseningData, log_likelihood, shaft_scores
from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS, LineTerm, LooseningLaw
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError

SLOPE_SD, SHAPE_SD, EFFECT_SD, CHANCE_SD = 1.0, 0.7, 1.0, 1.5
LEVEL_SD = 10.0
_UNPENALISED_SD = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChoiceDoubt:
    """What is not known of how hubs were chosen, and moves all gaps alike.

    Parameters
    ----------
    covariance : ndarray, shape (size, size)
        What it adds to the covariance of the parameters.
    slope_without : float
        Log hazard per 10 um if hubs had been chosen on the readings in hand alone.
    """

    covariance: FloatArray
    slope_without: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LooseningFit:
    """The fitted law.

    Parameters
    ----------
    data : LooseningData
        What was fitted.
    names : tuple of str
        Covariates.
    covariate_means : ndarray, shape (effects,)
        Their means over the fittings, from which they count.
    centre_um : float
        Gap at which the terms are 0.
    parameters : ndarray, shape (size,)
        Level, slopes, effects, log shape, logit of the chance of an unasked report.
    covariance : ndarray, shape (size, size)
        Inverse of the penalised information, and what doubt of the choice adds.
    information : ndarray, shape (size, size)
        Of the data alone.
    log_likelihood : float
        Without penalties.
    penalised : float
        With them.
    term : callable
        Gap in um, any shape, to the terms, a last axis longer.
    gaps_um : ndarray, shape (fittings,)
        What was expected of each gap, in the order of `data`.
    penalty_sd : ndarray, shape (size,)
        The penalties' standard deviations.
    choice : ChoiceDoubt or None
        What is not known of how hubs were chosen; None where they are not read as signs of the width.
    """

    data: LooseningData
    names: tuple[str, ...]
    covariate_means: FloatArray
    centre_um: float
    parameters: FloatArray
    covariance: FloatArray
    information: FloatArray
    log_likelihood: float
    penalised: float
    term: Callable[[FloatArray], FloatArray]
    gaps_um: FloatArray
    penalty_sd: FloatArray
    choice: ChoiceDoubt | None = None

    @property
    def told_covariance(self) -> FloatArray:
        """Covariance by the penalised likelihood alone, shape (size, size)."""
        return self.covariance if self.choice is None else self.covariance - self.choice.covariance

    @property
    def failures(self) -> int:
        """How many worked loose."""
        return int(self.data.failed.sum())

    @property
    def slope(self) -> float:
        """Change of the log hazard per 10 um."""
        return float(self.parameters[1])

    @property
    def shape(self) -> float:
        """Weibull shape."""
        return float(np.exp(self.parameters[-2]))

    @property
    def chance(self) -> float:
        """Chance that a failure is reported unasked."""
        return float(1.0 / (1.0 + np.exp(-self.parameters[-1])))

    def levels(self) -> FloatArray:
        """Log of the expected failures within a year, node by node, in the order of `data`; (fittings, nodes)."""
        slopes = self.data.slopes
        gap = self.data.terms @ self.parameters[1 : 1 + slopes]
        return np.asarray(self.parameters[0] + gap + (self.data.covariates @ self.parameters[1 + slopes : -2])[:, None])

    def fitting_risks(self, months: float) -> FloatArray:
        """Give the chance of every fitting, as known on the day of choice, to have worked loose by some months."""
        hazard = np.exp(np.minimum(self.levels() + self.shape * np.log(months / REFERENCE_MONTHS), 50.0))
        return np.asarray(-np.expm1(-hazard).mean(axis=1))

    @property
    def law(self) -> LooseningLaw:
        """What predicting one more hub takes."""
        return LooseningLaw(
            names=self.names,
            covariate_means=self.covariate_means,
            parameters=self.parameters,
            covariance=self.covariance,
            term=self.term,
        )

    def assumed_share(self, index: int) -> float:
        """Share of what is known of a parameter that comes from its penalty, 0 to 1."""
        penalty = 1.0 / self.penalty_sd[index] ** 2
        others = np.delete(np.arange(self.parameters.size), index)
        full = self.information + np.diag(1.0 / self.penalty_sd**2)
        rest = full[np.ix_(others, others)]
        told = self.information[index, index] - full[index, others] @ np.linalg.solve(rest, full[others, index])
        return float(penalty / (penalty + max(told, 0.0)))

    def log_hazards(self, gap_um: FloatArray, months: float) -> tuple[FloatArray, FloatArray]:
        """Log cumulative hazard at gaps, averaged over the fittings on record so that risks are, and its derivative.

        Parameters
        ----------
        gap_um : ndarray, shape (gaps,)
            Gaps left.
        months : float
            Months since the fitting.

        Returns
        -------
        ndarray, shape (gaps,)
            ``log(-log(1 - risk))``, the risk averaged over the covariates of the fittings on record.
        ndarray, shape (gaps, size)
            Its derivative by the parameters.
        """
        parameters = self.parameters
        terms = self.term(np.asarray(gap_um, dtype=float))
        slopes = terms.shape[-1]
        log_time = np.log(months / REFERENCE_MONTHS)
        line = parameters[0] + terms @ parameters[1 : 1 + slopes] + self.shape * log_time
        # risks are averaged over the fittings on record, not covariates: a hub of the mean duty does not exist
        rows, count = np.unique(self.data.covariates, axis=0, return_counts=True)
        share = count / count.sum()
        effect = rows @ parameters[1 + slopes : -2]
        hazard = np.exp(np.minimum(line[:, None] + effect, 50.0))
        survival = np.exp(-hazard)
        tight = np.clip(survival @ share, 1e-300, 1.0 - 1e-15)
        total = -np.log(tight)
        weight = survival * hazard * share / (tight * total)[:, None]
        by_line = weight.sum(axis=1)
        derivative = np.concatenate(
            [
                by_line[:, None],
                by_line[:, None] * terms,
                weight @ rows,
                (by_line * self.shape * log_time)[:, None],
                np.zeros((line.size, 1)),
            ],
            axis=1,
        )
        return np.log(total), derivative

    def risks(self, gap_um: FloatArray, months: float, *, level: float = 0.95) -> tuple[FloatArray, ...]:
        """Chance of having worked loose by some months, low and high, each of shape (gaps,)."""
        log_hazard, derivative = self.log_hazards(gap_um, months)
        sd = np.sqrt(np.maximum(np.einsum("gp,pq,gq->g", derivative, self.covariance, derivative), 0.0))
        reach = float(special.ndtri(0.5 + level / 2)) * sd
        return tuple(-np.expm1(-np.exp(np.minimum(log_hazard + shift, 50.0))) for shift in (0.0, -reach, reach))


def fit_loosening(
    histories: SilentHistories,
    gaps: GapNodes,
    *,
    covariates: FloatArray | None = None,
    names: Sequence[str] = (),
    term: Callable[[FloatArray], FloatArray] | None = None,
    start: FloatArray | None = None,
    steadied: bool = True,
) -> LooseningFit:
    """Fit the law.

    Parameters
    ----------
    histories : SilentHistories
        Fittings that ran.
    gaps : GapNodes
        What is known of their gaps, in the same order.
    covariates : ndarray, shape (fittings, effects), optional
        0 and 1, or numbers of order 1; they are centred.
    names : sequence of str
        Their names.
    term : callable, optional
        Functions of the gap; the straight line by default.
    start : ndarray, optional
        Parameters to start from.
    steadied : bool
        Whether the weak penalties are put on; without them it is plain maximum likelihood.

    Returns
    -------
    LooseningFit

    Raises
    ------
    AnalysisError
        Without a failure.
    """
    if not histories.failed.any():
        raise AnalysisError(
            "no hub whose gap is known has worked loose", needed="failures on record; till then only a bound on risk"
        )
    n = len(histories)
    centre = float(gaps.mean_um.mean())
    chosen = term or LineTerm(centre)
    beside = np.zeros((n, 0)) if covariates is None else np.asarray(covariates, dtype=float)
    data = LooseningData.of_gaps(histories, gaps, chosen, beside - beside.mean(axis=0))
    order = np.argsort(histories.shaft, kind="stable")
    sd = np.concatenate(
        [[LEVEL_SD], np.full(data.slopes, SLOPE_SD), np.full(data.effects, EFFECT_SD), [SHAPE_SD, CHANCE_SD]]
    )
    if not steadied:
        sd = np.full(data.size, _UNPENALISED_SD)
    objective = Objective(data, sd)
    parameters = objective.maximise(_start(data) if start is None else start)
    # observed, not expected: what would be expected hangs on when hubs are asked after, which no law here describes
    information = objective.information(parameters)
    return LooseningFit(
        data=data,
        names=tuple(names),
        covariate_means=np.asarray(beside.mean(axis=0)),
        centre_um=centre,
        parameters=parameters,
        covariance=np.asarray(np.linalg.inv(information + np.diag(1.0 / sd**2)), dtype=float),
        information=information,
        log_likelihood=log_likelihood(data, parameters)[0],
        penalised=objective.value(parameters)[0],
        term=chosen,
        gaps_um=gaps.mean_um[order],
        penalty_sd=sd,
    )


def _start(data: LooseningData) -> FloatArray:
    """Begin with a constant hazard: failures by the years watched."""
    watched = (data.left + np.where(data.failed, data.right, data.left)) / 2 - data.entry
    years = float(watched.sum()) / REFERENCE_MONTHS
    parameters = np.zeros(data.size)
    parameters[0] = np.log(max(data.failed.sum(), 0.5) / max(years, 1e-6))
    return parameters


class Objective:
    """The penalised log likelihood."""

    def __init__(self, data: LooseningData, sd: FloatArray) -> None:
        self.data = data
        self.precision = 1.0 / sd**2

    def value(self, parameters: FloatArray) -> tuple[float, FloatArray]:
        """Give it and its derivative; the level bears no penalty."""
        value, score = log_likelihood(self.data, parameters)
        pull = self.precision * parameters
        pull[0] = 0.0
        penalty = 0.5 * float(pull @ parameters)
        return value - penalty, score - pull

    def maximise(
        self, start: FloatArray, *, fixed: int | None = None, covariance: FloatArray | None = None
    ) -> FloatArray:
        """Climb to the maximum; one parameter may be held, and a guess at the inverse curvature shortens the way."""
        free = np.array([i for i in range(start.size) if i != fixed])

        def down(part: FloatArray) -> tuple[float, FloatArray]:
            whole = start.copy()
            whole[free] = part
            value, score = self.value(whole)
            return -value, -score[free]

        options: dict[str, Any] = {"gtol": 2e-4 * float(np.sqrt(max(self.data.failed.sum(), 1)))}
        if covariance is not None:
            inverse = np.linalg.inv(np.linalg.inv(covariance)[np.ix_(free, free)])
            options["hess_inv0"] = (inverse + inverse.T) / 2
        whole = start.copy()
        whole[free] = minimize(down, start[free], jac=True, method="BFGS", options=options).x
        return whole

    def information(self, parameters: FloatArray) -> FloatArray:
        """Give the information of the data alone, by central differences of the score."""
        step = 1e-4
        rows = []
        for index in range(parameters.size):
            shift = np.zeros(parameters.size)
            shift[index] = step
            up, down = (log_likelihood(self.data, parameters + sign * shift)[1] for sign in (1.0, -1.0))
            rows.append((down - up) / (2 * step))
        matrix = np.array(rows)
        return np.asarray((matrix + matrix.T) / 2)


def robust_covariance(fit: LooseningFit) -> FloatArray:
    """Give the covariance that does not trust the model: scores of whole shafts, between two inverse informations."""
    _, score = shaft_scores(fit.data, fit.parameters)
    shafts = score.shape[0]
    centred = score - score.mean(axis=0)
    bread = fit.told_covariance
    told = bread @ (centred.T @ centred * shafts / max(shafts - 1, 1)) @ bread
    return np.asarray(told if fit.choice is None else told + fit.choice.covariance)
