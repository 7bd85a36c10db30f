"""The verdicts on a quarter and on whom to call, functions of their numbers alone."""

from __future__ import annotations

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.monitoring.standing import SURE, Standing, standing_of
from wearstats.analysis.rates.predicted_failures import predicted_failures
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.quarters import Quarter
from wearstats.studies.counts.quarter import QuarterCounts
from wearstats.studies.forecast.figures import Figures
from wearstats.studies.forecast.remarks import ForecastRemark
from wearstats.studies.forecast.study import ForecastStudy
from wearstats.studies.review.remarks import CallsVerdict, VerdictRemark


def verdict_of(
    *, seen: int, expected: Estimate | None, alarm_since: Quarter | None, hubs: int, over: bool = True
) -> Remark:
    """Judge a quarter.

    Parameters
    ----------
    seen : int
        Hubs that became known to have worked loose.
    expected : Estimate or None
        How many were expected, with a prediction interval whose ends belong to it; None where nothing tells.
    alarm_since : Quarter or None
        Since when there are too many, where the sequential chart gave its alarm in this very quarter.
    hubs : int
        Hubs in use at some time in the quarter.
    over : bool
        Whether the quarter was over.

    Returns
    -------
    Remark
        Alarm where the chart gave it, whatever the range; quiet inside the range, watch outside.
    """
    where = standing_of(seen, expected)
    if hubs == 0 and seen == 0:
        return remark(VerdictRemark.NO_HUB)
    if expected is None or where is Standing.UNKNOWN:
        return remark(VerdictRemark.NOTHING_TO_COMPARE, seen=seen, over=over)
    facts = {"seen": seen, "expected": expected.value, "low": expected.low, "high": expected.high, "over": over}
    if alarm_since is not None:
        return remark(VerdictRemark.ALARM, **facts, since=str(alarm_since))
    codes = {
        Standing.INSIDE: VerdictRemark.QUIET,
        Standing.ABOVE: VerdictRemark.WATCH_MORE,
        Standing.BELOW: VerdictRemark.WATCH_FEWER,
    }
    if where is Standing.BELOW and not over:
        # what is missing may still come
        return remark(VerdictRemark.QUIET, **facts)
    return remark(codes[where], **facts)


def calls_verdict(figures: Figures) -> Remark:
    """Say whom to call: first those to be warned, then those to be asked.

    Parameters
    ----------
    figures : Figures
        How many there are of each, and whether a model tells how likely single hubs are to be loose.
    """
    if figures.to_warn:
        return remark(CallsVerdict.WARN, warn=figures.to_warn, ask=figures.to_ask)
    if not figures.to_ask:
        return remark(CallsVerdict.NOBODY)
    code = CallsVerdict.ASK_BY_DUE_DAY if figures.loose_now is None else CallsVerdict.ASK
    return remark(code, ask=figures.to_ask)


def expected_in(counts: QuarterCounts, forecast: ForecastStudy | None) -> tuple[int, Estimate | None]:
    """Give the failures that are judged, and how many of them were expected.

    Parameters
    ----------
    counts : QuarterCounts
        What became known in the quarter.
    forecast : ForecastStudy or None
        What was predicted of it.

    Returns
    -------
    tuple of (int, Estimate or None)
        Where the quarter was predicted as known at its beginning: the failures of the hubs in use then, and that
        prediction (95 %). Else all failures, and what the rate of the four quarters before would bring; None where
        fewer hub-months lie before than in the quarter itself, for so little tells no rate.
    """
    earlier = None if forecast is None else forecast.earlier[forecast.earlier["quarter"] == str(counts.quarter)]
    if earlier is not None and len(earlier):
        row = earlier.iloc[0]
        return int(row["happened"]), Estimate(
            value=float(row["expected"]),
            low=float(row["low_95"]),
            high=float(row["high_95"]),
            level=SURE,
            method=remark(ForecastRemark.AS_KNOWN_THEN, hubs=int(row["hubs"])),
        )
    if counts.hub_months <= 0 or counts.before_months < counts.hub_months:
        return counts.failures, None
    return counts.failures, predicted_failures(
        counts.before_failures,
        counts.before_months,
        hubs=counts.hubs,
        ahead=counts.hub_months / counts.hubs,
        told=remark(ForecastRemark.AT_THE_RATE_BEFORE),
        level=SURE,
    )
