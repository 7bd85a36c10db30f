"""Whether hubs bore where they were foretold to, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearstats.analysis.advice.options import GRIPPED
from wearstats.analysis.estimate import Estimate
from wearstats.report.words.phrases import count, in_hundred, sentence, sure_share

if TYPE_CHECKING:
    from wearstats.analysis.gaps.contact_check import ContactSeen
    from wearstats.studies.gaps.contact_of_fitting import FittingSeen


_TELLS_NOTHING = 0.6
"""Width of a range that says next to nothing of a share (judgement)."""


def contact_sentences(seen: ContactSeen) -> list[str]:
    """Say how far marks and what was foretold agree: on average, from little to much contact, and one by one."""
    lines = [
        f"when {count(seen.fittings, 'hub')} went onto {count(seen.shafts, 'shaft')}, the sides of the splines that "
        f"marked were counted; {_difference(seen.difference)}",
        _line(seen),
        f"in {sure_share(seen.covered, 'of these hubs')} the share that marked lay in the range foretold for it; 95 in "
        "100 were to be hoped for, were a mark always made where a side bears and never where it does not. The range "
        "allows for the doubt of the widths, not for how well marking colour shows",
    ]
    return [sentence(line) for line in lines if line]


def fitting_seen_sentence(seen: FittingSeen, *, orders: bool = True) -> str:
    """Say what was foretold for one fitting, what was marked, and what to do where they differ.

    Without orders beside an advice to send, which an order to measure again would undo.
    """
    told = seen.foretold
    foretold = "all" if told.low == 1 else "none" if told.high == 0 else sure_share(told, "sides")
    lead = (
        f"at fitting {seen.fitting} of shaft {seen.shaft} {in_hundred(seen.marked)} in 100 sides marked; from the "
        f"widths alone {foretold} were foretold to bear"
    )
    if told.low is not None and told.high is not None and told.high - told.low > _TELLS_NOTHING:
        return sentence(f"{lead}. The widths leave nearly everything open, so the marks tell more than they do")
    if seen.within or told.low is None:
        return sentence(f"{lead}. The marks agree with the widths")
    enough = GRIPPED
    if seen.marked < told.low and seen.marked >= enough:
        return sentence(
            f"{lead}. Fewer marked than the widths lead to expect, but no fewer than the {in_hundred(enough)} in 100 "
            "at which filing stops"
        )
    if seen.marked < told.low and not orders:
        return sentence(f"{lead}. Fewer marked than the widths lead to expect: one of the two misleads")
    if seen.marked < told.low:
        return sentence(
            f"{lead}. Fewer marked than the widths lead to expect: look at the marks again, and if they are right, try "
            "whether the hub can be rocked, and have the shaft measured again before the next hub is chosen"
        )
    return sentence(
        f"{lead}. More marked than the widths lead to expect: the hub sits tighter than was thought, or colour was "
        "smeared on thickly"
    )


def _difference(difference: Estimate) -> str:
    value, low, high = difference.value, difference.low, difference.high
    if value is None or low is None or high is None:
        return "how many more or fewer than foretold cannot be told from these data"
    more = f"{in_hundred(abs(value))} in 100 {'more' if value > 0 else 'fewer'} sides marked than were foretold"
    sure = f"between {_signed(low)} and {_signed(high)}, 95 % sure"
    if low <= 0 <= high:
        return f"{more} ({sure}), no more than chance explains"
    return f"{more} ({sure}), which is more than chance explains"


def _signed(share: float) -> str:
    return f"{in_hundred(abs(share))} {'fewer' if share < 0 else 'more'}"


def _line(seen: ContactSeen) -> str:
    slope = seen.slope
    if slope.value is None or slope.low is None or slope.high is None:
        return ""
    told = (
        f"where 10 in 100 more were foretold, {10 * slope.value:.1f} more marked (between {10 * slope.low:.1f} and "
        f"{10 * slope.high:.1f}, 95 % sure)"
    )
    if slope.low <= 1 <= slope.high:
        return f"{told}, as it should be"
    if slope.high < 1:
        return (
            f"{told}: either what is foretold goes too far both ways, or colour shows some sides wrongly; one side in "
            "twenty ticked wrongly would alone make 9 of these 10"
        )
    return f"{told}: what is foretold does not go far enough, so of many foretold more mark, and of few fewer"
