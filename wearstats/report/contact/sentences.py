"""Whether hubs bore where that was predicted, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from wearstats.analysis.advice.options import GRIPPED
from wearstats.analysis.estimate import Estimate
from wearstats.report.rendering.short_answer import SURE
from wearstats.report.words.phrases import bracket, count, in_hundred, sentence, sure_fewer, sure_share
from wearstats.studies.gaps.remarks import FittingVerdict

if TYPE_CHECKING:
    from wearstats.analysis.gaps.contact_check import ContactSeen
    from wearstats.studies.gaps.contact_of_fitting import FittingSeen

_LOOK_AGAIN = (
    ": look at the marks again, and if they are right, try whether the hub can be rocked, and have the shaft measured "
    "again before the next hub is chosen"
)
_COMES_TO: Final[Mapping[str, str]] = {
    FittingVerdict.WIDTHS_OPEN: "The widths leave nearly everything open, so the marks tell more than they do",
    FittingVerdict.AGREES: "The marks agree with the widths",
    FittingVerdict.FEWER_BUT_ENOUGH: (
        f"Fewer marked than the widths lead to expect, but no fewer than the {in_hundred(GRIPPED)} in 100 at which "
        "filing stops"
    ),
    FittingVerdict.MORE: (
        "More marked than the widths lead to expect: the hub sits tighter than was thought, or colour was smeared on "
        "thickly"
    ),
}


def contact_sentences(seen: ContactSeen) -> list[str]:
    """Say how far marks and what was predicted agree: on average, from little to much contact, and one by one."""
    lines = [
        f"when {count(seen.fittings, 'hub')} went onto {count(seen.shafts, 'shaft')}, the sides of the splines that "
        f"marked were counted; {_difference(seen.difference)}",
        _line(seen),
        f"in {sure_share(seen.covered, 'of these hubs')} the share that marked lay in the range predicted for it; 95 "
        "in 100 were to be hoped for, were a mark always made where a side bears and never where it does not. The "
        "range allows for the doubt of the widths, not for how well marking colour shows",
    ]
    return [*(sentence(line) for line in lines if line), SURE]


def fitting_seen_sentence(seen: FittingSeen, *, orders: bool = True) -> str:
    """Say what was predicted for one fitting, what was marked, and what to do where they differ.

    Without orders beside an advice to send, which an order to measure again would undo.
    """
    told = seen.predicted
    share = f"{in_hundred(told.value or 0.0)} in 100 sides{bracket(told, in_hundred)}"
    predicted = "all" if told.low == 1 else "none" if told.high == 0 else share
    lead = (
        f"at fitting {seen.fitting} of shaft {seen.shaft} {in_hundred(seen.marked)} in 100 sides marked; from the "
        f"widths alone {predicted} were predicted to bear"
    )
    code = seen.verdict.code
    if code == FittingVerdict.FEWER:
        what = _LOOK_AGAIN if orders else ": one of the two misleads"
        return sentence(f"{lead}. Fewer marked than the widths lead to expect{what}")
    return sentence(f"{lead}. {_COMES_TO[code]}")


def _difference(difference: Estimate) -> str:
    value, low, high = difference.value, difference.low, difference.high
    if value is None or low is None or high is None:
        return "how many more or fewer than predicted cannot be told from these data"
    more = f"{in_hundred(abs(value))} in 100 {'more' if value > 0 else 'fewer'} sides marked than were predicted"
    sure = sure_fewer(difference)[1]
    if low <= 0 <= high:
        return f"{more}{sure}, no more than chance explains"
    return f"{more}{sure}, which is more than chance explains"


def _line(seen: ContactSeen) -> str:
    slope = seen.slope
    if slope.value is None or slope.low is None or slope.high is None:
        return ""
    told = (
        f"where 10 in 100 more were predicted, {10 * slope.value:.2g} more marked"
        f"{bracket(slope, lambda share: f'{10 * share:.2g}')}"
    )
    if slope.low <= 1 <= slope.high:
        return f"{told}, as it should be"
    if slope.high < 1:
        return (
            f"{told}: either what is predicted goes too far both ways, or colour shows some sides wrongly; one side in "
            "twenty ticked wrongly would alone make 9 of these 10"
        )
    return f"{told}: what is predicted does not go far enough, so where many are predicted more mark, where few fewer"
