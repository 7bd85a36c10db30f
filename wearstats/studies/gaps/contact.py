"""Whether hubs bore where they were foretold to, as far as marks were noted at their fitting."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearstats.analysis.gaps.contact_check import ContactSeen, compare_contact
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.numerics.one_thread import one_thread
from wearstats.store.database.connection import Store
from wearstats.studies.gaps.contact_of_fitting import FittingSeen, one_seen, with_marks
from wearstats.studies.gaps.known_gaps import KnownGaps, study_gaps


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
    fittings: pd.DataFrame

    def singly(self) -> list[FittingSeen]:
        """Give them one by one."""
        return [one_seen(self.fittings, name) for name in self.fittings["fitting"]]

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` document."""
        over_all = None if self.seen is None else self.seen.to_dict()
        return {"over_all": over_all, "fittings": [one.to_dict() for one in self.singly()]}


@one_thread
def study_contact_seen(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    fittings: Sequence[str] = (),
    gaps: KnownGaps | None = None,
    draws: NamedDraws,
) -> ContactStudy:
    """Compare contact foretold with contact marked.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    fittings : sequence of str
        Only these, one by one; else all of them.
    gaps : KnownGaps, optional
        What was known of the gaps, where it was worked out already.
    draws : NamedDraws
        For the draws.

    Returns
    -------
    ContactStudy

    Raises
    ------
    AnalysisError
        With too few fittings that have marks and readings that were in hand when their hub was chosen, or where one
        that was asked for has not.
    """
    gaps = gaps or study_gaps(store, as_of=as_of, pattern=pattern, draws=draws)
    told = with_marks(gaps.frame)
    if not fittings:
        return ContactStudy(as_of=as_of, seen=compare_contact(told, rng=draws.generator("contact")), fittings=told)
    for name in fittings:
        one_seen(told, name)
    return ContactStudy(as_of=as_of, seen=None, fittings=told[told["fitting"].isin(list(fittings))])
