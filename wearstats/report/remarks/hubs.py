"""What is remarked of hubs: their histories, curves of those still tight, and those on the shelf or out on loan."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from wearstats.analysis.histories.remarks import HistoryRemark
from wearstats.analysis.register.remarks import BoreRemark
from wearstats.analysis.survival.remarks import SurvivalRemark
from wearstats.report.words.phrases import count, in_hundred, undersize
from wearstats.studies.counts.remarks import LeftOutRemark
from wearstats.studies.shelf.remarks import ShelfVerdict

_INTERVALS = "interval-censored curve with silence, score interval on the effective number, shafts drawn anew"
_WIDE = "of {failures:failure/failures} {wide:is/are} known only to within more than a month"
_SILENT = "{silent_percent:.0f} % of the months on record are without word"


def _few(*, fittings: int, failures: int) -> str:
    return f"{count(fittings, 'fitting')}, {failures} worked loose"


def _said_of_few(*, fittings: int, failures: int, months: float, low: float, high: float) -> str:
    count = _few(fittings=fittings, failures=failures)
    return f"{count}; the chance by month {months:g} may be anything from {100 * low:.0f} to {100 * high:.0f} %"


def _said_none_failed(*, fittings: int, months: float, high: float) -> str:
    return f"none of {fittings} worked loose; the chance by month {months:g} may still be up to {100 * high:.0f} %"


def _named(number: int, names: tuple[str, ...]) -> str:
    return f"({', '.join(names)}{' …' if number > len(names) else ''})"


def owner_of(loan: Mapping[Any, Any]) -> str:
    """Say who has a hub: the owner's code where one is on record, else whose shaft it is for."""
    owner, shaft = (loan[name] if isinstance(loan[name], str) else None for name in ("owner", "shaft"))
    if owner and shaft:
        return f"{owner} (shaft {shaft})"
    return owner or (f"the owner of shaft {shaft}" if shaft else "whoever has it")


def asked_for(hubs: Sequence[str]) -> str:
    """Name the hubs of which one, or some, are to come back."""
    return f"hub {hubs[0]}" if len(hubs) == 1 else f"hub {' or '.join(hubs)}"


def loan_words(
    *, hub: Sequence[str], back_by: datetime.date | None, days: int, sent_on: datetime.date, **loan: Any
) -> str:
    """Say whom to ask for which hub, and how late it is."""
    late = f"due {back_by:%Y-%m-%d}" if back_by else f"sent {sent_on:%Y-%m-%d}, no day was said"
    return f"ask {owner_of(loan)} for {asked_for(hub)}: {late}{_late(days)}"


def _late(days: int) -> str:
    return f", {count(days, 'day')} late" if days else ""


def _due_next(*, hub: Sequence[str], back_by: datetime.date, owner: str | None, shaft: str | None, **_: Any) -> str:
    owes = owner_of({"owner": owner, "shaft": shaft})
    return f"nothing is overdue; next is {asked_for(hub)} from {owes}, by {back_by:%Y-%m-%d}"


def size_of(pattern: str, undersize_um: float) -> str:
    """Name a size as it is engraved, in millimetres: ``D8 0.05``."""
    return f"{pattern} {undersize(undersize_um).partition(' ')[0]}"


def _counted(*, pattern: str, undersize_um: float, hubs: int, more: int, than: str) -> str:
    others = f"; {count(more, 'more size')} too" if more else ""
    return f"count {size_of(pattern, undersize_um)} again: {hubs} {than}{others}"


def _counted_fewer(**facts: Any) -> str:
    return _counted(**facts, than="fewer than lie there by number")


def _counted_more(**facts: Any) -> str:
    return _counted(**facts, than="more than can be there")


def _to_gauge(*, hubs: int, first: str) -> str:
    also = f" and {hubs - 1} more" if hubs > 1 else ""
    return f"gauge hub {first}{also} before {'it is' if hubs == 1 else 'they are'} sent again"


HUBS: Final[Mapping[str, str | Callable[..., str]]] = {
    ShelfVerdict.OVERDUE: loan_words,
    ShelfVerdict.UNDATED: loan_words,
    ShelfVerdict.DUE_NEXT: _due_next,
    ShelfVerdict.COUNTED_FEWER: _counted_fewer,
    ShelfVerdict.COUNTED_MORE: _counted_more,
    ShelfVerdict.TO_GAUGE: _to_gauge,
    ShelfVerdict.IN_ORDER: "{hubs:hub/hubs} by number there, none out on loan, and no count that cannot be",
    HistoryRemark.BEFORE_SENT: "fitted before it was sent",
    HistoryRemark.UNDATED: "no date of fitting, and no dispatch to date it by",
    HistoryRemark.NEWS_BEFORE: "news of it before the fitting",
    HistoryRemark.TIGHT_AFTER: "tight after it had failed or been taken off",
    HistoryRemark.WOULD_NOT_YET_RAN: "would not go on, yet seen running",
    HistoryRemark.OVERLAPS: "two hubs on one shaft at once, or one hub on two shafts",
    HistoryRemark.KNOWN_LATE: "known only because it had ended",
    LeftOutRemark.FITTINGS: lambda number, names, why: f"{count(number, 'fitting')}: {why} {_named(number, names)}",
    LeftOutRemark.RETURNS: lambda number, names: (
        f"{count(number, 'return')} of a hub that was neither sent nor fitted by then {_named(number, names)}"
    ),
    LeftOutRemark.SENT: lambda number, names: (
        f"{count(number, 'hub')} sent, with no fitting and no return on record {_named(number, names)}"
    ),
    SurvivalRemark.NO_GROUP: "no fittings in this group",
    SurvivalRemark.NOT_FOLLOWED: "no fitting of this group is followed beyond {followed_to_months:.1f} months",
    SurvivalRemark.NO_NEWS: "nothing was heard of this group since it is known",
    SurvivalRemark.NO_FAILURE_NOR_FOLLOWED: (
        "no failure, and no fitting followed from its start through {months:g} months"
    ),
    SurvivalRemark.INTERVALS: _INTERVALS,
    SurvivalRemark.INTERVALS_BOUNDED: (
        f"{_INTERVALS}; low end if no failure goes unreported, value if as many as these data allow"
    ),
    SurvivalRemark.KAPLAN_MEIER: "Kaplan-Meier, interval on the complementary log-log scale, variance by shafts",
    SurvivalRemark.FEW_UNKNOWN: "of none of these few is it known whether it was tight at the horizon",
    SurvivalRemark.FEW_KNOWN: (
        "exact, from the {known} of {fittings:fitting/fittings} whose state at the horizon is known"
    ),
    SurvivalRemark.SAID_OF_FEW: _said_of_few,
    SurvivalRemark.SAID_NOTHING_OF_FEW: lambda **counts: f"{_few(**counts)}; too few to say more",
    SurvivalRemark.SAID_NONE_FAILED: _said_none_failed,
    SurvivalRemark.SAID_NONE_FOLLOWED: ("none of {fittings} worked loose, and none was followed to month {months:g}"),
    SurvivalRemark.OF_GROUP: "{group}: {why}",
    SurvivalRemark.DIFFERENCE: "{first} minus {second}, hybrid of the two intervals",
    SurvivalRemark.ONE_GROUP: "there is only one group",
    SurvivalRemark.WIDE: _WIDE,
    SurvivalRemark.SILENT: _SILENT,
    SurvivalRemark.WIDE_AND_SILENT: f"{_WIDE}; {_SILENT}",
    SurvivalRemark.NEAR_EXACT: (
        f"of {{failures:failure/failures}} {{near:is/are}} known to within a month, and {_SILENT}"
    ),
    SurvivalRemark.NO_REPORT: "no failure is known to have been reported unasked or found by asking",
    SurvivalRemark.REPORT_NOT_TOLD: (
        "not told, for no failure was found by asking; the low end, where risks are larger, is used"
    ),
    SurvivalRemark.REPORT_PROFILE: (
        "profile likelihood; {reported:failure/failures} reported unasked, {found} found by asking"
    ),
}

REGISTER: Final[Mapping[str, str | Callable[..., str]]] = {
    BoreRemark.OF_READINGS: lambda shafts, turned, widest_mm: (
        f"no looser than H7/h6 on 19 in 20 of the registers read on {count(shafts, 'shaft')}; on {in_hundred(turned)} "
        f"in 100 of them it has to be turned wider, the widest is {widest_mm:.3f} mm"
    ),
    BoreRemark.BEYOND_TABLES: (
        "the pattern's own register: tolerances on hand end at {most_mm:g} mm, so take its limits from the drawing"
    ),
    BoreRemark.OF_PATTERN: (
        "H7 on the pattern's own register, since {shafts:shaft/shafts} with a register read are too few to go by"
    ),
    BoreRemark.TURN: (
        "before posting, turn the bore over the register {by_mm:.2f} mm wider, to {to_mm:.3f}: the register reads "
        "{register_mm:.3f}"
    ),
    BoreRemark.TURN_TO: (
        "before posting, see that the bore over the register has {low_mm:.3f} to {high_mm:.3f} mm, and turn it wider "
        "where it has less; the register is known to ±{doubt_um:.0f} µm"
    ),
    BoreRemark.GOES_OVER: "the bore of {bore_mm:.3f} mm goes over the register of {register_mm:.3f}",
    BoreRemark.MEASURE_REGISTER: (
        "before posting, have the register measured again: it reads {register_mm:.3f} mm and the bore is "
        "{bore_mm:.3f}, closer than both can be trusted"
    ),
    BoreRemark.FAR: (
        "before anything is turned, have the register measured again: it reads {register_mm:.3f} mm where a new one "
        "has {new_mm:.3f}"
    ),
    BoreRemark.TOO_WIDE: (
        "take another hub: the bore of {bore_mm:.3f} mm is {loose_um:.0f} µm wider than the register reads, too loose "
        "to centre it, and no bore is turned tighter"
    ),
    BoreRemark.PRESSES: (
        "Never force it on over the register as it is: it would press with about {pressure_mpa:.0f} N/mm² and stretch "
        "the hub round its bore by {hoop_mpa:.0f} N/mm² (thick rings after Lamé; a hub {outside:g} times the register, "
        "assumed)"
    ),
    BoreRemark.BURSTS: (
        "Never force it on over the register as it is: {over_um:.0f} µm tighter, it would stretch the hub round "
        "its bore beyond what plain steel bears, or crack it"
    ),
    BoreRemark.MAJOR_PROUD: (
        "The major diameter reads {major_mm:.3f} mm, {over_um:.0f} µm over that of the pattern: look for burrs, and "
        "see that the hub's grooves clear it"
    ),
}
