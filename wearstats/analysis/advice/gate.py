"""What comes before any hub: the first of these that applies is what the owner is told to do first.

The order is that of harm: a shaft that may break, a hub that may come off, a shaft that no hub helps, one that needs
none, damage, readings that cannot be believed, readings that are out of date.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.remarks import Finding, First
from wearstats.analysis.gauging.agreement import DISAGREE_SDS, Disagreement
from wearstats.analysis.remark import Remark, remark

_FEW = 0.5
"""Share of places below which the rest would be guessed (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HubInUse:
    """The hub that was last put on the shaft and is not known to have come off.

    Parameters
    ----------
    hub : str
        Its number.
    fitted_on : datetime.date or None
        Since when.
    state : str or None
        What was last heard of it.
    heard_on : datetime.date or None
        When.
    loose : bool
        Whether it was reported loose or broken.
    loose_now, loose_soon : float or None
        Chance that it is loose already, and that it is or will be within a quarter.
    withdrawn_batch, withdrawn_because : str or None
        Its batch, where that is withdrawn, and why.
    back_as : str or None
        As what it had come back before it was sent, where that may not be sent again.
    """

    hub: str
    fitted_on: datetime.date | None = None
    state: str | None = None
    heard_on: datetime.date | None = None
    loose: bool = False
    loose_now: float | None = None
    loose_soon: float | None = None
    withdrawn_batch: str | None = None
    withdrawn_because: str | None = None
    back_as: str | None = None

    @property
    def barred(self) -> bool:
        """Whether it may not be on any shaft."""
        return self.withdrawn_batch is not None or self.back_as is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class StrayReading:
    """A reading that hardly belongs.

    Parameters
    ----------
    inspection : str
        In which inspection.
    spline, station : int and str, or None
        Where; None where all splines, or a whole spline, are meant.
    found_um, expected_um : float or None
        What it read, and about what it would have to read, from the new width.
    why : Remark
        The likely slip.
    matters : bool
        Whether the hub or its cost would be another without it.
    """

    inspection: str
    spline: int | None
    station: str | None
    found_um: float | None
    expected_um: float | None
    why: Remark
    matters: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftFacts:
    """What is known of a shaft beside its width.

    Parameters
    ----------
    conditions : tuple of (str, str)
        Words of damage with the inspection that has them, since the shaft was replaced; cracks until it was replaced or
        tested for cracks.
    broke_on : datetime.date or None
        When it was reported broken.
    scrapped_on : datetime.date or None
        When it was scrapped, and not replaced since.
    remarks : tuple of str
        What was noted beside its records.
    crack_remark : str or None
        One that speaks of a crack.
    in_use : HubInUse or None
        The hub on it.
    sent : HubInUse or None
        The last hub sent for it since, of which nothing is known: ``fitted_on`` is the day on which it was sent.
    wanted : bool
        Whether an order, a return or somebody asks for a hub.
    ran : HubInUse or None
        A hub that ran since the last reading, in use or not.
    measured_on : datetime.date
        Day of the last reading.
    strays : tuple of StrayReading
        Readings that hardly belong.
    level_um : float or None
        How far all readings seem to be off together, as by a turn of the thimble; None where they do not.
    calipers_only : bool
        Whether only calipers were used.
    disagreement : Disagreement or None
        The two inspections that differ most, where there are two.
    all_equal : tuple of str
        Inspections whose readings are all the same.
    inspections : int
        How many are in hand.
    measured_share : float
        Share of the places that were read.
    rejected : int
        Rows of its inspections that were kept out and are not mended.
    inspections_kept_out : tuple of str
        Whole inspections that were.
    changed : (str, datetime.date) or None
        What was done to it after the last reading, and when.
    """

    conditions: tuple[tuple[str, str], ...] = ()
    broke_on: datetime.date | None = None
    scrapped_on: datetime.date | None = None
    remarks: tuple[str, ...] = ()
    crack_remark: str | None = None
    in_use: HubInUse | None = None
    sent: HubInUse | None = None
    wanted: bool = False
    ran: HubInUse | None = None
    measured_on: datetime.date
    strays: tuple[StrayReading, ...] = ()
    level_um: float | None = None
    calipers_only: bool = False
    disagreement: Disagreement | None = None
    all_equal: tuple[str, ...] = ()
    inspections: int = 1
    measured_share: float = 1.0
    rejected: int = 0
    inspections_kept_out: tuple[str, ...] = ()
    changed: tuple[str, datetime.date] | None = None

    def seen(self, *words: str) -> str:
        """Name the inspections that saw any of some damage; empty where none did."""
        return ", ".join(dict.fromkeys(inspection for word, inspection in self.conditions if word in words))


Found = tuple[First, Remark]


def pass_gate(facts: ShaftFacts, *, limits: AdviceLimits) -> list[Found]:
    """List what comes before any hub, in order; the first is the headline.

    Parameters
    ----------
    facts : ShaftFacts
        What is known.
    limits : AdviceLimits
        The shop's settings.

    Returns
    -------
    list of (First, Remark)
        Empty where a hub may be chosen.
    """
    # a shaft that may not run is not dressed or measured either: nothing may stand beside that
    return _do_not_run(facts) or [
        *_stop_and_check(facts, limits),
        *_send_here(facts),
        *_nothing_to_send(facts),
        *_dress(facts),
        *_measure_again(facts),
        *_measure_first(facts),
    ]


def _do_not_run(facts: ShaftFacts) -> list[Found]:
    found = []
    if facts.scrapped_on is not None:
        found.append(remark(Finding.SCRAPPED, day=facts.scrapped_on))
    if facts.seen("cracked"):
        found.append(remark(Finding.CRACKED, inspections=facts.seen("cracked")))
    if facts.broke_on is not None:
        found.append(remark(Finding.SHAFT_BROKE, day=facts.broke_on))
    if facts.crack_remark is not None:
        found.append(remark(Finding.CRACK_REMARKED, text=facts.crack_remark))
    return [(First.DO_NOT_RUN, each) for each in found]


def _stop_and_check(facts: ShaftFacts, limits: AdviceLimits) -> list[Found]:
    return _hub_on_it(facts.in_use, limits) or _hub_sent(facts.sent)


def _hub_on_it(hub: HubInUse | None, limits: AdviceLimits) -> list[Found]:
    if hub is None:
        return []
    if hub.loose:
        told = remark(Finding.HUB_LOOSE, hub=hub.hub, state=hub.state, day=hub.heard_on)
    elif hub.withdrawn_batch is not None:
        told = remark(Finding.HUB_WITHDRAWN, hub=hub.hub, batch=hub.withdrawn_batch, why=hub.withdrawn_because)
    elif hub.loose_soon is not None and hub.loose_soon >= limits.warn_from:
        told = remark(Finding.HUB_MAY_BE_LOOSE, hub=hub.hub, now=hub.loose_now, soon=hub.loose_soon)
    else:
        return []
    return [(First.STOP_AND_CHECK, told)]


def _hub_sent(hub: HubInUse | None) -> list[Found]:
    """One that may be on it for all we know."""
    if hub is None or not hub.barred:
        return []
    told = remark(Finding.SENT_WITHDRAWN, hub=hub.hub, batch=hub.withdrawn_batch, why=hub.withdrawn_because)
    if hub.back_as is not None:
        told = remark(Finding.SENT_SPOILED, hub=hub.hub, back_as=hub.back_as)
    return [(First.STOP_AND_CHECK, told)]


def _send_here(facts: ShaftFacts) -> list[Found]:
    seen = facts.seen("twisted")
    return [(First.SEND_SHAFT_HERE, remark(Finding.TWISTED, inspections=seen))] if seen else []


def _nothing_to_send(facts: ShaftFacts) -> list[Found]:
    hub = facts.in_use
    if facts.wanted:
        return []
    if facts.sent is not None and not facts.sent.barred:
        # it was sent after whatever is known of the one before
        return [(First.NOTHING_TO_SEND, remark(Finding.SENT_UNHEARD, hub=facts.sent.hub, day=facts.sent.fitted_on))]
    if hub is None or hub.loose or hub.withdrawn_batch is not None:
        return []
    if hub.state == "tight":
        return [(First.NOTHING_TO_SEND, remark(Finding.HUB_TIGHT, hub=hub.hub, day=hub.heard_on))]
    return [(First.NOTHING_TO_SEND, remark(Finding.HUB_UNHEARD, hub=hub.hub, day=hub.fitted_on))]


def _dress(facts: ShaftFacts) -> list[Found]:
    return [
        (First.DRESS_AND_MEASURE, remark(Finding.DAMAGED, word=word, inspections=facts.seen(word)))
        for word in ("bruised", "chipped")
        if facts.seen(word)
    ]


def _measure_again(facts: ShaftFacts) -> list[Found]:
    found = [
        remark(
            Finding.STRAY_READING,
            inspection=each.inspection,
            spline=each.spline,
            station=each.station,
            found_um=each.found_um,
            expected_um=each.expected_um,
            why=each.why,
        )
        for each in facts.strays
        if each.matters
    ]
    if facts.level_um is not None:
        found.append(remark(Finding.LEVEL_OFF, off_um=facts.level_um))
    if facts.calipers_only:
        found.append(remark(Finding.CALIPERS))
    apart = facts.disagreement
    if apart is not None and apart.sds > DISAGREE_SDS:
        found.append(remark(Finding.APART, first=apart.first, second=apart.second, apart_um=apart.apart_um))
    if facts.all_equal and len(facts.all_equal) == facts.inspections:
        found.append(remark(Finding.ALL_EQUAL, inspections=" and ".join(facts.all_equal)))
    if facts.measured_share < _FEW:
        found.append(remark(Finding.FEW_READ, share=facts.measured_share))
    if facts.inspections_kept_out:
        found.append(remark(Finding.INSPECTION_KEPT_OUT, inspections=", ".join(facts.inspections_kept_out)))
    if facts.rejected:
        found.append(remark(Finding.REJECTED, rows=facts.rejected))
    return [(First.MEASURE_AGAIN, each) for each in found]


def _measure_first(facts: ShaftFacts) -> list[Found]:
    ran, found = facts.ran, []
    if facts.changed is not None:
        what, day = facts.changed
        found.append((First.MEASURE_FIRST, remark(Finding.CHANGED_SINCE, what=what, day=day)))
    if ran is None or not ran.loose:
        return found
    told = remark(Finding.CAME_LOOSE_SINCE, hub=ran.hub, day=ran.heard_on, measured_on=facts.measured_on)
    return [*found, (First.MEASURE_FIRST, told)]
