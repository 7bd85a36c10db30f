"""Whether hubs bore where that was predicted, as far as marks were noted at their fitting."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated, Any

import pandas as pd

from wearstats.analysis.gaps.contact_check import ContactSeen, compare_contact
from wearstats.analysis.remark import Remark
from wearstats.domain.frames import columns
from wearstats.studies.gaps.contact_of_fitting import FittingSeen, one_seen, with_marks
from wearstats.studies.gaps.contact_verdict import judge_contact
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContactStudy:
    """What all fittings with marks show.

    Parameters
    ----------
    as_of : datetime.date
        Only what was known on that day counts.
    seen : ContactSeen or None
        Over all of them; None where single fittings were asked for.
    fittings : DataFrame
        `COLUMNS`, one row a fitting, in the order of their names.
    """

    as_of: datetime.date
    seen: ContactSeen | None
    fittings: Annotated[pd.DataFrame, columns(text="fitting shaft pattern", number="predicted low high marked")]

    @property
    def verdict(self) -> Remark | None:
        """Whether hubs bore where that was predicted; None where single fittings were asked for."""
        seen = self.seen
        if seen is None:
            return None
        return judge_contact(difference=seen.difference, slope=seen.slope, covered=seen.covered)

    def singly(self) -> list[FittingSeen]:
        """Give them one by one."""
        return [one_seen(self.fittings, name) for name in self.fittings["fitting"]]

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        return {"verdict": self.verdict, "over_all": self.seen, "fittings": self.singly()}


@part(*EVERYTHING, kept=True)
def study_contact_seen(snapshot: Snapshot, *, fittings: tuple[str, ...] = ()) -> ContactStudy:
    """Compare contact predicted with contact marked.

    Parameters
    ----------
    fittings : tuple of str
        Only these, one by one; else all of them.

    Returns
    -------
    ContactStudy

    Raises
    ------
    AnalysisError
        With too few fittings that have marks and readings that were in hand when their hub was chosen, or where one
        that was asked for has not.
    """
    told = with_marks(known_gaps(snapshot).frame)
    if snapshot.pattern is not None:
        told = told[told["pattern"].eq(snapshot.pattern)].reset_index(drop=True)
    if not fittings:
        return ContactStudy(
            as_of=snapshot.known_on, seen=compare_contact(told, rng=snapshot.draws.generator("contact")), fittings=told
        )
    for name in fittings:
        one_seen(told, name)
    return ContactStudy(as_of=snapshot.known_on, seen=None, fittings=told[told["fitting"].isin(list(fittings))])
