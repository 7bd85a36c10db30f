"""Predict the failures of the hubs in use, with the record of what was predicted before."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, Status, no_estimate
from wearstats.analysis.loosening.forecast import HubSample, cost_estimate, count_estimate
from wearstats.analysis.monitoring.cusum import binary_scores
from wearstats.analysis.monitoring.standing import SURE
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.rates.predicted_failures import predicted_failures
from wearstats.analysis.remark import Quoted, Remark, refused, remark
from wearstats.domain.frames import columns
from wearstats.domain.quarters import Quarter
from wearstats.errors import AnalysisError
from wearstats.studies.forecast.observed_expected import ODDS_RATIO, USED, Watch, watch_failures
from wearstats.studies.forecast.remarks import ForecastRemark
from wearstats.studies.forecast.running_frame import running_frame
from wearstats.studies.forecast.running_hubs import AHEAD_MONTHS, RunningChances, predict_running
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.inputs.hubs_in_use import HubsInUse, hubs_in_use, read_hubs_in_use
from wearstats.studies.inputs.prices import prices_of
from wearstats.studies.inputs.sampling import ShaftSample, shaft_sample
from wearstats.studies.loosening.fit_from_store import known_law
from wearstats.studies.loosening.risk_model import FEWEST_FAILURES
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

LEVEL = 0.90
_TOLD = "failures to become known"
_DRAWS, _PAST_DRAWS = 200, 60
_QUARTER, _YEAR = range(len(AHEAD_MONTHS))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForecastStudy:
    """What is predicted of the hubs in use.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    running : DataFrame
        One row a hub in use, most likely to be loose first: ``fitting``, ``shaft``, ``hub``, ``pattern``, ``region``,
        ``method``, ``undersize_um``, ``batch``, ``withdrawn`` (whether that is), ``owner`` (the code of whoever is
        called; None where none is on record), ``fitted_on``, ``last_word_on``, ``told`` (whether the owner was warned),
        ``gap_left_um`` (NaN where nothing is known), ``loose_now``, ``risk_quarter``, ``risk_year`` (loose by
        then, already or to come) and their ``_low`` and ``_high`` (95 %).
    next_quarter, next_year : Estimate
        Failures that will come to be known, of the hubs in use now; prediction intervals.
    happen_year : float or None
        Failures expected to happen within a year, known or not, those that may have happened already among them.
    money : Estimate
        What the failures of the next year will cost.
    currency : str or None
        In which.
    earlier : DataFrame
        Past quarters predicted as known then: ``quarter``, ``hubs``, ``expected``, ``low``, ``high`` (90 %),
        ``low_95``, ``high_95``, ``happened``.
    not_predicted : dict of str to Remark
        Past quarters that could not be predicted, with the reason.
    watch : Watch or None
        Seen against predicted; None where no past quarter could be predicted.
    why_no_law : Remark or None
        Why the forecast rests on one rate for all, where it does.
    sampled_shafts : int or None
        Of how many shafts, taken at random, the hubs were looked at one by one; None: of all. `running` and `earlier`
        are of their hubs, the numbers predicted of all hubs in use.
    hubs : int
        Hubs in use, of all shafts; reckoned up where these are a sample.
    chances : RunningChances or None
        The chances themselves, for whoever asks further.
    ask_all : bool
        Whether that is if all owners were asked on the day, and answered; else asking goes on as before.
    """

    as_of: datetime.date
    running: Annotated[
        pd.DataFrame,
        columns(
            text="fitting shaft hub pattern region method batch owner",
            number=(
                "undersize_um gap_left_um loose_now loose_now_low loose_now_high risk_quarter "
                "risk_quarter_low risk_quarter_high risk_year risk_year_low risk_year_high"
            ),
            flag="withdrawn told",
            day="fitted_on last_word_on",
        ),
    ]
    next_quarter: Estimate
    next_year: Estimate
    happen_year: float | None
    money: Estimate
    currency: str | None
    earlier: Annotated[
        pd.DataFrame, columns(text="quarter", number="expected low high low_95 high_95", whole="hubs happened")
    ]
    not_predicted: dict[str, Remark]
    watch: Watch | None
    why_no_law: Remark | None
    sampled_shafts: int | None
    hubs: int
    chances: RunningChances | None
    ask_all: bool = False

    @property
    def inside(self) -> int:
        """Past quarters in which what happened lay within what was predicted."""
        return int(self.earlier["happened"].between(self.earlier["low"], self.earlier["high"]).sum())

    def alarm(self, quarter: Quarter | None = None) -> dict[str, Any] | None:
        """Give the latest alarm of the limit that is used, or the one of a quarter, as `signals` has it; None if none.

        Parameters
        ----------
        quarter : Quarter, optional
            In which it must have been given.
        """
        found = self._written(USED)
        return next((each for each in reversed(found) if quarter is None or each["quarter"] == str(quarter)), None)

    def signals(self) -> list[dict[str, Any]]:
        """Give the alarms.

        Returns
        -------
        list of dict
            ``false_alarm_quarters`` (mean time between false alarms at that limit, the law's doubt allowed for; None
            where none could come), ``quarter``, ``since``, ``seen_over_expected``; by limit, the rarest false alarms
            last, and in order of time.
        """
        return [] if self.watch is None else [each for length in self.watch.sums for each in self._written(length)]

    def _written(self, length: int) -> list[dict[str, Any]]:
        """Write out the alarms of one limit."""
        if self.watch is None:
            return []
        names, found = self.earlier["quarter"].tolist(), self.watch.sums.get(length)
        if found is None:
            return []
        return [
            {
                "false_alarm_quarters": found.false_alarm_steps if np.isfinite(found.false_alarm_steps) else None,
                "quarter": names[alarm.step],
                "since": names[alarm.since],
                "seen_over_expected": alarm.ratio,
            }
            for alarm in found.alarms
        ]

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "forecast_next": self.next_quarter,
            "forecast_year": self.next_year,
            "failures_expected_to_happen_in_a_year": self.happen_year,
            "forecast_year_cost": {"currency": self.currency, **self.money.to_dict()},
            "earlier_forecasts": self.earlier,
            "earlier_inside": self.inside,
            "not_predicted": self.not_predicted,
            "signals": self.signals(),
            "seen_over_predicted": None if self.watch is None else self.watch.ratio,
            "one_rate_for_all_because": self.why_no_law,
            "hubs_in_use": self.hubs,
            "sampled_shafts": self.sampled_shafts,
            "asking": "all" if self.ask_all else "as-before",
        }


def study_forecast(snapshot: Snapshot, *, past: bool = True, ask_all: bool = False) -> ForecastStudy:
    """Predict.

    Parameters
    ----------
    past : bool
        Whether past quarters are predicted again as known then.
    ask_all : bool
        Whether all owners are asked on the day, and answer; else they are asked as before.

    Raises
    ------
    AnalysisError
        When no hub ever ran.

    Notes
    -----
    Predicted and counted are the failures of hubs in use at a quarter's beginning that come to be known in it. Hubs
    fitted in the quarter are not among them.
    """
    as_of, draws, sample = snapshot.known_on, snapshot.draws, shaft_sample(snapshot)
    hubs = _hubs(snapshot)
    if hubs.frame.empty:
        raise AnalysisError("no fitting is on record", needed="add the tables fittings and follow_ups")
    quarters = [quarter for quarter in hubs.quarters()[1:] if past and quarter.last_day <= as_of]
    attempted = _attempt(snapshot, hubs, _DRAWS)
    chances, why = (None, attempted) if isinstance(attempted, Remark) else (attempted, None)
    for quarter in quarters if sample is None else []:
        _replayed.begin(snapshot, quarter)
    # the last first, for the other process began with the first
    replayed = {quarter: _replayed(snapshot, quarter) for quarter in reversed(quarters)}
    rows = [replayed[quarter] for quarter in quarters if not isinstance(replayed[quarter], Remark)]
    missing = {str(quarter): why_not for quarter in quarters if isinstance(why_not := replayed[quarter], Remark)}
    earlier = pd.DataFrame(
        rows,
        columns=["quarter", "hubs", "expected", "low", "high", "low_95", "high_95", "happened", "doubt", "discount"],
    )
    looked_at = int(hubs.running.sum())
    times = 1.0 if sample is None else sample.times
    hub_sample = _sample_of(chances, sample)
    next_quarter, next_year = _counts(hubs, chances, times, hub_sample, draws, ask_all=ask_all)
    money, currency = _money(snapshot, chances, hub_sample, ask_all=ask_all)
    return ForecastStudy(
        as_of=as_of,
        running=running_frame(snapshot, hubs, chances),
        next_quarter=next_quarter,
        next_year=next_year,
        happen_year=None if chances is None else times * float(chances.predicted.loose_by(_YEAR).sum(axis=1).mean()),
        money=money,
        currency=currency,
        earlier=earlier.drop(columns=["doubt", "discount"]),
        not_predicted=missing,
        watch=watch_failures(earlier) if len(earlier) else None,
        why_no_law=why,
        sampled_shafts=None if sample is None else len(sample.names),
        hubs=round(times * looked_at),
        chances=chances,
        ask_all=ask_all,
    )


def _sample_of(chances: RunningChances | None, sample: ShaftSample | None) -> HubSample | None:
    """Say that the hubs predicted are those of sampled shafts; None where they are all."""
    if chances is None or sample is None:
        return None
    shaft = pd.Index(sample.names).get_indexer(pd.Index(chances.hubs["shaft"]))
    return HubSample(shaft=np.asarray(shaft, dtype=np.int64), shafts=len(sample.names), times=sample.times)


def _too_few(hubs: HubsInUse, day: datetime.date) -> Remark | None:
    """Say so where fewer failures were known by a day than a law needs."""
    failures = int((hubs.frame["failed"] & (hubs.frame["to_on"] <= pd.Timestamp(day))).sum())
    return remark(ForecastRemark.FEW_FAILURES, failures=failures) if failures < FEWEST_FAILURES else None


def _no_gaps(snapshot: Snapshot) -> Remark | None:
    """Say so where nothing is known of any gap."""
    return None if known_law(snapshot).gaps is not None else remark(ForecastRemark.NO_GAPS)


def _attempt(snapshot: Snapshot, hubs: HubsInUse, count: int) -> RunningChances | Remark:
    if why := _no_gaps(snapshot):
        return why
    try:
        return predict_running(snapshot, hubs, draws=count)
    except AnalysisError as error:
        return remark(Quoted.REFUSAL, message=error.why)


@part(*EVERYTHING)
def _hubs(snapshot: Snapshot) -> HubsInUse:
    return read_hubs_in_use(snapshot, histories_of(snapshot))


@part(*EVERYTHING)
def _replayed(snapshot: Snapshot, quarter: Quarter) -> dict[str, str | int | float | None] | Remark:
    """Hold what was predicted at a quarter's beginning against what came to be known in it; or why nothing was."""
    then, whole = snapshot.at(quarter.shifted(-1).last_day), _hubs(snapshot)
    # before anything is fitted as it stood then
    if why := _too_few(whole, then.known_on) or _no_gaps(snapshot):
        return why
    told = _attempt(then, hubs_in_use(histories_of(then)), _PAST_DRAWS)
    if isinstance(told, Remark):
        return told
    chance = told.known(_QUARTER)
    estimate, surer = (
        count_estimate(chance, told=_TOLD, level=level, rng=snapshot.draws.generator("failures known", str(quarter)))
        for level in (LEVEL, SURE)
    )
    failed = whole.failed_within(quarter.first_day, quarter.last_day)
    happened = whole.frame["fitting"].isin(told.hubs["fitting"]) & failed
    return {
        "quarter": str(quarter),
        "hubs": len(told.hubs),
        "expected": estimate.value,
        "low": estimate.low,
        "high": estimate.high,
        "low_95": surer.low,
        "high_95": surer.high,
        "happened": int(happened.sum()),
        "doubt": float(chance.sum(axis=1).var(ddof=1)),
        "discount": float(binary_scores(chance.mean(axis=0), ODDS_RATIO)[0].sum()),
    }


def _counts(
    hubs: HubsInUse,
    chances: RunningChances | None,
    times: float,
    sample: HubSample | None,
    draws: NamedDraws,
    *,
    ask_all: bool,
) -> tuple[Estimate, Estimate]:
    running = round(times * float(hubs.running.sum()))
    if chances is not None:
        quarter, year = (
            count_estimate(
                chances.known(time, ask_all=ask_all), told=_TOLD, sample=sample, level=LEVEL, rng=draws.generator(name)
            )
            for time, name in ((_QUARTER, "failures known in a quarter"), (_YEAR, "failures known in a year"))
        )
        # that all owners would answer is assumed, too
        status: Status = "assumed" if chances.assumed or ask_all else "ok"
        return _at_most(quarter, running, status=status), _at_most(year, running, status=status)
    first = hubs.frame["from_on"].min().date()
    months, failures = float(hubs.months_within(first, hubs.as_of).sum()), int(hubs.frame["failed"].sum())
    # that all hubs fail at one rate, however old and however fitted, is taken, not learnt
    quarter, year = (
        replace(
            predicted_failures(failures, months, hubs=running, ahead=ahead, told=_TOLD, level=LEVEL), status="assumed"
        )
        for ahead in AHEAD_MONTHS
    )
    return quarter, year


def _at_most(estimate: Estimate, hubs: int, *, status: Status) -> Estimate:
    """Hold a count that was reckoned up from a sample to the hubs there are."""
    ends = (None if end is None else min(end, float(hubs)) for end in (estimate.value, estimate.low, estimate.high))
    value, low, high = ends
    return replace(estimate, value=value, low=low, high=high, status=status)


def _money(
    snapshot: Snapshot, chances: RunningChances | None, sample: HubSample | None, *, ask_all: bool
) -> tuple[Estimate, str | None]:
    """Price the failures of the next year, pattern by pattern; each hub stands for so many."""
    if chances is None:
        return no_estimate(remark(ForecastRemark.NOT_BY_HUB)), None
    chance = chances.known(_YEAR, ask_all=ask_all)
    patterns = chances.hubs["pattern"].fillna("").to_numpy(dtype=str)
    price = np.zeros(patterns.size)
    currencies = set()
    try:
        for name in np.unique(patterns):
            prices = prices_of(snapshot, str(name))
            price[patterns == name] = prices.need("failure")[0]
            currencies.add(prices.currency)
    except AnalysisError as error:
        return no_estimate(refused(error)), None
    if len(currencies) > 1:
        return no_estimate(remark(ForecastRemark.CURRENCIES)), None
    return cost_estimate(
        chance, price, sample=sample, level=LEVEL, rng=snapshot.draws.generator("cost of a year")
    ), currencies.pop()
