"""Why so many of a size are to be made."""

from __future__ import annotations

import datetime

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.studies.stock.remarks import MakeRemark

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
) -> Remark:
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
    end = remark(MakeRemark.BEYOND if outlasts else MakeRemark.UNTIL, day=until)
    needed = remark(MakeRemark.NEEDED, mean=cover.value, low=cover.low, high=cover.high)
    if not kept:
        return remark(MakeRemark.NO_LONGER_KEPT, on_hand=on_hand)
    if make == 0 and short > _SHORT:
        return remark(MakeRemark.TOO_FEW, needed=needed, short_percent=100 * short)
    filed_out = own_until < until
    if make == 0 and on_hand == 0 and filed_out:
        return remark(MakeRemark.TIGHTER_SERVE, needed=needed, end=end)
    lasts = remark(MakeRemark.LASTS, end=end)
    if filed_out:
        lasts = remark(MakeRemark.LASTS_FILED_OUT, own_until=own_until, end=end)
    told = {"on_hand": on_hand, "needed": needed, "lasts": lasts}
    if make == 0:
        return remark(MakeRemark.ENOUGH, **told)
    if lead_short <= _SHORT:
        return remark(MakeRemark.MORE, **told, make=make)
    late = {"late_percent": 100 * lead_short, "mean": lead.value, "low": lead.low, "high": lead.high}
    return remark(MakeRemark.MORE_LATE, **told, make=make, **late)
