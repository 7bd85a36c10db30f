"""Whether hubs bore where that was predicted, in short: over all fittings, or for some by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from wearstats.analysis.estimate import Estimate
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import SURE, ShortAnswer, SmallTable
from wearstats.report.words.phrases import bracket, count, in_100, in_hundred, sure_fewer
from wearstats.studies.gaps.remarks import ContactVerdict, FittingVerdict

if TYPE_CHECKING:
    from wearstats.analysis.gaps.contact_check import ContactSeen
    from wearstats.studies.gaps.contact import ContactStudy
    from wearstats.studies.gaps.contact_of_fitting import FittingSeen

_NEXT: Final[Mapping[str, str]] = {
    ContactVerdict.AS_PREDICTED: "So: the predicted contact may be gone by.",
    ContactVerdict.LESS_EXTREME: "So: where all or none is predicted, look at the marks; a few will differ.",
    ContactVerdict.MORE_EXTREME: "So: where half is predicted, look at the marks; it will be more or less.",
    ContactVerdict.MORE_MARKED: "So: hubs sit tighter than predicted, or colour is smeared on thickly: look again.",
    ContactVerdict.FEWER_MARKED: "So: hubs bear less than predicted: have a check piece measured with each shaft.",
    ContactVerdict.SINGLY_WIDE: "So: of a single hub the marks say more than what was predicted.",
    ContactVerdict.UNTOLD: "What would tell: drive_marked and coast_marked of more fittings.",
}
_ON_ONE: Final[Mapping[str, str]] = {
    FittingVerdict.AGREES: "So: nothing to do.",
    FittingVerdict.WIDTHS_OPEN: "So: go by the marks.",
    FittingVerdict.FEWER_BUT_ENOUGH: "So: nothing to do; it is where filing stops.",
    FittingVerdict.FEWER: "So: look again; if so, try to rock the hub and have the shaft measured again.",
    FittingVerdict.MORE: "So: the hub sits tighter than thought, or colour was smeared on thickly.",
}


def contact_answers(study: ContactStudy) -> tuple[ShortAnswer, ...]:
    """Say whether hubs bore where that was predicted: once over all, or once a fitting that was asked for."""
    if study.seen is None:
        return tuple(_of_fitting(one) for one in study.singly())
    verdict = study.verdict
    return (
        ShortAnswer(
            question="Did hubs bear where that was predicted?",
            verdict=say(verdict),
            body=(_bands(study.seen), *_average(study.seen), *([_NEXT[verdict.code]] if verdict else [])),
            more="wearstats contact --full",
        ),
    )


def _bands(seen: ContactSeen) -> SmallTable:
    rows = [
        (
            in_hundred(row["predicted"]),
            in_100(Estimate(value=row["marked"], low=row["low"], high=row["high"])),
            str(row["fittings"]),
        )
        for row in seen.bands.to_dict("records")
    ]
    return SmallTable(head=("sides predicted, of 100", "marked", "hubs"), rows=tuple(rows))


def _average(seen: ContactSeen) -> tuple[str, ...]:
    lines = []
    if seen.difference.value is not None:
        fewer, sure = sure_fewer(seen.difference)
        lines.append(f"On average {fewer} of 100 sides marked{sure}.")
    slope = seen.slope
    if slope.value is not None:
        ends = bracket(slope, lambda share: f"{10 * share:.2g}")
        lines.append(f"Where 10 more are predicted, {10 * slope.value:.2g} more mark{ends}.")
    hubs = f"{count(seen.fittings, 'hub')} on {count(seen.shafts, 'shaft')}"
    if seen.covered.value is not None:
        lines.append(f"Of {hubs}, {in_hundred(seen.covered.value)} in 100 lie in the range predicted for them.")
    return tuple(lines)


def _of_fitting(seen: FittingSeen) -> ShortAnswer:
    predicted = f"{in_hundred(seen.predicted.value or 0.0)}{bracket(seen.predicted, in_hundred)}"
    return ShortAnswer(
        question="Did fitting {} bear where that was predicted?",
        about=seen.fitting,
        verdict=say(seen.verdict),
        body=(
            f"Of 100 sides {in_hundred(seen.marked)} marked, {predicted} were predicted.",
            _ON_ONE[seen.verdict.code],
        ),
        foot=SURE,
        more=f"wearstats contact --fitting {seen.fitting} --full",
    )
