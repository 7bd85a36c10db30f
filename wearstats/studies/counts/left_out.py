"""What the counts of hubs leave out: fittings whose records cannot be, returns of nothing sent, hubs not heard of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from wearstats.analysis.remark import Remark, remark
from wearstats.studies.counts.remarks import LeftOutRemark
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.snapshot import Snapshot, part

_NAMED: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """What is left out; of a large fleet, of the sample's shafts.

    Parameters
    ----------
    fittings : dict of Remark to int
        Fittings that contradict themselves or cannot be dated, by the reason.
    returns : int
        Hubs that came back before they were sent or fitted.
    sent : int
        Hubs sent of which neither a fitting nor a return is on record.
    told : tuple of Remark
        All of that with the first names, a remark a reason.
    """

    fittings: dict[Remark, int]
    returns: int
    sent: int
    told: tuple[Remark, ...]

    @property
    def contradicting(self) -> int:
        """Fittings and returns that cannot be as they are written."""
        return sum(self.fittings.values()) + self.returns

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "fittings": self.fittings,
            "returns_before_sent": self.returns,
            "sent_not_heard_of": self.sent,
            "words": self.told,
        }


@part("known_on", "models_from", "pattern")
def left_out(snapshot: Snapshot) -> LeftOut:
    """Count and name what is left out of the hubs in use and of every comparison of them."""
    histories = histories_of(snapshot)
    frame, silent = histories.left_out, histories.frame
    silent = silent[silent["kind"].eq("dispatch") & silent["outcome"].eq("no-word")]
    counts = histories.left_out_counts()
    told = [
        _told(LeftOutRemark.FITTINGS, frame.loc[frame["why"].eq(str(why.code)), "fitting"].tolist(), why=why)
        for why in counts
    ]
    back = snapshot.query("review/returns_before_sent")["hub"].tolist()
    if back:
        told.append(_told(LeftOutRemark.RETURNS, back))
    if len(silent):
        told.append(_told(LeftOutRemark.SENT, silent["hub"].tolist()))
    return LeftOut(fittings=counts, returns=len(back), sent=len(silent), told=tuple(told))


def _told(code: LeftOutRemark, names: Sequence[Any], **facts: Any) -> Remark:
    return remark(code, number=len(names), names=tuple(sorted(map(str, names)))[:_NAMED], **facts)
