"""The review on a terminal: a verdict, what to do and about whom, what is to come."""

from __future__ import annotations

from typing import Final

from wearstats.report.calls.left_out import left_out_line
from wearstats.report.calls.sentences import who_words
from wearstats.report.remarks.review import about
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.review.labels import group_words
from wearstats.report.review.returns_sentences import REASON_WORDS
from wearstats.report.review.sentences import ACTION_WORDS, groups_words, judged_words
from wearstats.report.words.cautions import SHORT_CAUTIONS
from wearstats.report.words.phrases import count, in_hundred, sentence
from wearstats.studies.counts.groups import LEVEL
from wearstats.studies.counts.quarter import BEFORE_QUARTERS
from wearstats.studies.review.actions import FIRST, Action
from wearstats.studies.review.remarks import ActionRemark, VerdictRemark
from wearstats.studies.review.study import ReviewStudy

_NAMED: Final = 2
_URGENT: Final = {VerdictRemark.ALARM}


def review_answer(study: ReviewStudy) -> ShortAnswer:
    """Say how the quarter stands, what to do, and how many more are to come: at most 18 lines."""
    body: list[str | SmallTable] = [
        *judged_words(study),
        *_take_back(study),
        *_warn(study),
        *_stand_out(study),
        *_others(study),
        *_came_back(study),
        *_ask_back(study),
        *_to_come(study),
        *left_out_line(study.left_out),
    ]
    return ShortAnswer(
        question="Review of {}",
        about=str(study.quarter),
        verdict=say(study.verdict),
        body=tuple(sentence(line) if isinstance(line, str) else line for line in body),
        cautions=SHORT_CAUTIONS,
        more=f"wearstats review --quarter {study.quarter} --full",
        urgent=study.verdict.code in _URGENT,
    )


def _done(study: ReviewStudy, *do: str) -> list[Action]:
    return [action for action in study.actions if action.do in do]


def _take_back(study: ReviewStudy) -> list[str]:
    """Name the batches that are withdrawn, or that should be, or gauged again."""
    lines = []
    for action in _done(study, "take-back")[:_NAMED]:
        facts = action.because.facts
        name, untold = action.what.facts["batch"], facts["untold"]
        warned = f"{untold} {'owner' if untold == 1 else 'owners'} not yet warned" if untold else "all owners warned"
        found = [f"{count(facts['hubs'], 'hub')} in use, {warned}"] if facts["hubs"] else []
        found += [f"{facts['unheard']} sent without word"] if facts["unheard"] else []
        lines.append(f"take back withdrawn batch {name}: {', '.join(found)}; wearstats calls --batch {name}")
    named = _done(study, "withdraw", "re-gauge")
    lines += [f"{ACTION_WORDS[each.do].lower()} {say(each.what)}: wearstats calls --batch {each.what.facts['batch']}"
              for each in named[:_NAMED]]  # fmt: skip
    more = len(_done(study, "take-back")[_NAMED:]) + len(named[_NAMED:])
    return [*lines, *([f"{count(more, 'more batch', 'more batches')} to look at"] if more else [])]


def _warn(study: ReviewStudy) -> list[str]:
    """Say who is first, how many more, and what the first of them hold."""
    if study.in_use is None:
        return []
    figures, to_warn = study.in_use.figures, study.in_use.to_warn
    sampled = None if study.forecast is None else study.forecast.sampled_shafts
    of_sample = "" if sampled is None else f" on {count(sampled, 'shaft')} taken at random"
    ask = f"ask {figures.to_ask} how it holds" if figures.to_ask else ""
    if to_warn.empty:
        known = figures.loose_now is not None or not figures.hubs_in_use
        warned = f"nobody is to be warned{of_sample}" if known else "the chance of single hubs is not known"
        return [f"{warned}; {ask}: wearstats calls" if ask else warned]
    first = to_warn.iloc[0]
    risk = first["loose_now"]
    if first["withdrawn"]:
        why = f"its hub is of batch {first['batch']}"
    else:
        why = f"{in_hundred(risk)} in 100 that it is loose already"
    lines = [f"stop and check {who_words(first)} first: {why}"]
    more, held = figures.to_warn - 1, study.in_use.held_by_first(FIRST)
    if more:
        line = f"then warn {more} more{of_sample}"
        if figures.to_warn > FIRST and held is not None and figures.loose_now is not None:
            line += f": the first {FIRST} hold {about(held)} of {about(figures.loose_now)} that may be loose"
        lines.append(line)
    warned = f" ({figures.already_warned} warned)" if figures.already_warned else ""
    return [*lines, f"names: wearstats calls --warn{f'. Then {ask}{warned}' if ask else ''}"]


def _stand_out(study: ReviewStudy) -> list[str]:
    """Name what stands out; all else is one line."""
    lines = []
    for action in _done(study, "look-into"):
        if action.because.code == ActionRemark.RATE_CHANGED:
            lines.append(f"look into the rate: {action.number:.1f} times that of the year before, more than chance")
        elif action.because.code == ActionRemark.ALARM:
            since = action.what.facts["quarter"]
            lines.append(f"look into failures since {since}: {action.number:.1f} times as many as predicted")
    lines += _alarm_before(study)
    changes = study.counts.changes()
    if changes.empty or study.counts.before_months <= 0:
        return lines
    out = changes[changes["p_adjusted"] < LEVEL]
    for group in out.head(_NAMED).to_dict("records"):
        name = group_words(group["by"], group["group"])
        lines.append(f"look into {name}: {group['number']} now, {group['before_number']} in the year before")
    if len(out) > _NAMED or out.empty:
        lines.append(groups_words(study))
    return lines


def _alarm_before(study: ReviewStudy) -> list[str]:
    """Say so where an alarm went in the year before the quarter: the chart has begun anew since."""
    past = [study.quarter.shifted(-back) for back in range(1, BEFORE_QUARTERS + 1)]
    found = [] if study.forecast is None else [study.forecast.alarm(quarter) for quarter in past]
    return [
        f"an alarm went in {alarm['quarter']}: since {alarm['since']} "
        f"{alarm['seen_over_expected']:.1f} times as many as predicted"
        for alarm in filter(None, found)
    ][:1]


def _ask_back(study: ReviewStudy) -> list[str]:
    """Say how many hubs on loan are overdue."""
    return [f"ask back {count(int(each.number), 'hub')}: wearstats shelf" for each in _done(study, "ask-back")]


def _others(study: ReviewStudy) -> list[str]:
    """Say where to stop sending as supplied, and how many hubs to make."""
    lines = []
    for action in _done(study, "stop"):
        gap = action.because.facts
        ends = (
            "" if gap["low_um"] is None or gap["high_um"] is None else f" ({gap['low_um']:.0f} to {gap['high_um']:.0f})"
        )
        lines.append(f"send as supplied only where the gap left is under {gap['gap_um']:.0f} µm{ends}")
    made = sum(action.number for action in _done(study, "make"))
    if made:
        lines.append(f"make {count(round(made), 'hub')}: wearstats stock")
    elif study.make_not_told:
        lines.append("what to make is not known: wearstats stock says why")
    return lines


def _came_back(study: ReviewStudy) -> list[str]:
    if study.sent + study.returned == 0:
        return []
    most = ""
    if study.returns:
        reason, number = next(iter(study.returns.items()))
        most = f" ({number}: {REASON_WORDS.get(reason, reason)})"
    return [f"{study.returned or 'none'} came back{most}, {study.sent or 'none'} went out"]


def _to_come(study: ReviewStudy) -> list[str]:
    """Say how many more are predicted, never more than there are hubs."""
    if study.in_use is None or not study.in_use.figures.hubs_in_use:
        return []
    soon = study.in_use.figures.failures_next_quarter
    if soon.value is None or soon.low is None or soon.high is None:
        return []
    asked = study.forecast is not None and study.forecast.ask_all
    return [
        f"next quarter {about(soon.value)} more will be {'known to be' if asked else 'reported'} loose"
        f"{' if all are asked' if asked else ''} ({soon.low:.0f} to {soon.high:.0f}, 90 % sure)"
    ]
