"""Whether hubs as supplied fail more, in short: a verdict, three comparisons, and when it will be settled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.methods.tables import AS_SUPPLIED, HAND_FITTED
from wearstats.report.calls.left_out import left_out_line
from wearstats.report.methods.sentences import about
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable, sure_of
from wearstats.report.words.phrases import in_hundred, more_or_fewer, span, sure_fewer

if TYPE_CHECKING:
    from wearstats.studies.methods.answer import MethodsStudy

_NOTHING: Final = 0.01
"""A difference at the same gap below one hub in a hundred is not put into a number."""


def methods_answer(study: MethodsStudy) -> ShortAnswer:
    """Say whether hubs as supplied fail more, by which comparison, and what to do."""
    return ShortAnswer(
        question="Do off-the-shelf hubs fail more?",
        verdict=say(study.verdict),
        body=(
            *_compared(study),
            f"So: {say(study.next_step)}.",
            *_strict(study),
            *_more(study),
            *left_out_line(study.left_out),
        ),
        foot=sure_of(study.sampled_shafts),
        more="wearstats methods --full",
    )


def _compared(study: MethodsStudy) -> tuple[str | SmallTable, ...]:
    """Give the three comparisons as rows; without any, what is known and why there is none."""
    sent, like = study.groups["sent"], study.like_shafts
    risks = [sent[name].risk(study.horizon_months) for name in (AS_SUPPLIED, HAND_FITTED)]
    of_like = (Estimate(value=None),) * 2 if like is None else (like.first_risk, like.second_risk)
    differences = (study.same_shafts, study.differences["sent"], study.at_same_gap)
    if all(each.value is None for each in differences):
        return _counted(study)
    rows = (
        ("on like shafts", *map(_risk, of_like), _difference(differences[0])),
        ("as they were sent", *map(_risk, risks), _difference(differences[1])),
        ("at the same gap", "", "", _difference(differences[2], small=_NOTHING)),
    )
    head = (f"of 100 loose in {span(study.horizon_months)}", "supplied", "filed", "difference")
    return (SmallTable(head=head, rows=rows, left=frozenset({0, 3})),)


def _counted(study: MethodsStudy) -> tuple[str, ...]:
    """Say what is known of both ways, and what is missing."""
    table, time = study.tables["sent"].table, span(study.horizon_months)
    return (
        f"Known after {time}: {table.first_failed} of {table.first_total} loose as supplied, "
        f"{table.second_failed} of {table.second_total} filed.",
        f"Like shafts: {say(study.same_shafts.method)}.",
    )


def _risk(risk: Estimate) -> str:
    return "" if risk.value is None else in_hundred(risk.value)


def _difference(difference: Estimate, *, small: float = 0.0) -> str:
    if difference.value is None:
        return "cannot be told"
    fewer, sure = sure_fewer(difference)
    return f"{'none seen' if difference.side() == 0 and abs(difference.value) < small else fewer}{sure}"


def _strict(study: MethodsStudy) -> tuple[str, ...]:
    evidence = study.evidence
    looked = "Strict test, looked at every quarter"
    if evidence.low is None or evidence.high is None:
        return (f"{looked}: no hub of both ways has reached {study.horizon_months:g} months.",)
    range_ = f"({more_or_fewer(evidence.low)} to {more_or_fewer(evidence.high)})"
    if not evidence.settled:
        return (f"{looked}: open {range_}.",)
    since = "" if evidence.since is None else f" since {evidence.since.isoformat()}"
    return (f"{looked}: settled{since} {range_}.",)


def _more(study: MethodsStudy) -> tuple[str, ...]:
    """Say how many more shafts would settle it, and how long they take at today's pace."""
    more = study.more_fittings
    if study.evidence.settled or more.method is None:
        return ()
    a_quarter = more.method.facts.get("a_quarter")
    least = "" if not more.low else about(more.low)
    if more.value is None:
        return (f"To settle it: at least {least} more shafts, and as it seems now over 20 years.",) if least else ()
    return (f"To settle it: about {about(more.value)} more shafts{_pace(more.value, a_quarter)}.",)


def _pace(shafts: float, a_quarter: int | None) -> str:
    if not a_quarter:
        return ""
    years = round(shafts / a_quarter / 4)
    return f", {f'about {years} years' if years > 1 else 'a year or so'} at today's pace"
