"""Whether hubs sent as supplied work loose more often, in words that say which question each number answers."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, Any, Final

from wearstats.analysis.estimate import Estimate, may_be_any_share
from wearstats.analysis.monitoring.repeated_testing import ordinary_false_alarms
from wearstats.report.calls.left_out import left_out_sentences
from wearstats.report.loosening.sentences import method_name
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import SURE
from wearstats.report.words.phrases import (
    bracket,
    count,
    day,
    in_hundred,
    joined,
    months,
    more_or_fewer,
    sentence,
    sure_fewer,
    sure_number,
)
from wearstats.studies.methods.held_otherwise import ENOUGH

if TYPE_CHECKING:
    from wearstats.analysis.methods.evidence import MethodEvidence
    from wearstats.analysis.methods.standardised_risk import LikeShafts
    from wearstats.analysis.methods.tables import MethodTable
    from wearstats.studies.methods.answer import MethodsStudy

_THAN = "than of 100 sent to be fitted by hand"
_CANNOT = "that is not settled"
_STRATA = {"period": "half-year"}
_LEFT_OUT = {
    "horizon-not-passed": "fitted too lately",
    "known-late": "known only from a later date",
    "failed-about-then": "failed before or after that time",
    "ended-otherwise": "taken off for another cause",
    "silent": "without word since",
}
_ALL_OF_IT = 0.95
HELD_WORDS: Final = {"compound": "by a compound", "repair": "with a shim or a sleeve"}


def methods_sentences(study: MethodsStudy) -> list[str]:
    """Say how often hubs worked loose by what was sent, on which terms they differ, and what that does not prove."""
    table = study.methods_frame()
    sent = table[table["by"] == "sent"]
    risks = [said for row in sent.to_dict("records") if (said := _risk(row))]
    lines = _sampled(study)
    if risks:
        lines += [sentence(f"Within {months(study.horizon_months)} of fitting there worked loose: {joined(risks)}")]
    else:
        lines += [sentence("How often hubs work loose by fitting method cannot be told from these data yet")]
    lines += _crude(study)
    lines += [_no_failure(row) for row in sent.to_dict("records") if row["failures"] == 0]
    lines += _same_shafts(study)
    lines += _same_gap(study)
    lines += _counted(study.tables["sent"], study.horizon_months)
    lines += _evidence(study.evidence, study.horizon_months)
    lines += _more_fittings(study)
    lines += _held_otherwise(study)
    lines += left_out_sentences(study.left_out)
    return [*lines, _not_by_lot(study.like_shafts), SURE]


def _held_otherwise(study: MethodsStudy) -> list[str]:
    """Say how hubs held by a compound, a shim or a sleeve fare, beside the others where there are enough."""
    lines = []
    for each in study.held_otherwise:
        told = (
            f"Held {HELD_WORDS[each.method]}: {count(each.fittings, 'hub')}, {each.failures} reported loose or broken, "
            f"{sure_number(each.per_100_hub_months)} in 100 hub-months heard of"
        )
        if each.ratio is None:
            told += f"; too few to compare, {ENOUGH} would do"
        elif each.ratio.value is not None:
            told += f", {sure_number(each.ratio)} times the rate of hubs held by their flanks, whatever their shafts"
        lines.append(sentence(f"{told}; never advised here"))
    return lines


def _sampled(study: MethodsStudy) -> list[str]:
    if study.sampled_shafts is None:
        return []
    return [sentence(f"what follows is from the hubs of {count(study.sampled_shafts, 'shaft')} taken at random")]


def _crude(study: MethodsStudy) -> list[str]:
    """Say how far apart the methods are as they were used, and whether that is more than chance."""
    sent, done = study.differences["sent"], study.differences["done"]
    if sent.value is None or sent.low is None or sent.high is None:
        return []
    fewer, sure = sure_fewer(sent)
    said = f"As they were sent, whatever shaft they went to: of 100 hubs as supplied {fewer} work loose {_THAN}{sure}"
    lines = [sentence(said + _may_be_nothing(sent))]
    if study.changed and done.value is not None:
        fewer, sure = sure_fewer(done)
        changed = f"{count(study.changed, 'hub was', 'hubs were')} fitted otherwise than sent"
        lines.append(sentence(f"By how they were fitted in the end ({changed}), {fewer}{sure}"))
    return lines


def _same_shafts(study: MethodsStudy) -> list[str]:
    """Say what sending them one way or the other does on the same shafts, and what could explain it away."""
    difference, like = study.same_shafts, study.like_shafts
    asked = "On the same shafts, alike in what was read when the hub was chosen, in half-year, duty and pattern"
    if like is None or difference.value is None or difference.low is None or difference.high is None:
        return [sentence(f"{asked}: this cannot be told, for {say(difference.method)}")]
    fewer, sure = sure_fewer(difference)
    risks = [in_hundred(risk.value or 0.0) for risk in (like.first_risk, like.second_risk)]
    lines = [
        sentence(
            f"{asked}, with the size that goes with each: of 100 hubs {risks[0]} would work loose as supplied and "
            f"{risks[1]} fitted by hand, {fewer}{sure}{_may_be_nothing(difference)}"
        )
    ]
    ratio, strength = like.ratio, study.e_value
    if ratio.value is None or ratio.low is None or strength.value is None or difference.low <= 0 <= difference.high:
        return lines
    lines.append(
        sentence(
            f"That is {ratio.value:.1f} times the chance{bracket(ratio, '{:.1f}'.format)}. To explain it away, "
            "something not written down would have to go with both the way of sending and working loose by a factor of "
            f"{strength.value:.1f}; to make it doubtful, by {strength.low:.1f}"
        )
    )
    return lines


def _same_gap(study: MethodsStudy) -> list[str]:
    """Say whether the way of fitting matters beyond the gap it leaves; nothing where that was not asked."""
    same = study.same_gap
    if same is None:
        return []
    difference = same.difference
    if difference.value is None:
        return [sentence(f"At the same gap left: this cannot be told, for {say(difference.method)}")]
    fewer, sure = sure_fewer(difference)
    lines = [
        sentence(
            f"At the same gap left, which asks what else the way of sending does: of 100 hubs as supplied {fewer} work "
            f"loose {_THAN}{sure}{_may_be_nothing(difference)}"
        )
    ]
    share = same.through_gap
    if share.value is not None:
        # beyond the whole it would say no more than that nothing is left
        part = (
            "Practically all" if share.value > _ALL_OF_IT else f"About {in_hundred(max(share.value, 0.0))} in 100 parts"
        )
        lines.append(sentence(f"{part} of the difference between the two ways runs through the gap"))
    return lines


def _counted(table: MethodTable, horizon_months: float) -> list[str]:
    """Say what the plain count says, what is left out of it, and what it says inside one season."""
    counts = table.table
    if table.fisher is None:
        return []
    left_out = [f"{number} {_LEFT_OUT[why]}" for why, number in table.left_out.items() if number]
    known = count(counts.first_total + counts.second_total, "hub")
    lines = [
        sentence(
            f"Counting only the {known} of which it is known whether they held for {months(horizon_months)}: "
            f"{counts.first_failed} of {counts.first_total} as supplied worked loose and {counts.second_failed} of "
            f"{counts.second_total} fitted by hand (exact test, p = {_probability(table.fisher.p_two_sided)})"
            + (f"; left out are {joined(left_out)}" if left_out else "")
        )
    ]
    within = table.stratified.difference
    if within.value is not None:
        fewer, sure = sure_fewer(within)
        strata = joined([_STRATA.get(name, name) for name in table.strata])
        told = f"{fewer} of 100 as supplied{sure}{_may_be_nothing(within)}"
        lines.append(sentence(f"Of these, compared only with hubs of the same {strata}: {told}"))
    return lines


def _evidence(evidence: MethodEvidence, horizon_months: float) -> list[str]:
    """Say what may be believed by somebody who looks every quarter."""
    if evidence.low is None or evidence.high is None:
        return [sentence("Looked at every quarter: no hub has reached the horizon yet, so nothing is settled")]
    range_ = f"from {more_or_fewer(evidence.low)} to {more_or_fewer(evidence.high)}"
    by_then = f"are known to have worked loose within {months(horizon_months)}"
    known = f"of 100 hubs as supplied {range_} {by_then} {_THAN}"
    looked = "Looked at every quarter, by the first hub of each shaft, the shafts not made alike,"
    if evidence.settled and evidence.since is not None:
        first = f"{looked} it has been settled since {day(evidence.since)}: {known}"
    else:
        first = f"{looked} it is not settled: {known}"
    looks = len(evidence.quarters)
    lines = [sentence(first)]
    if looks > 1:
        alarms = in_hundred(ordinary_false_alarms(looks, level=evidence.level))
        lines.append(
            sentence(
                f"An ordinary test looked at {looks} times would find a difference where there is none in {alarms} of "
                f"100 such histories; this one does so in at most {100 * (1 - evidence.level):.0f}"
            )
        )
    if evidence.contradicts:
        lines.append(sentence("No one difference fits all quarters: it changed over the years"))
    return lines


def _more_fittings(study: MethodsStudy) -> list[str]:
    """Say how many shafts more would settle it."""
    more = study.more_fittings
    if study.evidence.settled or (more.value is None and more.low is None):
        return []
    least = "" if more.low is None else about(more.low)
    if more.value is None:
        if not least:
            return [sentence("No number of further shafts that is worth waiting for would settle it")]
        tail = "even if it is as large as these data allow; if it is as it seems now, more than 80 quarters would"
        return [sentence(f"To settle it at least {least} more shafts would be needed, {tail}")]
    atleast = f", at least {least}" if least and more.low != more.value else ""
    return [
        sentence(
            f"To settle it about {about(more.value)} more shafts would be needed whose first hub reaches the "
            f"horizon{atleast} (80 % power, looked at every quarter)"
        )
    ]


def _not_by_lot(like: LikeShafts | None) -> str:
    lot = "Shafts were not allotted to methods by lot"
    if like is None or like.difference.value is None:
        return sentence(f"{lot}: part of a difference may belong to the shafts, not the method")
    return sentence(f"{lot}: on the same shafts, only what was written down could be made alike")


def _may_be_nothing(difference: Estimate) -> str:
    low, high = difference.low, difference.high
    return f"; {_CANNOT}" if low is not None and high is not None and low <= 0 <= high else ""


def about(number: float) -> str:
    """Say a number to two figures, which is more than is known of it."""
    return f"{float(f'{number:.2g}'):.0f}"


def _probability(p: float) -> str:
    return f"{p:.2f}" if p >= 0.095 else f"{p:.3f}" if p >= 0.001 else "less than 0.001"


def _no_failure(row: dict[Hashable, Any]) -> str:
    hubs = f"{count(int(row['fittings']), 'hub')} sent {method_name(str(row['method']))}"
    high = float(row["high"])
    # a bound of all of them says nothing
    bound = f"; go by the upper bound of {in_hundred(high)} in 100" if high <= _ALL_OF_IT else ""
    return sentence(f"None of {hubs} has failed yet{bound}")


def _risk(row: dict[Hashable, Any]) -> str:
    """Say how many of one method worked loose; nothing where it may be any number."""
    risk = Estimate(value=row["risk"], low=row["low"], high=row["high"])
    if risk.value is None or may_be_any_share(risk):
        return ""
    return f"{in_hundred(risk.value)} in 100 hubs sent {method_name(str(row['method']))}{bracket(risk, in_hundred)}"
