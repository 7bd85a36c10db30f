"""What is on record of all hubs, counted: of the fittings for the question of loosening, of a quarter for the review.

It is counted over all hubs, of however large a fleet, while what is predicted rests on some of them; so it can be done
beside the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

from wearstats.analysis.histories.build import OUTCOMES, Histories
from wearstats.analysis.remark import Remark
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.quarters import Quarter
from wearstats.studies.counts.advice import AdviceJudged, judge_advice
from wearstats.studies.counts.batches import BatchReview, review_batches
from wearstats.studies.counts.other_ends import read_returned
from wearstats.studies.counts.quarter import QuarterCounts, count_quarter
from wearstats.studies.counts.time_between_failures import FailureWaits, wait_for_failures
from wearstats.studies.inputs.histories import all_histories, of_pattern
from wearstats.studies.inputs.hubs_in_use import read_hubs_in_use
from wearstats.studies.snapshot import Snapshot, part

ALL_PATTERNS = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingsOnRecord:
    """The fittings, counted.

    Parameters
    ----------
    outcomes : dict of str to int
        Fittings, and hubs sent that were never fitted, by what became of them.
    left_out : dict of Remark to int
        Fittings that contradict themselves or cannot be dated, by the reason.
    superseded : int
        Fittings without an end, whose shaft was given another hub.
    followed : dict of str to float
        ``fittings``, ``followed``, ``failures`` and ``hub_months``: of all that ran.
    """

    outcomes: dict[str, int]
    left_out: dict[Remark, int]
    superseded: int
    followed: dict[str, float]


@part("known_on", "models_from", "pattern", kept=True)
def fittings_on_record(snapshot: Snapshot) -> dict[str, FittingsOnRecord]:
    """Count the fittings on record.

    Returns
    -------
    dict of str to FittingsOnRecord
        All together under `ALL_PATTERNS`; and by pattern, unless it is asked for one.
    """
    histories, pattern = all_histories(snapshot), snapshot.pattern
    patterns = [] if pattern is not None else sorted(histories.ran["pattern"].dropna().unique().tolist())
    return {
        ALL_PATTERNS: _count(histories),
        **{name: _count(of_pattern(histories, name)) for name in patterns},
    }


def _count(histories: Histories) -> FittingsOnRecord:
    ran = histories.ran
    unfitted = histories.frame["kind"].eq("dispatch") & histories.frame["outcome"].eq("no-word")
    counts = histories.frame["outcome"].where(~unfitted, "sent-no-word").value_counts()
    return FittingsOnRecord(
        outcomes={name: int(counts.get(name, 0)) for name in (*OUTCOMES, "sent-no-word")},
        left_out=histories.left_out_counts(),
        superseded=int(ran["superseded"].sum()),
        followed=SilentHistories.from_frame(ran).counts(),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuarterOnRecord:
    """What happened in a quarter, and to whom.

    Parameters
    ----------
    ran : bool
        Whether any hub ever ran.
    counts : QuarterCounts
        Hubs in use and their failures.
    batches : BatchReview
        Batches that run wide or fail more often.
    waits : FailureWaits or None
        Use between failures; None where there are too few.
    advice : AdviceJudged
        Advice and what became of it.
    """

    ran: bool
    counts: QuarterCounts
    batches: BatchReview
    waits: FailureWaits | None
    advice: AdviceJudged


@part("known_on", "models_from", "pattern", kept=True, advice=True)
def quarter_on_record(snapshot: Snapshot, quarter: Quarter) -> QuarterOnRecord:
    """Count what happened in a quarter."""
    hubs = read_hubs_in_use(snapshot, all_histories(snapshot))
    return QuarterOnRecord(
        ran=not hubs.frame.empty,
        counts=count_quarter(hubs, quarter, returned=read_returned(snapshot)),
        batches=review_batches(snapshot, hubs),
        waits=wait_for_failures(hubs),
        advice=judge_advice(snapshot, hubs),
    )
