"""Whether hubs stay tight, in short: up to which gap, the chance by gap, and how far to trust it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from wearstats.analysis.estimate import may_be_any_share
from wearstats.report.loosening.tables import NEAR, near_heads, near_rows
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable, sure_of
from wearstats.report.words.phrases import count, in_hundred, span, sure_share, within
from wearstats.studies.loosening.remarks import LooseningVerdict

if TYPE_CHECKING:
    from wearstats.studies.loosening.gap_risk import GapRisk
    from wearstats.studies.loosening.study import LooseningStudy

_TOGETHER: Final = {LooseningVerdict.GAP_NOT_SHOWN, LooseningVerdict.BACKWARDS, LooseningVerdict.WITHOUT_GAP}
"""Verdicts that say the chance of all together already."""
_NEXT: Final = "So: weigh each hub by its own chance: wearstats shaft ID."


def loosening_answer(study: LooseningStudy) -> ShortAnswer:
    """Say up to which gap hubs stay tight, what the chance is at some gaps, and what to do."""
    untold = study.verdict.code == LooseningVerdict.UNTOLD
    body = _untold(study) if untold else (*_table(study), *_all(study), *_check(study.gap), *_chosen(study.gap), _NEXT)
    return ShortAnswer(
        question="Do hubs stay tight?",
        verdict=say(study.verdict),
        body=body,
        foot=sure_of(study.sampled_shafts),
        more="wearstats loosening --full",
    )


def _table(study: LooseningStudy) -> tuple[str | SmallTable, ...]:
    """Give a row a gap: the chance there, and how many hubs sit about there."""
    answer = study.gap
    if answer is None:
        return (f"By gap it cannot be told: {say(study.why_no_gap)}.",)
    rows = tuple(near_rows(answer, study.horizon_months))
    heads, note = near_heads(study.horizon_months), f"Hubs: those on record {NEAR}."
    return (SmallTable(head=heads, rows=rows, note=note),)


def _all(study: LooseningStudy) -> tuple[str, ...]:
    """Say how many work loose at all, and how many are known to."""
    known = f"{study.on_record['failures']:.0f} of {count(int(study.on_record['fittings']), 'hub')} known loose"
    if study.ends_early:
        known += f" by about {study.outcomes_end.day}, where the records end"
    risk = study.risk
    if study.verdict.code in _TOGETHER or risk.value is None or may_be_any_share(risk):
        return (f"On record: {known}.",)
    together = f"All together {sure_share(risk, within(study.horizon_months))}"
    return (f"{together}.", f"On record: {known}; owners who stay silent are allowed for.")


def _check(answer: GapRisk | None) -> tuple[str, ...]:
    """Say whether the model predicts shafts that it has not seen."""
    held = None if answer is None or answer.checked is None else answer.checked.held_back
    if held is None or held.concordance is None or held.concordance_without_gap is None:
        return ()
    surely = "surely" if held.log_score_gain.side() == 1 else "not surely"
    pairs = f"{in_hundred(held.concordance)} of 100 pairs, {in_hundred(held.concordance_without_gap)} without the gap"
    return (f"Check on shafts not seen: ranked right are {pairs}; {surely} better with it.",)


def _chosen(answer: GapRisk | None) -> tuple[str, ...]:
    """Say so where hubs were surely chosen on more than is on record."""
    senders = None if answer is None or answer.checked is None else answer.checked.senders
    if senders is None or not senders.surely:
        return ()
    return ("Hubs were chosen on more than the readings on record; that is allowed for.",)


def _untold(study: LooseningStudy) -> tuple[str, ...]:
    """Say what is on record, and what would tell."""
    told, longest = study.on_record, study.everything.followed_to
    shorter = study.horizon_months > longest >= 1.0
    latest = f"Nobody was heard of after {longest:.1f} months: try --horizon-months {math.floor(longest)}."
    return (
        f"On record: {count(int(told['fittings']), 'hub')}, {told['followed']:.0f} heard of again.",
        *([latest] if shorter else []),
        f"What would tell: follow-ups after {span(study.horizon_months)}; whom to ask: wearstats calls.",
    )
