"""What is said of an advice: what comes first, why a hub is chosen, why others are not."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.advice.remarks import AdviceRemark, Finding, First, Reason, Refusal
from wearstats.report.words.phrases import in_hundred, whole
from wearstats.studies.inputs.prices import MEANING
from wearstats.studies.shaft.remarks import ShaftRemark


def _day(day: datetime.date | None) -> str:
    return "a day that is not known" if day is None else day.isoformat()


def _hundred(share: float) -> str:
    return f"{100 * share:.1f}" if share < 0.0995 else f"{100 * share:.0f}"


def _stray(
    *, inspection: str, spline: int | None, station: str | None, found_um: float | None, expected_um: float | None,
    why: str,
) -> str:  # fmt: skip
    place = " ".join(
        part
        for part in (f"spline {spline}" if spline else "all splines", f"at the {station}" if station else "")
        if part
    )
    read = ""
    if found_um is not None and expected_um is not None:
        off = found_um - expected_um
        read = f" reads {abs(off):.0f} µm {'more' if off > 0 else 'less'} than it would have to"
    return f"{place} in inspection {inspection}{read} ({why})"


def _may_be_loose(*, hub: str, now: float | None, soon: float) -> str:
    already = "" if now is None else f"{_hundred(now)} in 100 that it is loose already, "
    return f"hub {hub} on it may be loose: {already}{_hundred(soon)} in 100 that it is or will be within a quarter"


def _turn(*, off_um: float) -> str:
    turn = "a turn of an inch thimble (0.025 in)" if abs(off_um) > 600 else "a turn of a metric thimble (0.5 mm)"
    return f"all readings seem to be {turn} too {'large' if off_um > 0 else 'small'}"


def _worth(*, saves: float, price: float, currency: str, hub: str | None) -> str:
    ran = "" if hub is None else f"hub {hub} has run since, and "
    return f"{ran}another measurement is worth {whole(saves + price)} {currency} and costs {whole(price)}"


def _cost_unknown(*, why: str) -> str:
    return f"the chance of working loose is not known: {why}" if why else "the chance of working loose is not known"


def _no_hub(*, limit: float | None = None, least: float | None = None, gap_um: float | None = None) -> str:
    if least is not None and limit is not None:
        return (
            f"the best hub would still work loose in {_hundred(least)} of 100 where {100 * limit:g} are allowed; here "
            "it is seen whether the splines can be dressed parallel, or built up and ground"
        )
    return f"even the best hub would leave {gap_um:.0f} µm on average where it is worst, and how such last is not known"


def _prices(*, items: tuple[str, ...], currency: str) -> str:
    return f"prices that are guesses, in {currency}: {', '.join(MEANING[item] for item in items)}"


ADVICE: Final[Mapping[str, str | Callable[..., str]]] = {
    First.DO_NOT_RUN: "do not run it, and send no hub",
    First.STOP_AND_CHECK: "stop, and check for rattle before the next start",
    First.SEND_SHAFT_HERE: "send no hub: the shaft comes to the workshop",
    First.NOTHING_TO_SEND: "nothing to send",
    First.DRESS_AND_MEASURE: "send no hub yet: dress it and measure it again",
    First.MEASURE_AGAIN: "send no hub yet: have it measured again",
    First.MEASURE_FIRST: "send no hub yet: measure it first",
    Finding.CRACKED: "a crack was seen ({inspections}): a competent person must look at the shaft before it ever runs",
    Finding.SHAFT_BROKE: lambda day: f"the shaft was reported broken on {_day(day)}",
    Finding.SCRAPPED: lambda day: f"the shaft was scrapped on {_day(day)}",
    Finding.CRACK_REMARKED: "a remark speaks of a crack ({text}): have it looked at by a competent person first",
    Finding.HUB_LOOSE: lambda hub, state, day: f"hub {hub} on it was reported {state} on {_day(day)}",
    Finding.HUB_WITHDRAWN: lambda hub, batch, why: (
        f"hub {hub} on it is of batch {batch}, which is withdrawn{f' ({why})' if why else ''}"
    ),
    Finding.SENT_WITHDRAWN: lambda hub, batch, why: (
        f"hub {hub} sent for it is of batch {batch}, which is withdrawn{f' ({why})' if why else ''}; whether it went "
        "on is not known"
    ),
    Finding.SENT_SPOILED: (
        "hub {hub} sent for it had come back as {back_as} before, and may not be used; whether it went on is not known"
    ),
    Finding.HUB_MAY_BE_LOOSE: _may_be_loose,
    Finding.TWISTED: "the splines were found twisted ({inspections}): no hub can follow them; the workshop looks first",
    Finding.HUB_UNHEARD: lambda hub, day: f"{hub} has been on since {_day(day)} and was not heard of; ask how it is",
    Finding.SENT_UNHEARD: lambda hub, day: (
        f"{hub} was sent for it on {_day(day)}, and nothing was heard of it; ask whether it went on, and how it is"
    ),
    Finding.HUB_TIGHT: lambda hub, day: f"{hub} was heard tight on {_day(day)}",
    Finding.DAMAGED: (
        "edges were found {word} ({inspections}): look for cracks first, then take off what stands proud with a fine "
        "stone, and measure these places again"
    ),
    Finding.STRAY_READING: _stray,
    Finding.LEVEL_OFF: _turn,
    Finding.CALIPERS: "it was measured with calipers only, which are not good enough to choose a size by",
    Finding.APART: "inspections {first} and {second} differ by {apart_um:.0f} µm on average: one of them must be wrong",
    Finding.ALL_EQUAL: "all readings of {inspections} are the same, which splines each measured never are",
    Finding.FEW_READ: lambda share: f"only {share:.0%} of its places were read",
    Finding.INSPECTION_KEPT_OUT: "its inspection {inspections} was kept out: see wearstats store rejects",
    Finding.CHANGED_SINCE: lambda what, day: f"the shaft was {what} on {_day(day)}, after its last reading",
    Finding.REJECTED: lambda rows: (
        f"{rows} of its readings {'was' if rows == 1 else 'were'} kept out: see wearstats store rejects"
    ),
    Finding.CAME_LOOSE_SINCE: lambda hub, day, measured_on: (
        f"hub {hub} came loose ({_day(day)}) after the last reading ({_day(measured_on)}), and a loose hub wears a "
        "shaft fast"
    ),
    Finding.WORTH_MEASURING: _worth,
    Reason.CHEAPEST: lambda limit: f"the cheapest under the limit of {100 * limit:g} in 100 loose",
    Reason.AT_LIMIT: lambda limit: f"the cheapest at the limit of {100 * limit:g} in 100 loose",
    Reason.LEAST_CHANCE: lambda limit: (
        f"over the limit of {100 * limit:g} in 100: no hub does much better, for the gap that stays is the shaft's "
        "own; say so to its owner, and have it looked at after the first hours"
    ),
    Reason.NOTHING_KNOWN: (
        "nothing is known of how long such hubs last: the loosest unlikely to rattle that leaves {gap_um:.0f} µm or "
        "less on average at every station"
    ),
    Reason.NO_HUB_HOLDS: _no_hub,
    Reason.NONE_TIGHT: lambda tightest_um: (
        "no hub is sure to be free of rattle on it"
        + ("" if tightest_um is None else f", not even {tightest_um / 1000:.3f} mm undersize")
    ),
    Reason.TOO_DEEP: "every hub tight enough would need more than {deepest_um:.0f} µm filed off at one place",
    Refusal.SHAKES: "may rattle",
    Refusal.FORCED: "would be forced",
    Refusal.TOO_DEEP: "too deep to file",
    Refusal.NOT_AN_OWNERS: "not for an owner",
    Refusal.BEYOND_RECORD: "beyond the record",
    Refusal.OVER_LIMIT: "over the limit",
    AdviceRemark.COST: "filing, fitting, coming back with the hub that follows, and failing; interval by the chance's",
    AdviceRemark.COST_UNKNOWN: _cost_unknown,
    AdviceRemark.RISK: "model of working loose on the gap this hub would leave, doubt of gap and model together",
    ShaftRemark.UNREAD: lambda unread, splines: (
        f"{unread} of {splines} splines {'was' if unread == 1 else 'were'} never read, and so only guessed from the "
        "others"
    ),
    ShaftRemark.HORIZON_CUT: "No hub was followed for longer than {months:.0f} months: chances are told up to then",
    ShaftRemark.WORN_SINCE: (
        "Hub {hub} has run since the last reading: hubs are weighed as if it had taken off {worn_um:.0f} µm, which is "
        "assumed"
    ),
    ShaftRemark.ALL_EQUAL: "All readings of inspection {inspection} are the same: ask whether each spline was measured",
    ShaftRemark.NO_REGISTER: (
        "The register was not measured: whether the hub runs true cannot be judged from the splines"
    ),
    ShaftRemark.ONE_INSPECTION: (
        "Only one inspection is in hand: what its measurer reads too large or too small, all its readings share"
    ),
    ShaftRemark.NO_CHECK_PIECE: (
        "No check piece was measured, so the owner's bias is allowed for only by what owners usually do"
    ),
    ShaftRemark.TRUST_ASSUMED: (
        "How far owners' readings can be trusted is assumed, not learnt from this store's readings"
    ),
    ShaftRemark.CARELESS: lambda chance: (
        f"Hubs came back filed too far: {in_hundred(chance)} in 100 of those filed are counted so, whatever the depth"
    ),
    ShaftRemark.ERROR_ASSUMED: lambda share: (
        f"How much is filed off too far is assumed: about {100 * share:.0f} µm over a hub in 100 µm of depth"
    ),
    ShaftRemark.PACE_ASSUMED: "The minutes of filing are a guess: too few fittings on record say how long theirs took",
    ShaftRemark.PRICES_ASSUMED: _prices,
    ShaftRemark.NO_MODEL: lambda why="": (
        "The advice rests on geometry alone, not on how hubs with such a gap have lasted" + (f": {why}" if why else "")
    ),
    ShaftRemark.MAP: "best linear prediction",
}
