"""How fast shafts wear: um lost per 1000 running hours, from shafts measured again after they had run.

What one shaft lost between two looks and that old shafts are more worn than young ones are different things. The first
is growth; the second is growth only if hours alone made the wear and every shaft began as new. So hours enter twice, as
the shaft's mean and as the distance from it [1]_, the rate is taken from the distance alone, and the comparison of
shafts stands beside it, marked as resting on that assumption.

A state is a shaft between two hubs. Its mean wear is the least squares mean of its readings, not a prediction: one that
was drawn towards the mean of all shafts would make growth too slow. What measuring adds has a known covariance; the
intercept, each shaft's own rate, a spread of the rate among loose hubs and a residual are estimated by restricted
maximum likelihood, and the intervals are t intervals after Kenward and Roger (`wearstats.analysis.growth.likelihood`),
averaged over the spread of the own rates (`wearstats.analysis.growth.rate_averaging`).

References
----------
.. [1] Y. Mundlak, On the pooling of time series and cross section data, Econometrica 46 (1978) 69-85.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from wearstats.analysis.estimate import Estimate, Status, no_estimate
from wearstats.analysis.growth.likelihood import MixedBlocks, MixedFit, MixedLikelihood
from wearstats.analysis.growth.rate_averaging import SpreadMixture, weigh_spreads
from wearstats.analysis.growth.remarks import GrowthRemark
from wearstats.analysis.numerics.remarks import RemlRemark
from wearstats.analysis.remark import Quoted, remark
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError, counted

BETWEEN = ("tight", "loose", "not known")
"""What is known of the hub that ran between two states: it stayed tight, it was found loose, or nothing is."""

LEAST_SHAFTS = 3
"""Shafts that must have run between two looks before a rate is told from them."""

_THOUSAND = 1000.0
_LEAST_FREEDOM = 2.0
"""Degrees of freedom below which a spread is not bounded from above: chi-square reaches down to nought."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrowthStates:
    """States of shafts; a row is a shaft, padded to the most states that any has.

    Parameters
    ----------
    series : ndarray of str, shape (shafts,)
        A shaft until something was done to it that moves metal without running.
    shaft : ndarray of str, shape (shafts,)
        Which shaft that is.
    duty : ndarray of str, shape (shafts,)
        How its engine is used.
    seen : ndarray of bool, shape (shafts, states)
        Which states there are.
    hours_h : ndarray, shape (shafts, states)
        Running hours at each state, not falling.
    wear_um : ndarray, shape (shafts, states)
        Mean wear as measured, positive: metal lost.
    between_h : ndarray, shape (shafts, states, 3)
        Hours since the shaft's first state, shared out over the stretches in which the hub was as in `BETWEEN`.
    own_error_um2 : ndarray, shape (shafts, states, states)
        Covariance of the measuring errors that no other shaft shares.
    shared_error_um : ndarray, shape (shafts, states, shared)
        How the states hang on standard normal errors that shafts share.
    """

    series: NDArray[np.str_]
    shaft: NDArray[np.str_]
    duty: NDArray[np.str_]
    seen: NDArray[np.bool_]
    hours_h: FloatArray
    wear_um: FloatArray
    between_h: FloatArray
    own_error_um2: FloatArray
    shared_error_um: FloatArray

    def take(self, rows: NDArray[np.bool_] | NDArray[np.int64], states: slice | None = None) -> GrowthStates:
        """Keep some shafts, and of them some states."""
        cut = states or slice(None)
        return GrowthStates(
            series=self.series[rows],
            shaft=self.shaft[rows],
            duty=self.duty[rows],
            seen=self.seen[rows][:, cut],
            hours_h=self.hours_h[rows][:, cut],
            wear_um=self.wear_um[rows][:, cut],
            between_h=self.between_h[rows][:, cut],
            own_error_um2=self.own_error_um2[rows][:, cut, cut],
            shared_error_um=self.shared_error_um[rows][:, cut],
        )

    @property
    def span_h(self) -> FloatArray:
        """Hours run between the first and the last state, shape (shafts,)."""
        high = np.where(self.seen, self.hours_h, -np.inf).max(axis=1, initial=-np.inf)
        low = np.where(self.seen, self.hours_h, np.inf).min(axis=1, initial=np.inf)
        return np.where(self.seen.any(axis=1), high - low, 0.0)

    @property
    def error_um2(self) -> FloatArray:
        """Variance of each state's measuring error, shape (shafts, states)."""
        return np.asarray(np.diagonal(self.own_error_um2, axis1=1, axis2=2) + np.sum(self.shared_error_um**2, axis=2))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GrowthFit:
    """Rates from shafts measured again.

    Parameters
    ----------
    states : GrowthStates
        What was fitted: shafts that ran between their states.
    names : tuple of str
        What the rate was told apart by: ``all``, the duties, or `BETWEEN`.
    rates : dict of str to Estimate
        um per 1000 h.
    shafts : dict of str to int
        Shafts that ran at all as each name says.
    own_rate_sd : Estimate
        Spread of the shafts' own rates about their mean, um per 1000 h.
    residual_sd : Estimate
        What neither growth nor measuring explains, um.
    mixed : MixedFit
        The model behind it, at its restricted maximum.
    mixture : SpreadMixture
        The same over likely spreads of the own rates; `rates` are from it.
    """

    states: GrowthStates
    names: tuple[str, ...]
    rates: dict[str, Estimate]
    shafts: dict[str, int]
    own_rate_sd: Estimate
    residual_sd: Estimate
    mixed: MixedFit
    mixture: SpreadMixture
    _rate_columns: NDArray[np.int64]

    def rate_weights(self, name: str) -> FloatArray:
        """How a rate hangs on the model's coefficients, shape (coefficients,)."""
        weights = np.zeros(self.mixed.coefficients.size)
        weights[self._rate_columns[self.names.index(name)]] = 1.0
        return weights

    def difference(self, first: str, second: str) -> Estimate:
        """Difference of two rates, the first minus the second."""
        return _interval(self.mixture, self.rate_weights(first) - self.rate_weights(second))

    def own_rates(self, name: str) -> tuple[FloatArray, FloatArray]:
        """Predict the own rates of the shafts that were fitted.

        Parameters
        ----------
        name : str
            As which of `names` they run on.

        Returns
        -------
        rate, variance : ndarray, shape (shafts,)
            In um per 1000 h, and the variance of its error.
        """
        shafts = self.states.shaft.size
        own = np.zeros((shafts, self.mixed.own.shape[1]))
        own[:, self.mixture.place] = 1.0
        return self.mixture.predict(np.tile(self.rate_weights(name), (shafts, 1)), own)

    def another_rate(self, name: str) -> tuple[float, float]:
        """Predict the rate of a shaft that was not measured again: its value and the variance of its error."""
        return self.mixture.predict_another(self.rate_weights(name))

    def own_freedom(self, name: str) -> float:
        """Degrees of freedom of a single shaft's rate."""
        return self.mixture.freedom(self.rate_weights(name))


def ran_between(states: GrowthStates) -> GrowthStates:
    """Keep the shafts that have two states or more; what only one of them has of a shared error is its own."""
    kept = states.take(states.seen.sum(axis=1) > 1)
    loads = np.where(kept.seen[..., None], kept.shared_error_um, 0.0)
    alone = np.count_nonzero(np.any(loads != 0, axis=1), axis=0) < 2
    own = loads[..., alone]
    return dataclasses.replace(
        kept,
        own_error_um2=kept.own_error_um2 + own @ np.swapaxes(own, 1, 2),
        shared_error_um=loads[..., ~alone],
    )


def fit_growth(states: GrowthStates, *, by: str = "all") -> GrowthFit:
    """Fit the rate within shafts.

    Parameters
    ----------
    states : GrowthStates
        Shafts with one state say nothing here and are left out.
    by : {"all", "duty", "between"}
        What to tell the rates apart by.

    Returns
    -------
    GrowthFit
        With names of at least `LEAST_SHAFTS` shafts only.

    Raises
    ------
    AnalysisError
        When fewer than `LEAST_SHAFTS` shafts ran between two looks.
    """
    again = ran_between(states)
    states, told, shafts = _told(again, by)
    if not told:
        ran = int(np.count_nonzero(again.span_h > 0))
        raise AnalysisError(
            f"only {counted(ran, 'shaft was', 'shafts were')} measured again after running, with hours",
            needed=f"inspections with hours of at least {LEAST_SHAFTS} shafts, before and after they ran",
        )
    names = tuple(told)
    means, loads = _columns(states)
    # what a shaft lost between its looks alone: a rate from the hours themselves would compare shafts as well [1]
    rates = np.stack([_centred(hours, states.seen) / _THOUSAND for hours in told.values()], axis=2)
    fixed = np.concatenate([means, rates], axis=2)
    blocks = MixedBlocks(
        response=states.wear_um,
        seen=states.seen,
        fixed=fixed,
        loads=np.stack(list(loads.values()), axis=2),
        own_error=states.own_error_um2,
        shared_error=states.shared_error_um,
    )
    mixed = MixedLikelihood(blocks).fit(_start(states, tuple(loads)))
    columns = means.shape[2] + np.arange(len(names))
    rows = np.eye(fixed.shape[2])[columns]
    place = list(loads).index("rate")
    mixture = weigh_spreads(mixed, place, scale=mixed.combine(rows[0])[1])
    return GrowthFit(
        states=states,
        names=names,
        rates={name: _interval(mixture, row) for name, row in zip(names, rows, strict=True)},
        shafts=shafts,
        own_rate_sd=mixture.spread(mixed),
        residual_sd=_spread(mixed, len(loads)),
        mixed=mixed,
        mixture=mixture,
        _rate_columns=columns,
    )


def compare_ages(states: GrowthStates) -> Estimate:
    """Tell the rate from one look at every shaft, by assuming that hours alone made the wear and all began as new.

    Parameters
    ----------
    states : GrowthStates
        The first state of each counts.

    Returns
    -------
    Estimate
        um per 1000 h, ``assumed``; ``none`` with fewer than `LEAST_SHAFTS` shafts.
    """
    first = states.seen.argmax(axis=1)
    rows = np.arange(first.size)
    some = states.seen.any(axis=1) & (states.hours_h[rows, first] > 0)
    rows, first = rows[some], first[some]
    if rows.size < LEAST_SHAFTS:
        return no_estimate(remark(GrowthRemark.ACROSS_FEW, least=LEAST_SHAFTS))
    hours = states.hours_h[rows, first][:, None, None] / _THOUSAND
    blocks = MixedBlocks(
        response=states.wear_um[rows, first][:, None],
        seen=np.ones((rows.size, 1), dtype=bool),
        fixed=hours,
        loads=hours,
        own_error=states.own_error_um2[rows, first, first][:, None, None],
        shared_error=states.shared_error_um[rows, first][:, None],
    )
    scale = float(np.mean((blocks.response / hours[..., 0]) ** 2))
    try:
        mixed = MixedLikelihood(blocks).fit(np.array([max(scale / 4, 1e-6), 25.0]))
    except AnalysisError as error:
        return no_estimate(remark(Quoted.REFUSAL, message=error.why))
    return _interval(mixed, np.ones(1), how=GrowthRemark.ACROSS, status="assumed")


def _told(states: GrowthStates, by: str) -> tuple[GrowthStates, dict[str, FloatArray], dict[str, int]]:
    """Give the hours by name, of names with enough shafts, and how many these are.

    Shafts that ran in another way too are left out: what they lost then must not count towards a rate that is told.
    """
    while True:
        exposures = _exposures(states, by)
        shafts = {name: int(np.count_nonzero((hours > 0).any(axis=1))) for name, hours in exposures.items()}
        rare = [hours for name, hours in exposures.items() if 0 < shafts[name] < LEAST_SHAFTS]
        if not rare:
            names = [name for name in exposures if shafts[name] > 0]
            return states, {name: exposures[name] for name in names}, {name: shafts[name] for name in names}
        states = states.take(~np.any(np.stack(rare) > 0, axis=(0, 2)))


def _exposures(states: GrowthStates, by: str) -> dict[str, FloatArray]:
    """Hours since the first state by name, each of shape (shafts, states)."""
    between = np.where(states.seen[..., None], states.between_h, 0.0)
    total = between.sum(axis=2)
    if by == "duty":
        return {str(name): np.where((states.duty == name)[:, None], total, 0.0) for name in np.unique(states.duty)}
    if by == "between":
        return {name: between[..., k] for k, name in enumerate(BETWEEN)}
    return {"all": total}


def _columns(states: GrowthStates) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Columns that are constant within a shaft, and the loads of its own effects."""
    ones = np.broadcast_to(np.ones(1), states.hours_h.shape)
    duties = np.unique(states.duty)
    means = [np.where((states.duty == duty)[:, None], 1.0, 0.0) * ones for duty in duties]
    average = _mean(states.hours_h, states.seen)
    for duty in duties:
        mine = states.duty == duty
        spread = average[mine]
        if np.unique(spread).size > 2:
            column = np.where(mine, (average - spread.mean()) / spread.std(), 0.0)
            means.append(column[:, None] * ones)
    hours = _centred(np.where(states.seen, states.between_h.sum(axis=2), 0.0), states.seen) / _THOUSAND
    loads = {"intercept": np.array(ones), "rate": hours}
    loose = np.where(states.seen, states.between_h[..., BETWEEN.index("loose")], 0.0)
    if np.count_nonzero((loose > 0).any(axis=1)) >= LEAST_SHAFTS and np.any(loose < states.between_h.sum(axis=2)):
        # how long a hub ran loose before it came off differs widely, and with it the growth of that stretch
        loads["loose"] = _centred(loose, states.seen) / _THOUSAND
    return np.stack(means, axis=2), loads


def _mean(values: FloatArray, seen: NDArray[np.bool_]) -> FloatArray:
    return np.asarray(np.where(seen, values, 0.0).sum(axis=1) / np.maximum(seen.sum(axis=1), 1))


def _centred(values: FloatArray, seen: NDArray[np.bool_]) -> FloatArray:
    return np.where(seen, values - _mean(values, seen)[:, None], 0.0)


def _start(states: GrowthStates, loads: tuple[str, ...]) -> FloatArray:
    """Variances to begin from: shafts as different as their wear, rates as growth and hours suggest."""
    level = float(np.var(_mean(states.wear_um, states.seen)))
    hours = states.span_h[states.span_h > 0] / _THOUSAND
    rate = (5.0 / float(np.median(hours))) ** 2
    begin = {"intercept": max(level, 1.0), "rate": rate, "loose": rate}
    return np.array([*(begin[name] for name in loads), 1.0])


def _interval(
    mixed: MixedFit | SpreadMixture,
    weights: FloatArray,
    *,
    how: GrowthRemark = GrowthRemark.WITHIN,
    status: Status = "ok",
) -> Estimate:
    value, se, df = mixed.combine(weights)
    reach = se * float(special.stdtrit(df, 0.975))
    return Estimate(value=value, low=value - reach, high=value + reach, method=remark(how), status=status)


def _spread(mixed: MixedFit, component: int) -> Estimate:
    """Give a standard deviation with a chi-square interval; at zero, zero is all that there is."""
    variance = float(mixed.variances[component])
    error = float(mixed.variance_covariance[component, component])
    if variance <= 0 or error <= 0:
        return Estimate(value=float(np.sqrt(variance)), low=0.0, method=remark(RemlRemark.PLAIN), status="bounded")
    df = 2 * variance**2 / error
    low, high = np.sqrt(variance * df / np.maximum(special.chdtri(df, [0.025, 0.975]), 1e-300))
    told = df >= _LEAST_FREEDOM
    return Estimate(
        value=float(np.sqrt(variance)),
        low=float(low),
        high=float(high) if told else None,
        method=remark(RemlRemark.SATTERTHWAITE),
        status="ok" if told else "bounded",
    )
