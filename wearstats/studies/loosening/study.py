"""Tell how long hubs stay tight."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.histories.records_end import OutcomesEnd
from wearstats.analysis.remark import Remark, refused
from wearstats.analysis.survival.cluster_bootstrap import draw_replicates
from wearstats.analysis.survival.comparison.group_test import judge_groups
from wearstats.analysis.survival.group_risks import GroupRisk, fit_groups
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.contact import PLAY_LIMIT_UM
from wearstats.domain.tables import METHODS
from wearstats.errors import AnalysisError
from wearstats.studies.counts.all_hubs import ALL_PATTERNS, FittingsOnRecord, fittings_on_record
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.inputs.coverage import QUIET_DAYS, outcomes_end
from wearstats.studies.inputs.histories import RISK_MONTHS, grid_months, histories_of, require_fittings, ticks_months
from wearstats.studies.inputs.sampling import shaft_sample
from wearstats.studies.loosening.curves import ALIKE, CurvesStudy, study_curves
from wearstats.studies.loosening.fit_from_store import reporting_fit
from wearstats.studies.loosening.gap_risk import GapRisk, gap_risk
from wearstats.studies.loosening.report_delay import DelayStudy, study_report_delay
from wearstats.studies.loosening.validation import study_gap_checked, study_gap_trust
from wearstats.studies.loosening.verdict import judge_loosening
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

_ALL = "all"
_OVER, _WITHIN = "over", "within"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LooseningStudy:
    """What is on record of hubs working loose.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    pattern : str or None
        Restriction to one pattern.
    horizon_months, risk_limit : float
        How far ahead, and the highest acceptable chance of working loose by then, 0 to 1.
    outcomes : dict of str to int
        Fittings, and hubs sent that were never fitted, by what became of them.
    left_out : dict of Remark to int
        Fittings that contradict themselves or cannot be dated, by the reason.
    superseded : int
        Fittings without an end, whose shaft was given another hub.
    on_record : dict of str to int or float
        ``fittings``, ``followed``, ``failures`` and ``hub_months``: of all that ran.
    sampled_shafts : int or None
        Of a large fleet, how many shafts were taken at random for all that follows; None: all of them.
    everything : GroupRisk
        All fittings that ran.
    by_method : dict of str to GroupRisk
        By the method that was sent.
    reported_unasked : Estimate
        Chance that a failure is reported unasked.
    methods_differ_p : float or None
        Probability of so great a difference between the methods' curves if there were none; None where not told.
    gap : GapRisk or None
        The chance of working loose against the gap left.
    why_no_gap : Remark or None
        Why there is no such answer, where there is none.
    by_play : dict of str to GroupRisk
        ``within`` and ``over`` one thou (25.4 um) of play, where play was measured at the fitting.
    curves : CurvesStudy or None
        Curves by method, pattern, duty, region and gap, all patterns together.
    outcomes_end : OutcomesEnd
        Where the records of outcomes end; no later day counts as one without failures.
    by_pattern : dict of str to LooseningStudy
        The same for each pattern, where there are several.
    report_delay : DelayStudy or None
        How late failures are reported, and what hangs on it; of the whole only.
    """

    as_of: datetime.date
    pattern: str | None
    horizon_months: float
    risk_limit: float
    outcomes: dict[str, int]
    left_out: dict[Remark, int]
    superseded: int
    on_record: dict[str, float]
    sampled_shafts: int | None
    everything: GroupRisk
    by_method: dict[str, GroupRisk]
    reported_unasked: Estimate
    methods_differ_p: float | None
    gap: GapRisk | None
    why_no_gap: Remark | None
    by_play: Mapping[str, GroupRisk]
    curves: CurvesStudy | None
    outcomes_end: OutcomesEnd
    by_pattern: Mapping[str, LooseningStudy]
    report_delay: DelayStudy | None = None

    @property
    def risk(self) -> Estimate:
        """Chance of having worked loose by the horizon, all fittings together."""
        return self.everything.risk(self.horizon_months)

    @property
    def verdict(self) -> Remark:
        """Whether hubs stay tight, and up to which gap."""
        return judge_loosening(
            risk=self.risk,
            slope=self._of_gap("corrected"),
            at_limit=self._of_gap("at_limit"),
            risk_limit=self.risk_limit,
            horizon_months=self.horizon_months,
            failures=int(self.on_record["failures"]),
        )

    @property
    def ends_early(self) -> bool:
        """Whether the records of outcomes end long before the day asked about."""
        return (self.as_of - self.outcomes_end.day).days > QUIET_DAYS

    def curves_frame(self) -> pd.DataFrame:
        """Give ``group``, ``months``, ``still_tight``, ``low``, ``high``, a group a method sent."""
        return pd.concat([group.curve_frame() for group in self.by_method.values()], ignore_index=True)

    def at_risk_frame(self) -> pd.DataFrame:
        """Give ``group``, ``months``, ``at_risk``: fittings still watched, at a handful of months."""
        ticks = ticks_months(max(group.followed_to for group in self.by_method.values()))
        return pd.concat([group.at_risk_frame(ticks) for group in self.by_method.values()], ignore_index=True)

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        months = sorted({*RISK_MONTHS, self.horizon_months})
        document: dict[str, Any] = {
            "pattern": self.pattern,
            "horizon_months": self.horizon_months,
            "risk_limit": self.risk_limit,
            "verdict": self.verdict,
            **self.on_record,
            "sampled_shafts": self.sampled_shafts,
            "outcomes_recorded_to": self.outcomes_end,
            "outcomes": self.outcomes,
            "left_out": self.left_out,
            "superseded": self.superseded,
            "log_hazard_per_10um": {"as_read": self._of_gap("as_read"), "corrected": self._of_gap("corrected")},
            "shape": self._of_gap("shape"),
            "reported_unasked": self.reported_unasked,
            "report_delay": self.report_delay,
            "risk": [
                *({"gap_left_um": None, "months": month, **self.everything.risk(month).to_dict()} for month in months),
                *(self.gap.risk_rows() if self.gap else []),
            ],
            "gap_at_risk_limit_um": self._of_gap("at_limit"),
            "by_play": {name: group_to_dict(group, self.horizon_months) for name, group in self.by_play.items()},
            "gap": self.gap,
            "curves": self.curves,
            "by_method": {name: group_to_dict(group, self.horizon_months) for name, group in self.by_method.items()},
            "methods_differ_p": self.methods_differ_p,
        }
        if self.by_pattern:
            document["by_pattern"] = self.by_pattern
        return document

    def _of_gap(self, name: str) -> Estimate:
        none = Estimate(value=None, method=self.why_no_gap, status="none")
        estimate: Estimate = getattr(self.gap, name) if self.gap else none
        return estimate


@part(*EVERYTHING, kept=True)
def study_loosening(
    snapshot: Snapshot, *, horizon_months: float = 12.0, risk_limit: float = 0.05, short: bool = False
) -> LooseningStudy:
    """Follow the hubs on record.

    Parameters
    ----------
    horizon_months : float
        How far ahead the chance of working loose is given.
    risk_limit : float
        Highest acceptable chance by then, 0 to 1.
    short : bool
        Whether only what the short answer says is asked for: not patterns and groups, nor the law from all sides.

    Returns
    -------
    LooseningStudy

    Raises
    ------
    AnalysisError
        When no fitting is on record.
    """
    large = shaft_sample(snapshot) is not None
    if large:
        fittings_on_record.begin(snapshot)
    histories = histories_of(snapshot)
    require_fittings(histories, snapshot.pattern)
    patterns = sorted(histories.by_flanks["pattern"].dropna().unique().tolist())
    names = patterns if snapshot.pattern is None and len(patterns) > 1 and not short else []
    if names and not large:
        _begin_patterns(snapshot, names, horizon_months, risk_limit)
    whole = _answer(snapshot, horizon_months, risk_limit, whole=True, short=short)
    # the last first, for the other process began with the first
    parts = {name: _of_pattern(snapshot.of(name), horizon_months, risk_limit) for name in reversed(names)}
    counted = fittings_on_record(snapshot)
    return whole(
        by_pattern={name: parts[name](by_pattern={}, **_counted(counted[name])) for name in names},
        **_counted(counted[ALL_PATTERNS]),
    )


def _begin_patterns(snapshot: Snapshot, names: Sequence[str], horizon_months: float, risk_limit: float) -> None:
    """Have the patterns answered for in the other process, once what they all rest on is kept for it to find."""
    with suppress(AnalysisError):
        known_gaps(snapshot)
    for name in names:
        _of_pattern.begin(snapshot.of(name), horizon_months, risk_limit)


@part(*EVERYTHING)
def _of_pattern(snapshot: Snapshot, horizon_months: float, risk_limit: float) -> partial[LooseningStudy]:
    return _answer(snapshot, horizon_months, risk_limit, whole=False)


def group_to_dict(group: GroupRisk, horizon_months: float) -> dict[str, Any]:
    """Give one group's numbers as the ``--json`` document has them."""
    return {
        "fittings": group.fittings,
        "followed": group.followed,
        "failures": group.failures,
        "hub_months": group.hub_months,
        "risk": group.risk(horizon_months),
    }


def _answer(
    snapshot: Snapshot, horizon_months: float, risk_limit: float, *, whole: bool, short: bool = False
) -> partial[LooseningStudy]:
    """Answer for the fittings of a view; the whole is also looked at from all sides.

    What is counted over all fittings is not there yet.
    """
    histories, sample, draws = histories_of(snapshot), shaft_sample(snapshot), snapshot.draws
    ran = histories.by_flanks
    told = SilentHistories.from_frame(ran)
    silence = reporting_fit(snapshot)
    methods = {name: ran["method_sent"].eq(name).to_numpy(dtype=bool) for name in METHODS}
    groups = {_ALL: np.ones(len(told), dtype=bool)} | {name: chosen for name, chosen in methods.items() if chosen.any()}
    play = ran["play_um"].to_numpy(dtype=float, na_value=np.nan)
    groups |= {_WITHIN: play <= PLAY_LIMIT_UM, _OVER: play > PLAY_LIMIT_UM}
    if short:
        groups = {name: groups[name] for name in (_ALL, _WITHIN, _OVER)}
    replicates = draw_replicates(told, silence, rng=draws.generator("shafts anew"))
    months = grid_months(told, horizon_months)
    risks = fit_groups(told, groups, silence, replicates, months=months)
    everything = risks.pop(_ALL)
    by_play = {name: risks.pop(name) for name in (_WITHIN, _OVER)}
    gap, why = _gap_risk(snapshot, horizon_months, risk_limit)
    if short and gap is not None:
        gap = replace(gap, tried=study_gap_checked(snapshot, horizon_months=horizon_months))
    elif whole and gap is not None:
        gap = replace(gap, trust=study_gap_trust(snapshot, replicates, months=months, horizon_months=horizon_months))
    whole = whole and not short
    curves = study_curves(snapshot, horizon_months=horizon_months) if whole else None
    return partial(
        LooseningStudy,
        as_of=histories.as_of,
        pattern=snapshot.pattern,
        horizon_months=horizon_months,
        risk_limit=risk_limit,
        sampled_shafts=None if sample is None else len(sample.names),
        everything=everything,
        by_method=risks,
        reported_unasked=silence.reported_unasked,
        methods_differ_p=None
        if short
        else judge_groups(
            ran, ran["method_sent"], reported=silence.chance, rng=draws.generator(ALIKE, "method_sent")
        ).interval_log_rank_p,
        gap=gap,
        why_no_gap=why,
        by_play={name: group for name, group in by_play.items() if group.fittings},
        curves=curves,
        outcomes_end=outcomes_end(snapshot),
        report_delay=study_report_delay(snapshot) if whole else None,
    )


def _counted(record: FittingsOnRecord) -> dict[str, Any]:
    """Give what is counted over all fittings, as the answer names it."""
    return {
        "outcomes": record.outcomes,
        "left_out": record.left_out,
        "superseded": record.superseded,
        "on_record": record.followed,
    }


def _gap_risk(snapshot: Snapshot, horizon_months: float, risk_limit: float) -> tuple[GapRisk | None, Remark | None]:
    try:
        return gap_risk(snapshot, horizon_months, risk_limit), None
    except AnalysisError as error:
        return None, refused(error)
