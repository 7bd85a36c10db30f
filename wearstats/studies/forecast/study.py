"""Foretell the failures of the hubs in use, with the record of what was foretold before."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.loosening.forecast import HubSample, cost_estimate, count_estimate
from wearstats.analysis.monitoring.cusum import binary_scores
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.rates.poisson_rates import predicted_count
from wearstats.analysis.remark import Quoted, Remark, refused, remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.domain.quarters import Quarter
from wearstats.errors import AnalysisError
from wearstats.studies.forecast.observed_expected import ODDS_RATIO, Watch, watch_failures
from wearstats.studies.forecast.remarks import ForecastRemark
from wearstats.studies.forecast.running_hubs import AHEAD_MONTHS, RunningChances, foretell_running
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.inputs.hubs_in_use import HubsInUse, hubs_in_use, read_hubs_in_use
from wearstats.studies.inputs.prices import prices_of
from wearstats.studies.inputs.sampling import ShaftSample, shaft_sample
from wearstats.studies.loosening.fit_from_store import known_law
from wearstats.studies.loosening.risk_model import FEWEST_FAILURES
from wearstats.studies.snapshot import Snapshot

LEVEL = 0.90
_DRAWS, _PAST_DRAWS = 200, 60
_QUARTER, _YEAR = range(len(AHEAD_MONTHS))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForecastStudy:
    """What is foretold of the hubs in use.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    running : DataFrame
        One row a hub in use, most likely to be loose first: ``fitting``, ``shaft``, ``hub``, ``pattern``, ``region``,
        ``method``, ``undersize_um``, ``fitted_on``, ``last_word_on``, ``told``, ``gap_left_um`` (NaN where nothing is
        known), ``loose_now``, ``risk_quarter``, ``risk_year`` (loose by then, already or to come) and their ``_low``
        and ``_high`` (95 %).
    next_quarter, next_year : Estimate
        Failures that will come to be known, of the hubs in use now; prediction intervals.
    happen_year : float or None
        Failures expected to happen within a year, known or not, those that may have happened already among them.
    money : Estimate
        What the failures of the next year will cost.
    currency : str or None
        In which.
    earlier : DataFrame
        Past quarters foretold as known then: ``quarter``, ``hubs``, ``expected``, ``low``, ``high``, ``happened``.
    not_foretold : dict of str to Remark
        Past quarters that could not be foretold, with the reason.
    watch : Watch or None
        Seen against foretold; None where no past quarter could be foretold.
    why_no_law : Remark or None
        Why the forecast rests on one rate for all, where it does.
    sampled_shafts : int or None
        Of how many shafts, taken at random, the hubs were looked at one by one; None: of all. `running` and `earlier`
        are of their hubs, the numbers foretold of all hubs in use.
    hubs : int
        Hubs in use, of all shafts; reckoned up where these are a sample.
    chances : RunningChances or None
        The chances themselves, for whoever asks further.
    """

    as_of: datetime.date
    running: Annotated[
        pd.DataFrame,
        columns(
            text="fitting shaft hub pattern region method",
            number=(
                "undersize_um gap_left_um loose_now loose_now_low loose_now_high risk_quarter "
                "risk_quarter_low risk_quarter_high risk_year risk_year_low risk_year_high"
            ),
            flag="told",
            day="fitted_on last_word_on",
        ),
    ]
    next_quarter: Estimate
    next_year: Estimate
    happen_year: float | None
    money: Estimate
    currency: str | None
    earlier: Annotated[pd.DataFrame, columns(text="quarter", number="expected low high", whole="hubs happened")]
    not_foretold: dict[str, Remark]
    watch: Watch | None
    why_no_law: Remark | None
    sampled_shafts: int | None
    hubs: int
    chances: RunningChances | None

    @property
    def inside(self) -> int:
        """Past quarters in which what happened lay within what was foretold."""
        return int(self.earlier["happened"].between(self.earlier["low"], self.earlier["high"]).sum())

    def signals(self) -> list[dict[str, Any]]:
        """Give the alarms.

        Returns
        -------
        list of dict
            ``false_alarm_quarters`` (mean time between false alarms at that limit, the law's doubt allowed for; None
            where none could come), ``quarter``, ``since``, ``seen_over_expected``; by limit, the rarest false alarms
            last, and in order of time.
        """
        if self.watch is None:
            return []
        names = self.earlier["quarter"].tolist()
        return [
            {
                "false_alarm_quarters": found.false_alarm_steps if np.isfinite(found.false_alarm_steps) else None,
                "quarter": names[alarm.step],
                "since": names[alarm.since],
                "seen_over_expected": alarm.ratio,
            }
            for found in self.watch.sums.values()
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
            "not_foretold": self.not_foretold,
            "signals": self.signals(),
            "seen_over_foretold": None if self.watch is None else self.watch.ratio,
            "one_rate_for_all_because": self.why_no_law,
            "hubs_in_use": self.hubs,
            "sampled_shafts": self.sampled_shafts,
        }


def study_forecast(snapshot: Snapshot, *, past: bool = True) -> ForecastStudy:
    """Foretell.

    Parameters
    ----------
    past : bool
        Whether past quarters are foretold again as known then.

    Raises
    ------
    AnalysisError
        When no hub ever ran.

    Notes
    -----
    Foretold and counted are the failures of hubs in use at a quarter's beginning that come to be known in it. Hubs
    fitted in the quarter are not among them.
    """
    as_of, draws, sample = snapshot.known_on, snapshot.draws, shaft_sample(snapshot)
    hubs = read_hubs_in_use(snapshot, histories_of(snapshot))
    if hubs.frame.empty:
        raise AnalysisError("no fitting is on record", needed="add the tables fittings and follow_ups")
    quarters = [quarter for quarter in hubs.quarters()[1:] if past and quarter.last_day <= as_of]
    chances, why = _attempt(snapshot, hubs, _DRAWS)
    rows, missing = [], {}
    for quarter in quarters:
        then = snapshot.at(quarter.shifted(-1).last_day)
        # before anything is fitted as it stood then
        told, why_not = None, _too_few(hubs, then.known_on) or _no_gaps(snapshot)
        if why_not is None:
            told, why_not = _attempt(then, hubs_in_use(histories_of(then)), _PAST_DRAWS)
        if told is not None:
            rows.append(_replayed(quarter, told, hubs, draws))
        elif why_not is not None:
            missing[str(quarter)] = why_not
    earlier = pd.DataFrame(
        rows, columns=["quarter", "hubs", "expected", "low", "high", "happened", "doubt", "discount"]
    )
    looked_at = int(hubs.running.sum())
    times = 1.0 if sample is None else sample.times
    hub_sample = _sample_of(chances, sample)
    next_quarter, next_year = _counts(hubs, chances, times, hub_sample, draws)
    money, currency = _money(snapshot, chances, hub_sample)
    return ForecastStudy(
        as_of=as_of,
        running=_running(chances) if chances else _running_without(hubs),
        next_quarter=next_quarter,
        next_year=next_year,
        happen_year=None if chances is None else times * float(chances.foretold.loose_by(_YEAR).sum(axis=1).mean()),
        money=money,
        currency=currency,
        earlier=earlier.drop(columns=["doubt", "discount"]),
        not_foretold=missing,
        watch=watch_failures(earlier) if len(earlier) else None,
        why_no_law=why,
        sampled_shafts=None if sample is None else len(sample.names),
        hubs=round(times * looked_at),
        chances=chances,
    )


def _sample_of(chances: RunningChances | None, sample: ShaftSample | None) -> HubSample | None:
    """Say that the hubs foretold are those of sampled shafts; None where they are all."""
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


def _attempt(snapshot: Snapshot, hubs: HubsInUse, count: int) -> tuple[RunningChances | None, Remark | None]:
    if why := _no_gaps(snapshot):
        return None, why
    try:
        return foretell_running(snapshot, hubs, draws=count), None
    except AnalysisError as error:
        return None, remark(Quoted.REFUSAL, message=error.why)


def _replayed(
    quarter: Quarter, told: RunningChances, whole: HubsInUse, draws: NamedDraws
) -> dict[str, str | int | float | None]:
    """Hold what was foretold at a quarter's beginning against what came to be known in it."""
    chance = told.known(_QUARTER)
    rng = draws.generator("failures known", str(quarter))
    estimate = count_estimate(chance, told="failures to become known", level=LEVEL, rng=rng)
    failed = whole.failed_within(quarter.first_day, quarter.last_day)
    happened = whole.frame["fitting"].isin(told.hubs["fitting"]) & failed
    return {
        "quarter": str(quarter),
        "hubs": len(told.hubs),
        "expected": estimate.value,
        "low": estimate.low,
        "high": estimate.high,
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
) -> tuple[Estimate, Estimate]:
    told = "failures to become known"
    if chances is not None:
        quarter, year = (
            count_estimate(chances.known(time), told=told, sample=sample, level=LEVEL, rng=draws.generator(name))
            for time, name in ((_QUARTER, "failures known in a quarter"), (_YEAR, "failures known in a year"))
        )
        return quarter, year
    first = hubs.frame["from_on"].min().date()
    months, failures = float(hubs.months_within(first, hubs.as_of).sum()), int(hubs.frame["failed"].sum())
    running = times * float(hubs.running.sum())
    # that all hubs fail at one rate, however old and however fitted, is taken, not learnt
    quarter, year = (
        replace(predicted_count(failures, months, running * ahead, told=told, level=LEVEL), status="assumed")
        for ahead in AHEAD_MONTHS
    )
    return quarter, year


def _money(snapshot: Snapshot, chances: RunningChances | None, sample: HubSample | None) -> tuple[Estimate, str | None]:
    """Price the failures of the next year, pattern by pattern; each hub stands for so many."""
    if chances is None:
        return no_estimate(remark(ForecastRemark.NOT_BY_HUB)), None
    chance = chances.known(_YEAR)
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


def _running(chances: RunningChances) -> pd.DataFrame:
    foretold = chances.foretold
    columns: dict[str, FloatArray] = {"gap_left_um": chances.gap_um}
    for name, draws in (
        ("loose_now", foretold.loose_now),
        ("risk_quarter", foretold.loose_by(_QUARTER)),
        ("risk_year", foretold.loose_by(_YEAR)),
    ):
        low, high = np.quantile(draws, [0.025, 0.975], axis=0)
        columns |= {name: draws.mean(axis=0), f"{name}_low": low, f"{name}_high": high}
    frame = _named(chances.hubs).assign(**columns)
    return frame.sort_values(["risk_quarter", "fitting"], ascending=[False, True]).reset_index(drop=True)


def _running_without(hubs: HubsInUse) -> pd.DataFrame:
    """Give the hubs in use where nothing is foretold of them one by one."""
    none = [
        "gap_left_um",
        *(f"{name}{end}" for name in ("loose_now", "risk_quarter", "risk_year") for end in ("", "_low", "_high")),
    ]
    frame = _named(hubs.frame[hubs.running]).assign(**dict.fromkeys(none, np.nan))
    return frame.sort_values(["last_word_on", "fitting"]).reset_index(drop=True)


def days_written(running: pd.DataFrame) -> pd.DataFrame:
    """Write the days in rows of `ForecastStudy.running` out, for a document or a file."""
    days = running.select_dtypes("datetime")
    return running.assign(**{str(name): days[name].dt.strftime("%Y-%m-%d") for name in days})


def _named(hubs: pd.DataFrame) -> pd.DataFrame:
    kept = ["fitting", "shaft", "hub", "pattern", "region", "method_sent", "undersize_um", "from_on", "last_word_on"]
    frame = hubs[[*kept, "told"]].rename(columns={"method_sent": "method", "from_on": "fitted_on"})
    return frame.reset_index(drop=True)
