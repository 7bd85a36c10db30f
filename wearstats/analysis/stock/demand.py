"""How many hubs will be asked for: by quarter, over a lead time, and by size.

What is counted is need, not sales: an order that ended for lack of a size, or in a special, counts as much as one that
was sent, or the sizes that run out would look as if nobody wanted them. Whether counts scatter as a Poisson count or
more is weighed by the evidence and averaged; trend and season enter only where the record makes them likelier than not.
Sizes divide the need by given shares (from the law of wear): what few orders of each size cannot tell, all shafts can.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.stock.demand_states import Courses, Followed, follow, list_courses
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.errors import AnalysisError

QUARTERS_FOR_COURSE = 8
"""Two years: with fewer, a trend and a season cannot be told from each other or from chance."""

LIKELIER_THAN_NOT = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DemandRecord:
    """What was asked for, quarter by quarter up to a day.

    Parameters
    ----------
    counts : ndarray, shape (quarters,)
        Hubs needed in each, in the order of time and without gaps.
    exposure : ndarray, shape (quarters,)
        Part of each that is on record; below 1 for one under way, or in which the record begins.
    of_year : ndarray, shape (quarters,)
        Part of the year, 0 to 1, in the middle of what is on record of each.
    """

    counts: FloatArray
    exposure: FloatArray
    of_year: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DemandFit:
    """What the record says of the demand to come.

    Parameters
    ----------
    record : DemandRecord
        What it rests on.
    level : Estimate
        Hubs a quarter at the end of the record, trend and drift included, season apart.
    overdispersed : float
        Probability that quarters scatter more than Poisson counts.
    scatter : Estimate
        By how much, as SD of a quarter's factor about one; 0 for Poisson.
    trend, season, drift : float
        Probability of each before any was put aside; NaN where the record is too short to ask.
    trend_borne, season_borne : bool
        Whether they are used.
    """

    record: DemandRecord
    level: Estimate
    overdispersed: float
    scatter: Estimate
    trend: float
    season: float
    drift: float
    trend_borne: bool
    season_borne: bool
    _courses: Courses
    _followed: Followed
    _weight: FloatArray

    def draw(self, edges: FloatArray, *, draws: int, rng: np.random.Generator) -> IntArray:
        """Draw the demand of coming spans of time, jointly.

        Parameters
        ----------
        edges : ndarray, shape (spans + 1,)
            Where spans begin and end, in quarters from the end of the record, ascending from 0 or later.
        draws : int
            How many.
        rng : Generator

        Returns
        -------
        ndarray of int, shape (draws, spans)
            Spans within one quarter from now on share its factor.
        """
        courses, followed = self._courses, self._followed
        which = rng.choice(self._weight.size, size=draws, p=self._weight)
        grid = followed.log_levels
        chance = followed.density[which].cumsum(axis=1)
        place = (chance < rng.random((draws, 1)) * chance[:, -1:]).sum(axis=1)
        log_level = grid[place] + (rng.random(draws) - 0.5) * (grid[1] - grid[0])
        blocks = np.arange(int(np.ceil(edges[-1] - 1e-9)))
        mean = followed.density @ grid
        variance = (followed.density @ grid**2 - mean**2)[which]
        # a level forgotten by the power d a quarter has its log variance grow by 1/d
        discount = courses.discount[which][:, None]
        gain = variance[:, None] * (discount ** -(blocks + 1.0) - discount**-blocks)
        walk = np.cumsum(np.sqrt(gain) * rng.standard_normal(gain.shape) - gain / 2.0, axis=1)
        shape = courses.shape[which][:, None]
        finite = np.isfinite(shape)
        factor = np.where(finite, rng.standard_gamma(np.where(finite, shape, 1.0), gain.shape) / shape, 1.0)
        per_block = np.exp(log_level[:, None] + walk) * np.where(finite, factor, 1.0)
        lower, upper = np.maximum(edges[:-1, None], blocks), np.minimum(edges[1:, None], blocks + 1)
        within = np.maximum(upper - lower, 0.0)
        course = _coming(self.record, courses, ((lower + upper) / 2.0).ravel())[which]
        rate = np.einsum("dsb,sb,db->ds", course.reshape(draws, *within.shape), within, per_block)
        return np.asarray(rng.poisson(rate), dtype=np.int64)


def fit_demand(record: DemandRecord) -> DemandFit:
    """Learn the demand to come from the record.

    Parameters
    ----------
    record : DemandRecord
        Quarters in the order of time.

    Returns
    -------
    DemandFit

    Raises
    ------
    AnalysisError
        When nothing was ever asked for.
    """
    if record.counts.size == 0 or record.counts.sum() == 0:
        raise AnalysisError(
            "no orders are on record, so there is no demand to plan for",
            needed="add orders.csv (order, ordered_on, pattern, outcome) or dispatches.csv with what was sent",
        )
    long_enough = record.counts.size >= QUARTERS_FOR_COURSE
    courses = list_courses(may_turn=long_enough)
    followed = follow(courses, record.counts, record.exposure, record.of_year)
    p = followed.posterior
    turning, swinging = courses.trend != 0.0, courses.swing > 0.0
    trend, season, drift = (float(p[has].sum()) for has in (turning, swinging, courses.discount < 1.0))
    trend_borne, season_borne = trend > LIKELIER_THAN_NOT, season > LIKELIER_THAN_NOT
    # put aside, not averaged in: carried on for a year, a trend of little weight would still move what is made
    kept: BoolArray = (trend_borne | ~turning) & (season_borne | ~swinging)
    weight = np.where(kept, p, 0.0)
    weight /= weight.sum()
    mixed = np.isfinite(courses.shape)
    return DemandFit(
        record=record,
        level=_level(record, courses, followed, weight),
        overdispersed=float(weight[mixed].sum()),
        scatter=_scatter(courses, weight),
        trend=trend if long_enough else float("nan"),
        season=season if long_enough else float("nan"),
        drift=drift,
        trend_borne=trend_borne,
        season_borne=season_borne,
        _courses=courses,
        _followed=followed,
        _weight=weight,
    )


def divide_demand(totals: IntArray, shares: FloatArray, *, rng: np.random.Generator) -> IntArray:
    """Divide drawn demand among the sizes.

    Parameters
    ----------
    totals : ndarray of int, shape (draws, spans)
        From `DemandFit.draw`.
    shares : ndarray, shape (sizes,) or (share draws, sizes)
        Share of the need that each size serves, not below 0; what they lack of one is beyond all sizes. Several rows
        carry what is not known of the shares: each draw takes one of them.
    rng : Generator

    Returns
    -------
    ndarray of int, shape (draws, spans, sizes + 1)
        The last is what no size serves.
    """
    table = np.atleast_2d(np.asarray(shares, dtype=float))
    beyond = np.maximum(1.0 - table.sum(axis=1, keepdims=True), 0.0)
    whole = np.hstack([table, beyond])
    whole /= whole.sum(axis=1, keepdims=True)
    row = rng.integers(len(whole), size=len(totals)) if len(whole) > 1 else np.zeros(len(totals), dtype=np.int64)
    return np.asarray(rng.multinomial(totals, whole[row][:, None, :]), dtype=np.int64)


def interval_of(draws: FloatArray | IntArray, *, level: float, method: Remark | None) -> Estimate:
    """Mean of draws with the interval between their equal tails."""
    tail = (1.0 - level) / 2.0
    low, high = np.quantile(draws, [tail, 1.0 - tail], method="inverted_cdf")
    return Estimate(value=float(np.mean(draws)), low=float(low), high=float(high), level=level, method=method)


def _coming(record: DemandRecord, courses: Courses, ahead: FloatArray) -> FloatArray:
    """Factors of the courses at times ahead, in quarters from the end of the record; shape (courses, times)."""
    quarters = record.counts.size
    end_of_year = record.of_year[-1] + record.exposure[-1] / 8.0
    # trends are counted in quarters from the middle of the record
    since = quarters - 0.5 - (quarters - 1) / 2.0 - (1.0 - record.exposure[-1]) / 2.0 + ahead
    return courses.factor(since, end_of_year + ahead / 4.0)


def _level(record: DemandRecord, courses: Courses, followed: Followed, weight: FloatArray) -> Estimate:
    since = np.array([record.counts.size / 2.0 - (1.0 - record.exposure[-1]) / 2.0])
    now = courses.trend * since
    values = (followed.log_levels[None, :] + now[:, None]).ravel()
    chance = (weight[:, None] * followed.density).ravel()
    order = np.argsort(values)
    low, high = np.interp([0.025, 0.975], np.cumsum(chance[order]), values[order])
    return Estimate(
        value=float(np.exp(values) @ chance),
        low=float(np.exp(low)),
        high=float(np.exp(high)),
        method=remark(StockRemark.COURSES_WEIGHED),
    )


def _scatter(courses: Courses, weight: FloatArray) -> Estimate:
    sd = np.where(np.isfinite(courses.shape), 1.0 / np.sqrt(courses.shape), 0.0)
    order = np.argsort(sd, kind="stable")
    cumulated = np.cumsum(weight[order])
    low, high = (float(sd[order][min(int(np.searchsorted(cumulated, q)), sd.size - 1)]) for q in (0.025, 0.975))
    return Estimate(value=float(sd @ weight), low=low, high=high, method=remark(StockRemark.COURSES_WEIGHED))
