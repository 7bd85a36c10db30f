"""What a folder of pages needs: the answers for all shafts in use or measured, their owners, and whom to warn."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from wearstats.errors import AnalysisError
from wearstats.studies.all_shafts import AllShafts, study_all_shafts
from wearstats.studies.demo import is_invented
from wearstats.studies.forecast.figures import InUse, hubs_in_hand
from wearstats.studies.forecast.study import study_forecast
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.shaft_photos import ShaftPhoto, shaft_photos
from wearstats.studies.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftPages:
    """The answers.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    invented : bool
        Whether the demo's invented files are in the store.
    shafts : AllShafts
        Which hub for each.
    owners : dict of str to str
        The code of each shaft's owner, where one is known.
    in_use : InUse or None
        Whom to warn; None where no hub ever ran.
    photos : dict of str to tuple of ShaftPhoto
        By shaft, of those that have any.
    """

    as_of: datetime.date
    invented: bool
    shafts: AllShafts
    owners: dict[str, str]
    in_use: InUse | None
    photos: dict[str, tuple[ShaftPhoto, ...]] = field(default_factory=dict)


def study_shaft_pages(snapshot: Snapshot, shafts: Sequence[str] = (), **limits: Any) -> ShaftPages:
    """Answer for all shafts that were measured or have a hub in use, or for some.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    shafts : sequence of str
        Only these; all if empty.
    **limits
        As of `study_shaft`.

    Raises
    ------
    AnalysisError
        When one that is asked for by name has no answer.
    """
    try:
        in_use = hubs_in_hand(study_forecast(snapshot))
    except AnalysisError:
        in_use = None
    names = tuple(dict.fromkeys(shafts))
    if not names:
        measured = set(snapshot.query("shaft/measured")["shaft"].astype(str))
        names = tuple(sorted(measured | (set() if in_use is None else set(in_use.frame["shaft"].astype(str)))))
    answers = study_all_shafts(snapshot, names, **limits) if names else AllShafts(studies=(), unanswered={})
    if shafts and answers.unanswered:
        # says why, and which name may have been meant
        study_shaft(snapshot, next(iter(answers.unanswered)), **limits)
    owners = snapshot.query("review/owners", shafts=None)
    return ShaftPages(
        as_of=snapshot.known_on,
        invented=is_invented(snapshot),
        shafts=answers,
        owners=dict(zip(owners["shaft"].astype(str), owners["owner"].astype(str), strict=True)),
        photos=shaft_photos(snapshot, names),
        in_use=in_use,
    )
