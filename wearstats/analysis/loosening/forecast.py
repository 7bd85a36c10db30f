"""What will become of the hubs that run now, predicted from the law of working loose.

A hub was tight at its last word, at month s; the records of outcomes end at month e, and now it is month a. Up to e a
failure would have been reported unasked with chance p, so that, given its gap, silence has the chance
``L = (1 - p) S(s) + p S(e)``, and

* it has worked loose already with chance ``[(1 - p) (S(s) - S(e)) + S(e) - S(a)] / L``; of the part from e to a the
  share p is reported, and only waits for being entered;
* it works loose within the next m months with chance ``(S(a) - S(a + m)) / L``.

The gap is known only to a distribution (`wearstats.analysis.gaps.nodes`); what its own history and those of the other
fittings on its shaft have taught about it counts: the nodes are weighed by the likelihood. The law's doubt comes in by
draws of its parameters, and the number of failures is then a sum of unequal chances, exact in every draw
(`wearstats.analysis.numerics.poisson_binomial`).

A failure *comes to be known* in the time ahead if it happens and is reported unasked, if it was reported since the
records end, or if it has happened, reported or not, and the owner is asked and answers afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.loosening.fit import LooseningFit
from wearstats.analysis.loosening.likelihood import LooseningData
from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS
from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.analysis.numerics.poisson_binomial import EXACT_AT_MOST, count_chances, count_interval, many_interval
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray

DRAWS = 200
_COST_ROWS = 20
_SMALL = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Predicted:
    """Chances of the hubs that run, draw by draw of the law's parameters; draw 0 is the law as fitted.

    Parameters
    ----------
    loose_now : ndarray, shape (draws, hubs)
        Chance that it has worked loose already and that is not on record.
    since_end : ndarray, shape (draws, hubs)
        The part of it that falls after the records of outcomes end.
    ahead : ndarray, shape (draws, hubs, times)
        Chance that it works loose in the time ahead.
    months : ndarray, shape (times,)
        How far ahead.
    reported : ndarray, shape (draws,)
        Chance that a failure is reported unasked.
    """

    loose_now: FloatArray
    since_end: FloatArray
    ahead: FloatArray
    months: FloatArray
    reported: FloatArray

    def loose_by(self, time: int) -> FloatArray:
        """Chance to be loose by then, already or to come, shape (draws, hubs)."""
        return np.asarray(np.minimum(self.loose_now + self.ahead[:, :, time], 1.0))

    def known_by(self, time: int, answering: FloatArray, after: FloatArray | None = None) -> FloatArray:
        """Chance that a failure comes to be known in the time ahead.

        Parameters
        ----------
        time : int
            Which of `months`.
        answering : ndarray, shape (draws, hubs)
            Chance that the owner is asked and answers in that time.
        after : ndarray, shape (draws, hubs), optional
            The chance that he does so after a failure that is as likely to come at any moment of that time.

        Returns
        -------
        ndarray, shape (draws, hubs)

        Notes
        -----
        Without `after` questions come at any time, at a steady rate. A failure as likely to come at any moment of the
        time ahead is then asked after with the chance ``1 - answering / asked``, ``asked`` the mean number of answered
        questions in that time: about half of `answering` where they are few.
        """
        if after is None:
            asked = -np.log1p(-np.minimum(answering, 1.0 - 1e-12))
            after = np.where(asked > 1e-6, 1.0 - answering / np.maximum(asked, 1e-6), 0.5 * answering)
        chance = self.reported[:, None]
        new = self.ahead[:, :, time]
        waiting = chance * self.since_end
        known = chance * new + waiting + answering * (self.loose_now - waiting) + after * (1.0 - chance) * new
        return np.asarray(np.clip(known, 0.0, 1.0))


def predict(
    fit: LooseningFit,
    running: BoolArray,
    *,
    data: LooseningData | None = None,
    months: FloatArray,
    leaving: float = 0.0,
    draws: int = DRAWS,
    rng: np.random.Generator,
) -> Predicted:
    """Predict the hubs that run.

    Parameters
    ----------
    fit : LooseningFit
        The law, fitted to all histories.
    running : ndarray of bool, shape (fittings,)
        Which of them run still, in the order of `data`.
    data : LooseningData, optional
        Histories and gaps, where they are others than the law was fitted to; its covariates centred as there.
    months : ndarray, shape (times,)
        How far ahead.
    leaving : float
        Hubs that come off for other causes, a month and hub; they can no longer work loose.
    draws : int
        How many draws of the parameters, the first of which is the law as fitted.
    rng : Generator
        For the parameters.

    Returns
    -------
    Predicted
        Hubs in the order of `data`.
    """
    data = fit.data if data is None else data
    parameters = np.concatenate(
        [
            fit.parameters[None],
            rng.multivariate_normal(fit.parameters, fit.covariance, size=draws - 1, method="eigh"),
        ]
    )
    stays = np.exp(-leaving * months / 2)
    now = np.empty((draws, int(running.sum())))
    since_end = np.empty_like(now)
    ahead = np.empty((*now.shape, months.size))
    for draw, values in enumerate(parameters):
        now[draw], since_end[draw], ahead[draw] = running_chances(data, values, running, months)
    # nothing is known of hubs that came off since the records end, either
    unseen = (data.now - data.right)[running] if data.now.size else np.zeros(now.shape[1])
    came_off = since_end * -np.expm1(-leaving * unseen / 2)
    return Predicted(
        loose_now=now - came_off,
        since_end=since_end - came_off,
        ahead=ahead * stays * np.exp(-leaving * unseen)[:, None],
        months=months,
        reported=np.asarray(1.0 / (1.0 + np.exp(-parameters[:, -1]))),
    )


def running_chances(
    data: LooseningData, parameters: FloatArray, running: BoolArray, months: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the chances at one set of parameters.

    Parameters
    ----------
    data : LooseningData
        Histories and gaps.
    parameters : ndarray, shape (size,)
        As `wearstats.analysis.loosening.likelihood.log_likelihood` takes them.
    running : ndarray of bool, shape (fittings,)
        Which run still.
    months : ndarray, shape (times,)
        How far ahead.

    Returns
    -------
    ndarray, shape (hubs,)
        Loose already, and not on record.
    ndarray, shape (hubs,)
        The part of it since the records of outcomes end.
    ndarray, shape (hubs, times)
        Working loose in the time ahead.
    """
    slopes = data.slopes
    chance = float(1.0 / (1.0 + np.exp(-parameters[-1])))
    shape = float(np.exp(parameters[-2]))
    line = parameters[0] + data.terms @ parameters[1 : 1 + slopes]
    level = np.exp(np.minimum(line + (data.covariates @ parameters[1 + slopes : -2])[:, None], 30.0))

    def tight(month: FloatArray, rows: BoolArray | slice = slice(None)) -> FloatArray:
        scaled = np.power(np.maximum(month, _SMALL) / REFERENCE_MONTHS, shape)
        return np.asarray(np.exp(-np.minimum(level[rows] * scaled[:, None], 700.0)))

    at_word, at_end = tight(np.where(data.failed, data.left, data.last_word)), tight(data.right)
    # of a failure `right` is the month by which; of the others that up to which it was silent
    likelihood = np.where(data.failed[:, None], at_word - at_end, (1.0 - chance) * at_word + chance * at_end)
    joint = np.add.reduceat(np.log(np.maximum(likelihood, 1e-300)), data.first_row, axis=0)
    weight = np.exp(joint - joint.max(axis=1, keepdims=True))
    weight = (weight / weight.sum(axis=1, keepdims=True))[data.shaft[running]]
    silent = np.maximum(likelihood[running], 1e-300)
    month = (data.now if data.now.size else data.right)[running]
    still = tight(month, running)
    since_end = ((at_end[running] - still) / silent * weight).sum(axis=1)
    now = ((1.0 - chance) * (at_word - at_end)[running] / silent * weight).sum(axis=1) + since_end
    ahead = [((still - tight(month + more, running)) / silent * weight).sum(axis=1) for more in months]
    return np.asarray(now), np.asarray(since_end), np.stack(ahead, axis=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HubSample:
    """That hubs are those of shafts taken at random.

    Parameters
    ----------
    shaft : ndarray of int, shape (hubs,)
        Number of each hub's shaft, from 0 and less than `shafts`.
    shafts : int
        Shafts taken, those without a hub too.
    times : float
        How many shafts each stands for.
    """

    shaft: IntArray
    shafts: int
    times: float

    def variance(self, each: FloatArray) -> FloatArray:
        """Give what the sampling adds to the variance of the sum over all hubs of all shafts.

        Parameters
        ----------
        each : ndarray, shape (draws, hubs)
            What is added up.

        Returns
        -------
        ndarray, shape (draws,)

        References
        ----------
        .. [1] W. G. Cochran, Sampling Techniques, 3rd ed., Wiley 1977, theorem 2.2: the variance of a total.
        """
        place = self.shaft + self.shafts * np.arange(len(each))[:, None]
        sums = np.bincount(place.ravel(), each.ravel(), self.shafts * len(each)).reshape(len(each), self.shafts)
        return np.asarray(self.times * (self.times - 1.0) * self.shafts * sums.var(axis=1, ddof=1))


def count_estimate(
    chance: FloatArray,
    *,
    told: Remark | str,
    sample: HubSample | None = None,
    level: float = 0.90,
    rng: np.random.Generator,
) -> Estimate:
    """Predict how many happen.

    Parameters
    ----------
    chance : ndarray, shape (draws, hubs)
        Chance of each hub.
    told : Remark or str
        What is counted.
    sample : HubSample, optional
        That the hubs are those of a sample of shafts, and the count of all is wanted.
    level : float
        Coverage of the prediction interval.
    rng : Generator
        Used only where the hubs are too many for the exact law.

    Returns
    -------
    Estimate
        The expected number, and the prediction interval of the number itself, whole numbers.
    """
    times = 1.0 if sample is None else sample.times
    mean = times * chance.sum(axis=1)
    if sample is None and chance.shape[1] <= EXACT_AT_MOST:
        low, high = (float(end) for end in count_interval(count_chances(chance), level=level))
        how = LooseningRemark.COUNT_EXACT
    else:
        variance = times * (chance * (1.0 - chance)).sum(axis=1)
        variance = variance if sample is None else variance + sample.variance(chance)
        low, high = many_interval(mean, variance, level=level, rng=rng)
        how = LooseningRemark.COUNT_NORMAL
    return Estimate(value=float(mean.mean()), low=low, high=high, level=level, method=remark(how, told=told))


def cost_estimate(
    chance: FloatArray,
    price: FloatArray,
    *,
    sample: HubSample | None = None,
    level: float = 0.90,
    rng: np.random.Generator,
) -> Estimate:
    """Predict what those cost that happen.

    Parameters
    ----------
    chance : ndarray, shape (draws, hubs)
        Chance of each hub.
    price : ndarray, shape (hubs,)
        What it costs if it happens.
    sample : HubSample, optional
        That the hubs are those of a sample of shafts, and the cost of all is wanted.
    level : float
        Coverage of the prediction interval.
    rng : Generator
        For the interval; the value is exact.

    Returns
    -------
    Estimate
    """
    times = 1.0
    if sample is None:
        # enough rows of drawn failures for the interval's ends
        drawn = np.concatenate([(rng.random(chance.shape) < chance) @ price for _ in range(_COST_ROWS)])
    else:
        times = sample.times
        spread = np.sqrt(times * ((chance * (1.0 - chance)) @ price**2) + sample.variance(chance * price))
        drawn = (times * (chance @ price))[:, None] + spread[:, None] * rng.standard_normal((len(chance), _COST_ROWS))
    low, high = np.quantile(drawn, [(1.0 - level) / 2, (1.0 + level) / 2])
    return Estimate(
        value=times * float((chance @ price).mean()),
        low=max(float(low), 0.0),
        high=float(high),
        level=level,
        method=remark(LooseningRemark.COST),
    )
