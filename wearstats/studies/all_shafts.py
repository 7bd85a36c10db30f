"""Which hub to send for every shaft: the answers for each, in the order of what comes first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from wearstats.analysis.advice.remarks import First
from wearstats.analysis.remark import Remark, refused
from wearstats.errors import AnalysisError
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.background import shaft_background
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

_WORTH_A_PROCESS: Final = 60
"""So many shafts are shared with a second process, which takes seconds to begin."""

_ORDER: Final = {
    first: at
    for at, first in enumerate(
        (
            First.DO_NOT_RUN,
            First.STOP_AND_CHECK,
            First.SEND_SHAFT_HERE,
            First.DRESS_AND_MEASURE,
            First.MEASURE_AGAIN,
            First.MEASURE_FIRST,
            None,
            First.NOTHING_TO_SEND,
        )
    )
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AllShafts:
    """The answers for many shafts.

    Parameters
    ----------
    studies : tuple of ShaftStudy
        In the order of what comes first, then by name.
    unanswered : dict of str to Remark
        Shafts for which there is no answer, with the reason.
    """

    studies: tuple[ShaftStudy, ...]
    unanswered: dict[str, Remark]

    def counts(self) -> dict[First | None, int]:
        """Count what comes first; None where a hub is sent."""
        found = [study.advice.first for study in self.studies]
        return {first: found.count(first) for first in _ORDER if first in found}

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        return {"shafts": self.studies, "unanswered": self.unanswered}


def study_all_shafts(snapshot: Snapshot, shafts: Sequence[str] | None = None, **limits: Any) -> AllShafts:
    """Answer which hub to send for many shafts.

    Parameters
    ----------
    snapshot : Snapshot
        What is asked.
    shafts : sequence of str, optional
        Their names; all that were measured if not given.
    **limits
        As of `study_shaft`; no hub is told by its number, which one shaft alone could have.

    Raises
    ------
    AnalysisError
        When no shaft was measured.
    """
    names = tuple(snapshot.query("shaft/measured")["shaft"].astype(str) if shafts is None else shafts)
    if not names:
        raise AnalysisError(
            f"no shaft was measured by {snapshot.known_on.isoformat()}",
            needed="add inspections and readings with: wearstats store add",
        )
    # what all shafts say is worked out once, before a second process asks for it
    shaft_background(snapshot)
    half = len(names) // 2 if len(names) >= _WORTH_A_PROCESS else 0
    other = snapshot.second.begin(_answers, snapshot, names[:half], **limits) if half else partial(list, ())
    found = [*_answers(snapshot, names[half:], **limits), *other()]
    answered = [study for _, study in found if isinstance(study, ShaftStudy)]
    return AllShafts(
        studies=tuple(sorted(answered, key=lambda study: (_ORDER[study.advice.first], study.shaft))),
        unanswered={name: why for name, why in sorted(found, key=lambda pair: pair[0]) if isinstance(why, Remark)},
    )


def _answers(snapshot: Snapshot, names: tuple[str, ...], **limits: Any) -> list[tuple[str, ShaftStudy | Remark]]:
    """Answer for some, one by one; a reason in place of an answer that there is none."""
    answers: list[tuple[str, ShaftStudy | Remark]] = []
    for name in names:
        try:
            answers.append((name, study_shaft(snapshot, name, by_number=len(names) == 1, among=names, **limits)))
        except AnalysisError as error:
            answers.append((name, refused(error)))
    return answers
