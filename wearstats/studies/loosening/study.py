"""Tell how long hubs stay tight."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.histories.build import Histories
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.survival.cluster_bootstrap import draw_replicates
from wearstats.analysis.survival.group_risks import GroupRisk, fit_groups
from wearstats.analysis.survival.interval_log_rank import interval_log_rank
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories, fit_silence
from wearstats.domain.contact import PLAY_LIMIT_UM
from wearstats.domain.tables import METHODS
from wearstats.errors import AnalysisError
from wearstats.second_process import Beside
from wearstats.store.database.connection import Store
from wearstats.studies.counts.all_hubs import ALL_PATTERNS, FittingsOnRecord, count_fittings
from wearstats.studies.gaps.known_gaps import KnownGaps, other_readings, readings_in_hand, study_gaps
from wearstats.studies.inputs.histories import (
    RISK_MONTHS,
    grid_months,
    of_pattern,
    read_histories,
    require_fittings,
    ticks_months,
)
from wearstats.studies.inputs.sampling import ShaftSample, of_large_fleet, sampled_shafts, store_of
from wearstats.studies.inputs.width_fit import FittedWidths, fit_fleet
from wearstats.studies.inputs.widths import read_widths
from wearstats.studies.loosening.curves import CurvesStudy, study_curves
from wearstats.studies.loosening.gap_risk import GapRisk, gap_risk_to_dict, study_gap_risk
from wearstats.studies.loosening.validation import study_gap_trust

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
    left_out : dict of str to int
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
    why_no_gap : str
        Why there is no such answer, where there is none.
    known_gaps : KnownGaps or None
        What was known of the gaps, for whoever asks further.
    by_play : dict of str to GroupRisk
        ``within`` and ``over`` one thou (25.4 um) of play, where play was measured at the fitting.
    curves : CurvesStudy or None
        Curves by method, pattern, duty, region and gap, all patterns together.
    by_pattern : dict of str to LooseningStudy
        The same for each pattern, where there are several.
    """

    as_of: datetime.date
    pattern: str | None
    horizon_months: float
    risk_limit: float
    outcomes: dict[str, int]
    left_out: dict[str, int]
    superseded: int
    on_record: dict[str, float]
    sampled_shafts: int | None
    everything: GroupRisk
    by_method: dict[str, GroupRisk]
    reported_unasked: Estimate
    methods_differ_p: float | None
    gap: GapRisk | None
    why_no_gap: str
    known_gaps: KnownGaps | None
    by_play: Mapping[str, GroupRisk]
    curves: CurvesStudy | None
    by_pattern: Mapping[str, LooseningStudy]

    @property
    def risk(self) -> Estimate:
        """Chance of having worked loose by the horizon, all fittings together."""
        return self.everything.risk(self.horizon_months)

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
            **self.on_record,
            "sampled_shafts": self.sampled_shafts,
            "outcomes": self.outcomes,
            "left_out": self.left_out,
            "superseded": self.superseded,
            "log_hazard_per_10um": {"as_read": self._of_gap("as_read"), "corrected": self._of_gap("corrected")},
            "shape": self._of_gap("shape"),
            "reported_unasked": self.reported_unasked.to_dict(),
            "risk": [
                {"gap_left_um": None, "months": month, **self.everything.risk(month).to_dict()} for month in months
            ]
            + (self.gap.risk_rows() if self.gap else []),
            "gap_at_risk_limit_um": self._of_gap("at_limit"),
            "by_play": {name: group_to_dict(group, self.horizon_months) for name, group in self.by_play.items()},
            "gap": gap_risk_to_dict(self.gap) if self.gap else None,
            "curves": self.curves.to_dict() if self.curves else None,
            "by_method": {name: group_to_dict(group, self.horizon_months) for name, group in self.by_method.items()},
            "methods_differ_p": self.methods_differ_p,
        }
        if self.by_pattern:
            document["by_pattern"] = {name: study.to_dict() for name, study in self.by_pattern.items()}
        return document

    def _of_gap(self, name: str) -> dict[str, Any]:
        estimate: Estimate = getattr(self.gap, name) if self.gap else no_estimate(self.why_no_gap)
        return estimate.to_dict()


def study_loosening(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    horizon_months: float = 12.0,
    risk_limit: float = 0.05,
    draws: NamedDraws,
    fitted: FittedWidths | None = None,
    beside: Beside | None = None,
    counting: Callable[[], dict[str, FittingsOnRecord]] | None = None,
) -> LooseningStudy:
    """Follow the hubs on record.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str, optional
        Restriction to one pattern.
    horizon_months : float
        How far ahead the chance of working loose is given.
    risk_limit : float
        Highest acceptable chance by then, 0 to 1.
    draws : NamedDraws
        For drawing shafts anew, and gaps.
    fitted : FittedWidths, optional
        The width model of the same shafts, where it has been fitted already.
    beside : Beside, optional
        Where the fittings of a large fleet are counted.
    counting : callable, optional
        Gives what `count_fittings` does, where it was begun already.

    Returns
    -------
    LooseningStudy

    Raises
    ------
    AnalysisError
        When no fitting is on record.
    """
    sample = sampled_shafts(store, as_of=as_of, pattern=pattern)
    names = None if sample is None else sample.names
    histories = read_histories(store_of(store, sample), as_of=as_of, pattern=pattern, shafts=names)
    require_fittings(histories, pattern)
    patterns = sorted(histories.ran["pattern"].dropna().unique().tolist())
    several = pattern is None and len(patterns) > 1
    counting = counting or of_large_fleet(beside, store, as_of=as_of, pattern=pattern).begin(
        count_fittings, store, as_of=as_of, pattern=pattern
    )
    known = _KnownWidths.read(store, as_of=as_of, pattern=pattern, fitted=fitted, sample=sample, draws=draws)

    def answer(part: Histories, name: str | None, whole: bool) -> partial[LooseningStudy]:
        return _answer(part, name, horizon_months, risk_limit, known, sample, whole=whole, draws=draws)

    parts = {name: answer(of_pattern(histories, name), name, False) for name in patterns} if several else {}
    whole = answer(histories, pattern, True)
    counted = counting()
    return whole(
        by_pattern={name: part(by_pattern={}, **_counted(counted[name])) for name, part in parts.items()},
        **_counted(counted[ALL_PATTERNS]),
    )


def group_to_dict(group: GroupRisk, horizon_months: float) -> dict[str, Any]:
    """Give one group's numbers as the ``--json`` document has them."""
    return {
        "fittings": group.fittings,
        "followed": group.followed,
        "failures": group.failures,
        "hub_months": group.hub_months,
        "risk": group.risk(horizon_months).to_dict(),
    }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _KnownWidths:
    """What was known of the gaps, and what other inspections said; or why nothing is known."""

    gaps: KnownGaps | None
    others: pd.DataFrame
    why: str

    @classmethod
    def read(
        cls,
        store: Store,
        *,
        as_of: datetime.date,
        pattern: str | None,
        fitted: FittedWidths | None,
        sample: ShaftSample | None,
        draws: NamedDraws,
    ) -> _KnownWidths:
        shafts = None if sample is None else sample.names
        part = store_of(store, sample)
        try:
            widths = fitted or fit_fleet(store, as_of=as_of, pattern=pattern, intervals=False)
            readings = widths.readings
            if shafts is not None or readings.of_shafts is not None:
                readings = read_widths(part, as_of=as_of, pattern=pattern, shafts=shafts)
            gaps = study_gaps(
                part, as_of=as_of, pattern=pattern, readings=readings, fit=widths.fit, shafts=shafts, draws=draws
            )
        except AnalysisError as error:
            return cls(gaps=None, others=pd.DataFrame(), why=str(error))
        in_hand = readings_in_hand(
            readings, part.query("fittings/choices", as_of=as_of, pattern=pattern, shafts=shafts)
        )
        return cls(gaps=gaps, others=other_readings(readings, in_hand), why="")


def _answer(
    histories: Histories,
    pattern: str | None,
    horizon_months: float,
    risk_limit: float,
    known: _KnownWidths,
    sample: ShaftSample | None,
    *,
    whole: bool,
    draws: NamedDraws,
) -> partial[LooseningStudy]:
    """Answer for the fittings of one pattern, or for the whole, which is also looked at from all sides.

    What is counted over all fittings is not there yet.
    """
    ran = histories.ran
    told = SilentHistories.from_frame(ran)
    silence = fit_silence(told)
    methods = {name: ran["method_sent"].eq(name).to_numpy(dtype=bool) for name in METHODS}
    groups = {_ALL: np.ones(len(told), dtype=bool)} | {name: chosen for name, chosen in methods.items() if chosen.any()}
    play = ran["play_um"].to_numpy(dtype=float, na_value=np.nan)
    groups |= {_WITHIN: play <= PLAY_LIMIT_UM, _OVER: play > PLAY_LIMIT_UM}
    replicates = draw_replicates(told, silence, rng=draws.generator("shafts anew"))
    months = grid_months(told, horizon_months)
    risks = fit_groups(told, groups, silence, replicates, months=months)
    everything = risks.pop(_ALL)
    by_play = {name: risks.pop(name) for name in (_WITHIN, _OVER)}
    gap, why = _gap_risk(ran, known, silence, horizon_months, risk_limit)
    if whole and gap is not None and known.gaps is not None:
        trust = study_gap_trust(
            ran, known.gaps, gap.fit, known.others, silence, replicates,
            months=months, horizon_months=horizon_months, draws=draws,
        )  # fmt: skip
        gap = replace(gap, trust=trust)
    frame = known.gaps.frame if known.gaps else None
    curves = study_curves(histories, frame, horizon_months=horizon_months, draws=draws) if whole else None
    return partial(
        LooseningStudy,
        as_of=histories.as_of,
        known_gaps=known.gaps,
        pattern=pattern,
        horizon_months=horizon_months,
        risk_limit=risk_limit,
        sampled_shafts=None if sample is None else len(sample.names),
        everything=everything,
        by_method=risks,
        reported_unasked=silence.reported_unasked,
        methods_differ_p=_methods_differ(told, silence, ran) if len(risks) > 1 else None,
        gap=gap,
        why_no_gap=why,
        by_play={name: group for name, group in by_play.items() if group.fittings},
        curves=curves,
    )


def _counted(record: FittingsOnRecord) -> dict[str, Any]:
    """Give what is counted over all fittings, as the answer names it."""
    return {
        "outcomes": record.outcomes,
        "left_out": record.left_out,
        "superseded": record.superseded,
        "on_record": record.followed,
    }


def _gap_risk(
    ran: pd.DataFrame, known: _KnownWidths, silence: SilenceFit, horizon_months: float, risk_limit: float
) -> tuple[GapRisk | None, str]:
    if known.gaps is None:
        return None, known.why
    try:
        return study_gap_risk(ran, known.gaps, silence, horizon_months=horizon_months, risk_limit=risk_limit), ""
    except AnalysisError as error:
        return None, str(error)


def _methods_differ(told: SilentHistories, silence: SilenceFit, ran: pd.DataFrame) -> float | None:
    """Compare the methods' curves; None where no follow-up tells one fitting from another."""
    unreported = 1.0 - silence.chance
    try:
        test = interval_log_rank(
            told.cells(), silence.curve, ran["method_sent"], unreported=unreported, cluster=told.shaft
        )
    except AnalysisError:
        return None
    return test.p_value
