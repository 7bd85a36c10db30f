"""Why so many of a size are to be made, in a few words that go into the exported table."""

from __future__ import annotations

import datetime

from wearstats.analysis.estimate import Estimate

_SHORT = 0.1


def why_make(
    *,
    kept: bool,
    on_hand: int,
    make: int,
    lead: Estimate,
    cover: Estimate,
    lead_short: float,
    short: float,
    own_until: datetime.date,
    until: datetime.date,
    outlasts: bool,
) -> str:
    """Say why.

    Parameters
    ----------
    kept : bool
        Whether the size is still kept.
    on_hand, make : int
        Hubs on the shelf; to be made.
    lead, cover : Estimate
        Needed until what is made now is there; until what is made at the next chance would be.
    lead_short : float
        Chance that what lies there does not last until new ones are there.
    short : float
        Chance that a need goes unserved until the next chance.
    own_until, until : datetime.date
        Day by which its own hubs have run out, and by which a need of it goes unserved with tighter hubs filed out;
        each with a chance of one in ten.
    outlasts : bool
        Whether it lasts longer than that.
    """
    end = f"beyond {until}" if outlasts else f"until {until}"
    tighter = f", with tighter hubs filed out {end}"
    lasts = f"lasts until {own_until}{tighter}" if own_until < until else f"lasts {end}"
    lasts += " (nine chances in ten)"
    needed = f"{cover.value:.1f} needed until a later batch could be there ({_range(cover)})"
    if not kept:
        return f"no longer kept: {on_hand} to be used up, or filed out for looser needs"
    if make == 0 and short > _SHORT:
        return f"{needed}: too few for a set-up; an unserved need has a chance of {100 * short:.0f} %"
    if make == 0 and on_hand == 0 and own_until < until:
        return f"none on hand, {needed}: tighter hubs, filed out, serve it {end} (nine chances in ten)"
    if make == 0:
        return f"{on_hand} on hand, {needed}: {lasts}"
    why = f"{on_hand} on hand, {needed}: with {make} more {lasts}"
    if lead_short > _SHORT:
        why += f"; may run out before they are there ({100 * lead_short:.0f} %; {lead.value:.1f} needed by then, "
        why += f"{_range(lead)})"
    return why


def _range(estimate: Estimate) -> str:
    return f"{estimate.low:.0f} to {estimate.high:.0f}"
