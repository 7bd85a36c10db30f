"""The quarterly review, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark
from wearstats.report.calls.left_out import left_out_sentences
from wearstats.report.remarks.review import about, expected_words
from wearstats.report.remarks.say import say
from wearstats.report.review.labels import CAUSE_WORDS, WHAT_WORDS, group_words
from wearstats.report.review.returns_sentences import REASON_WORDS
from wearstats.report.words.phrases import count, joined, sentence
from wearstats.studies.counts.groups import LEVEL

if TYPE_CHECKING:
    from wearstats.studies.forecast.study import ForecastStudy
    from wearstats.studies.review.actions import Action
    from wearstats.studies.review.study import ReviewStudy

ACTION_WORDS = {
    "take-back": "Take back",
    "warn": "Warn",
    "call": "Ask",
    "withdraw": "Withdraw",
    "re-gauge": "Gauge again",
    "stop": "Stop",
    "look-into": "Look into",
    "ask-back": "Ask back",
    "make": "Make",
}
_MOST = 100.0
"""In 100 hub-months: a rate that may be higher than that is none."""
STOP_FIRST = "Stop, check before the next start."
"""The first line over hubs at risk."""


def review_sentences(study: ReviewStudy) -> list[str]:
    """Say how the quarter stands, what to do, what came back, whether it is more than chance, what is still to come."""
    return [
        *_verdict(study),
        *action_lines(study.actions),
        *_make_not_known(study.make_not_told),
        *quarter_sentences(study),
        *_changes(study),
        *_waits(study),
        *_returns(study),
        *_batches(study),
        *_advice(study),
        *(forecast_sentences(study.forecast) if study.forecast else []),
        *_at_risk(study),
        *left_out_sentences(study.left_out),
    ]


def _verdict(study: ReviewStudy) -> list[str]:
    """Say how the quarter stands, against what, and which failures are judged where that is not all of them."""
    lines = [say(study.verdict)]
    if study.expected is not None and study.expected.value is not None:
        lines.append(f"expected were {study.expected.value:.1f}, 95 % sure: {say(study.expected.method)}")
    return [sentence(line) for line in [*lines, *judged_words(study)]]


def judged_words(study: ReviewStudy) -> list[str]:
    """Say which failures are judged, where that is not all of them."""
    others = study.counts.failures - study.seen
    if not others:
        return []
    if study.forecast is not None and study.forecast.sampled_shafts is not None:
        shafts = count(study.forecast.sampled_shafts, "shaft")
        return [f"in all {study.counts.failures} worked loose; judged are those on {shafts} taken at random"]
    return [f"in all {study.counts.failures} worked loose; {others} of them went on in the quarter itself"]


def action_lines(actions: tuple[Action, ...]) -> list[str]:
    """Say each action as a line: what to do, how many, why."""
    if not actions:
        return ["Nothing that was found calls for action."]
    return [sentence(_action(action)) for action in actions]


def _make_not_known(why: Mapping[str, Remark | str | None]) -> list[str]:
    """Say why it is not known what to make, pattern by pattern, lest no line be taken for nothing to make."""
    return [
        sentence(f"what to make{f' of pattern {name}' if name else ''} is not known: {say(reason)}")
        for name, reason in why.items()
    ]


def _action(action: Action) -> str:
    return f"{ACTION_WORDS[action.do]} {say(action.what)}: {say(action.because)}"


def quarter_sentences(study: ReviewStudy) -> list[str]:
    """Say the quarter's failures per hub-month beside those before, and how ripe that is."""
    counts = study.counts
    span = f"In {study.quarter}" + ("" if study.over else f", which is not over on {study.as_of},")
    if counts.hub_months <= 0:
        return [sentence(f"{span} no hub was in use, as far as is known")]
    lines = [
        f"{span} {_hubs(counts.fittings)} went on and {_hubs(counts.failures)} became known to have "
        f"worked loose in {counts.hub_months:.0f} hub-months, {_rate(counts.rate)}",
    ]
    if counts.before_months > 0:
        lines.append(
            f"in the four quarters before it was {_rate(counts.before_rate)}; the change is "
            f"{'more than chance' if counts.change_p < 0.05 else 'no more than chance may make'} "
            f"(p = {counts.change_p:.2g})"
        )
    last = counts.by_quarter.iloc[-1]
    lines.append(
        f"the hubs in use had run {last['month_mean']:.0f} months on average; one fitted last month can hardly have "
        "failed yet"
    )
    if counts.heard_rate.value is not None and counts.failures:
        lines.append(
            "silent owners' hubs count as in use; counted only up to their last word it would be "
            f"{counts.heard_rate.value:.2f} in 100 hub-months, too many, for bad news comes by itself and good news "
            "does not"
        )
    if counts.other_ends:
        other = [f"{CAUSE_WORDS.get(cause, cause)} ({number})" for cause, number in counts.other_ends.items()]
        lines.append(f"{count(sum(counts.other_ends.values()), 'hub')} came off for other causes: {joined(other)}")
    return [sentence(line) for line in lines]


def _hubs(number: int) -> str:
    return count(number, "hub") if number else "none"


def _rate(rate: Estimate) -> str:
    if rate.value is None:
        return "not known"
    if rate.high is not None and rate.high > _MOST:
        return "too little to tell a rate"
    return f"{rate.value:.2f} in 100 hub-months (between {rate.low or 0.0:.2f} and {rate.high or 0.0:.2f}, 95 % sure)"


def _changes(study: ReviewStudy) -> list[str]:
    """Say which groups stand out; all others are one line."""
    changes = study.counts.changes()
    if changes.empty or study.counts.before_months <= 0:
        return []
    lines = [groups_words(study)]
    for group in changes[changes["p_adjusted"] < LEVEL].to_dict("records"):
        one, several = WHAT_WORDS[group["what"]]
        lines.append(
            f"{group_words(group['by'], group['group'])}: {group['number']} "
            f"{one if group['number'] == 1 else several} in {group['hub_months']:.0f} hub-months against "
            f"{group['before_number']} in {group['before_months']:.0f} before, more than chance (p = {group['p']:.2g}, "
            f"allowing for all of them {group['p_adjusted']:.2g})"
        )
    return [sentence(line) for line in lines]


def groups_words(study: ReviewStudy) -> str:
    """Say how many groups were compared and how many stand out."""
    changes = study.counts.changes()
    out = int((changes["p_adjusted"] < LEVEL).sum())
    stand = f"{out} {'stands' if out == 1 else 'stand'} out" if out else "none stands out"
    return f"of {count(len(changes), 'group')} {stand} against its past"


def _returns(study: ReviewStudy) -> list[str]:
    if study.sent + study.returned == 0:
        return [sentence(f"in {study.quarter} no hub was sent and none came back")]
    reasons = [f"{REASON_WORDS.get(reason, reason)} ({number})" for reason, number in study.returns.items()]
    came = f"{count(study.returned, 'hub')} came back, {study.sent} went out"
    lines = [f"{came}; the reasons: {joined(reasons)}" if reasons else came]
    if study.sent_before:
        before = sum(study.returns_before.values())
        lines.append(
            f"in the four quarters before {before} came back of {study.sent_before} sent; the change is "
            f"{'more than chance' if study.returns_change_p < 0.05 else 'no more than chance may make'} "
            f"(p = {study.returns_change_p:.2g})"
        )
    following = study.returns_next
    if following.value is not None and following.low is not None and following.high is not None:
        like = "this one" if study.returns_quarters == 1 else f"the last {study.returns_quarters}"
        lines.append(
            f"a quarter like {like} brings back {about(following.value)} {'hub' if following.value < 1.5 else 'hubs'} "
            f"(between {following.low:.0f} and {following.high:.0f}, 90 % sure)"
        )
    return [sentence(line) for line in lines]


def _batches(study: ReviewStudy) -> list[str]:
    frame = study.batches.frame
    if frame.empty:
        return []
    wide, loose, odds = (int(frame[name].sum()) for name in ("wide", "loose", "at_odds"))
    return [
        sentence(
            f"of {count(len(frame), 'batch', 'batches')}, {int((frame['gauged'] > 0).sum())} with gauged hubs, "
            f"{wide or 'none'} ran wide beyond doubt, of {loose or 'none'} more hubs worked loose than of the others "
            f"by more than chance, and {odds or 'none'} had hubs gauged otherwise than by the plug gauges"
        )
    ]


def _advice(study: ReviewStudy) -> list[str]:
    advice = study.advice
    lines = []
    table = advice.by_method
    otherwise = table[table["method_sent"] != table["method_done"]]
    if len(table):
        lines.append(
            f"of {count(int(table['hubs'].sum()), 'hub')} {int(otherwise['hubs'].sum())} went on in another way than "
            "they were sent for"
        )
    for row in advice.by_following.to_dict("records"):
        how = "was followed" if row["followed"] else "was not followed"
        lines.append(
            f"this program's advice {how} for {count(int(row['hubs']), 'hub')}, of which {row['failures']} worked "
            f"loose in {row['hub_months']:.0f} hub-months"
        )
    if not len(advice.by_following):
        lines.append("no hub has yet been sent on advice kept by this program, so that cannot be judged")
    return [sentence(line) for line in lines]


def _waits(study: ReviewStudy) -> list[str]:
    """Say whether failures come closer together, or wider apart, than they used to."""
    waits = study.waits
    if waits is None:
        return []
    short, long = (int(waits.frame["outside"].eq(word).sum()) for word in ("shorter", "longer"))
    said = "none of them shorter or longer than chance makes them"
    if short or long:
        said = f"{short} of them shorter and {long} longer than chance makes them"
    line = (
        f"between one failure and the next lay {waits.frame['hub_months'].median():.0f} hub-months in the middle of "
        f"{count(len(waits.frame), 'wait')}, {said}; since the last one {waits.since_last:.0f} have passed"
    )
    return [sentence(f"{line}, longer than chance makes it" if waits.last_is_long else line)]


def forecast_sentences(forecast: ForecastStudy) -> list[str]:
    """Say what is predicted, what it will cost, and how earlier forecasts did."""
    lines = []
    if not forecast.hubs:
        return [sentence("no hub is in use now, so that nothing is predicted"), *map(sentence, _record(forecast))]
    if forecast.sampled_shafts is not None:
        lines.append(
            f"hubs were looked at one by one on {count(forecast.sampled_shafts, 'shaft')} taken at random: what is "
            f"predicted is reckoned up to all hubs in use, about {forecast.hubs}, but the hubs listed as most at risk "
            "and the earlier quarters are of these shafts alone; with --pattern others are looked at"
        )
    for estimate, span in ((forecast.next_quarter, "the next three months"), (forecast.next_year, "the next year")):
        if estimate.value is None or estimate.low is None or estimate.high is None:
            continue
        lines.append(
            f"of the hubs now in use {about(estimate.value)} will become known to have worked loose in {span} "
            f"(between {estimate.low:.0f} and {estimate.high:.0f}, 90 % sure)"
        )
    if forecast.chances is not None:
        lines += _asking(forecast)
    if forecast.happen_year is not None:
        lines.append(
            f"{about(forecast.happen_year)} will be loose by then, whether anybody says so or not, those that are "
            "already among them"
        )
    money = forecast.money
    if money.value is not None and money.low is not None and money.high is not None:
        low, high = f"{money.low:,.0f}".replace(",", "\u202f"), f"{money.high:,.0f}".replace(",", "\u202f")
        value = f"{money.value:,.0f}".replace(",", "\u202f")
        lines.append(
            f"those that become known within a year cost {value} {forecast.currency} "
            f"(between {low} and {high}, 90 % sure)"
        )
    elif forecast.chances is not None:
        lines.append(f"what that costs is not known: {say(money.method)}")
    if forecast.why_no_law:
        lines.append(f"this takes one rate for all hubs: {say(forecast.why_no_law)}")
    return [sentence(line) for line in [*lines, *_record(forecast)]]


def _asking(forecast: ForecastStudy) -> list[str]:
    """Say what is taken of how owners are asked, and what the data do not tell of it."""
    lines = [
        "that is if all owners were asked today and answered, and were asked later as before; that all would answer is "
        "assumed"
        if forecast.ask_all
        else "that is if owners are asked as before: some have never answered, the others do as they have done"
    ]
    if forecast.chances is not None and forecast.chances.assumed:
        lines.append(
            "no hub was found loose by asking, so that how many failures go unreported is not told by these data: the "
            "number is assumed, not learnt"
        )
    return lines


def _record(forecast: ForecastStudy) -> list[str]:
    earlier, seen = forecast.earlier, forecast.watch
    if earlier.empty or seen is None:
        return ["no earlier quarter could be predicted as it stood then, so this forecast has no record yet"]
    lines = [
        f"predicted as known then, {forecast.inside} of the last {count(len(earlier), 'quarter')} lay within what was "
        f"predicted, 90 % sure"
    ]
    ratio = seen.ratio
    if ratio.value is not None and ratio.low is not None and ratio.high is not None:
        lines.append(
            f"in all {count(int(earlier['happened'].sum()), 'failure')} became known where "
            f"{expected_words(earlier['expected'].sum())} were predicted, {ratio.value:.2f} times as many (between "
            f"{ratio.low:.2f} and {ratio.high:.2f}, whenever one looks, the model's own doubt in it)"
        )
    alarm = forecast.alarm()
    if alarm is not None:
        apart = alarm["false_alarm_quarters"]
        chance = "hardly ever comes" if apart is None else f"comes once in {count(round(apart), 'quarter')}"
        lines.append(
            f"the last alarm was in {alarm['quarter']}: since {alarm['since']} {alarm['seen_over_expected']:.1f} times "
            f"as many as predicted; at that limit a false alarm {chance}, the model's own doubt allowed for"
        )
    else:
        lines.append(_no_alarm(ratio))
    return lines


def _no_alarm(ratio: Estimate) -> str:
    """Say that no quarter gave an alarm; and, where all quarters together do not fit, that they do not."""
    if ratio.high is not None and ratio.high < 1.0:
        return (
            "no alarm, for alarms are of too many failures; but in all fewer became known than chance makes of "
            "what was predicted: see whether all were heard of and entered"
        )
    if ratio.low is not None and ratio.low > 1.0:
        return "no quarter gave an alarm, but in all more failures became known than chance makes of what was predicted"
    return "no alarm: failures have kept to what was predicted of them"


def _at_risk(study: ReviewStudy) -> list[str]:
    frame = study.at_risk_frame()
    if frame.empty:
        return []
    return [
        STOP_FIRST,
        sentence(
            f"the {len(frame)} hubs in use most likely to be loose within a quarter are listed with their reasons; "
            "all to be warned: wearstats calls --warn"
        ),
    ]
