"""Tell whether hubs fitted straight off the shelf fail more than those fitted by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.histories.build import Histories
from wearstats.analysis.loosening.mediation import SameGap
from wearstats.analysis.methods.covariates import covariates_at_decision
from wearstats.analysis.methods.evidence import enter_at_horizon, follow_evidence
from wearstats.analysis.methods.sample_size import more_fittings_needed, more_fittings_once
from wearstats.analysis.methods.standardised_risk import (
    LikeShafts,
    compare_like_shafts,
    take_histories,
    take_replicates,
)
from wearstats.analysis.methods.tables import AS_SUPPLIED, HAND_FITTED, tabulate_methods
from wearstats.analysis.rates.e_value import e_value_of
from wearstats.analysis.survival.cluster_bootstrap import Replicates, draw_replicates
from wearstats.analysis.survival.group_risks import GroupRisk, fit_groups, risk_difference
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories
from wearstats.domain.tables import METHODS
from wearstats.errors import AnalysisError
from wearstats.studies.counts.left_out import left_out
from wearstats.studies.inputs.histories import grid_months, histories_of, require_fittings
from wearstats.studies.inputs.sampling import shaft_sample
from wearstats.studies.loosening.fit_from_store import reporting_fit
from wearstats.studies.loosening.gap_risk import same_gap
from wearstats.studies.methods.answer import _BY, NO_READINGS, MethodsStudy
from wearstats.studies.methods.covariates import read_decisions
from wearstats.studies.methods.held_otherwise import held_otherwise
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part


@part(*EVERYTHING, kept=True)
def study_methods(snapshot: Snapshot, *, horizon_months: float = 12.0) -> MethodsStudy:
    """Compare the methods.

    Parameters
    ----------
    snapshot : Snapshot
    horizon_months : float
        Month at which risks are compared.

    Returns
    -------
    MethodsStudy

    Raises
    ------
    AnalysisError
        When no fitting is on record, none was sent in one of the two ways, or none is followed up to the horizon.
    """
    histories = histories_of(snapshot)
    require_fittings(histories, snapshot.pattern)
    _require_both_ways(histories, horizon_months)
    patterns = sorted(histories.by_flanks["pattern"].dropna().unique().tolist())
    names = patterns if snapshot.pattern is None and len(patterns) > 1 else []
    for name in names if shaft_sample(snapshot) is None else []:
        _of_pattern.begin(snapshot.of(name), horizon_months)
    whole = _answer(snapshot, horizon_months)
    # the last first, for the other process began with the first
    parts = {name: _of_pattern(snapshot.of(name), horizon_months) for name in reversed(names)}
    return replace(whole, by_pattern={name: parts[name] for name in names})


@part(*EVERYTHING)
def _of_pattern(snapshot: Snapshot, horizon_months: float) -> MethodsStudy:
    return _answer(snapshot, horizon_months)


def _require_both_ways(histories: Histories, horizon_months: float) -> None:
    """Raise an AnalysisError where there is nothing to compare."""
    supplied = histories.by_flanks["method_sent"].eq(AS_SUPPLIED)
    if supplied.all() or not supplied.any():
        only, other = (
            ("as supplied", "to be fitted by hand") if supplied.all() else ("to be fitted by hand", "as supplied")
        )
        raise AnalysisError(
            f"all hubs on record were sent {only}: there is nothing to compare",
            needed=f"hubs sent {other}, in dispatches and fittings",
        )
    longest = float(SilentHistories.from_frame(histories.by_flanks).last_word.max())
    if longest < horizon_months:
        shorter = f"a shorter time, --horizon-months {math.floor(longest)}, or " if longest >= 1.0 else ""
        raise AnalysisError(
            f"at {horizon_months:g} months: none was heard of later than {longest:.1f} months after fitting",
            needed=f"{shorter}follow_ups",
        )


def _at_same_gap(snapshot: Snapshot, horizon_months: float) -> SameGap | None:
    """Compare at the same gap; None where the law of the chance against the gap cannot be fitted."""
    try:
        return same_gap(snapshot, horizon_months)
    except AnalysisError:
        return None


def _answer(snapshot: Snapshot, horizon_months: float) -> MethodsStudy:
    histories, sample, draws = histories_of(snapshot), shaft_sample(snapshot), snapshot.draws
    read = read_decisions(snapshot)
    ran = histories.by_flanks
    told = SilentHistories.from_frame(ran)
    silence = reporting_fit(snapshot)
    replicates = draw_replicates(told, silence, rng=draws.generator("shafts anew"))
    months = grid_months(told, horizon_months)
    at_horizon = months[months <= horizon_months][-1:]  # only the horizon is compared
    groups: dict[str, dict[str, GroupRisk]] = {}
    for by, column in _BY.items():
        chosen = {name: ran[column].eq(name).to_numpy(dtype=bool) for name in METHODS}
        chosen[HAND_FITTED] = ~chosen[AS_SUPPLIED]
        groups[by] = fit_groups(told, chosen, silence, replicates, months=at_horizon)
    never_on = histories.frame[histories.frame["outcome"].eq("would-not")]
    late = ran["entry_months"].gt(0)
    like, same_hub = _on_same_shafts(ran[~late], read, told, silence, replicates, ~late.to_numpy(), horizon_months)
    # one on record only because it came back loose has no sound fellows beside it
    entered = enter_at_horizon(ran[ran["kind"].eq("fitting")], by=_BY["sent"], horizon_months=horizon_months)
    evidence = follow_evidence(entered, as_of=histories.as_of)
    return MethodsStudy(
        as_of=histories.as_of,
        pattern=snapshot.pattern,
        horizon_months=horizon_months,
        groups=groups,
        differences={
            by: risk_difference(group[AS_SUPPLIED], group[HAND_FITTED], horizon_months) for by, group in groups.items()
        },
        tables={by: tabulate_methods(ran, by=column, horizon_months=horizon_months) for by, column in _BY.items()},
        like_shafts=like,
        same_hub=same_hub,
        without_readings=len(ran) - int(late.sum()) - (0 if like is None else like.fittings),
        known_late=int(late.sum()),
        same_gap=_at_same_gap(snapshot, horizon_months),
        e_value=NO_READINGS if like is None else e_value_of(like.ratio),
        evidence=evidence,
        more_fittings=more_fittings_needed(evidence, rng=draws.generator("futures")),
        more_fittings_once=NO_READINGS
        if like is None
        else more_fittings_once(like.difference, like.std_error, like.fittings),
        sent_taken_as_done=int((~ran["method_sent_known"].astype(bool)).sum()),
        changed=int(ran["method_sent"].ne(ran["method_done"]).sum()),
        would_not_go_on={
            name: int(never_on["method_sent"].eq(name).sum())
            for name in METHODS
            if never_on["method_sent"].eq(name).any()
        },
        by_pattern={},
        left_out=left_out(snapshot),
        held_otherwise=held_otherwise(snapshot),
        sampled_shafts=None if sample is None else len(sample.names),
    )


def _on_same_shafts(
    ran: pd.DataFrame,
    read: pd.DataFrame | None,
    told: SilentHistories,
    silence: SilenceFit,
    replicates: Replicates,
    early: np.ndarray[Any, np.dtype[np.bool_]],
    horizon_months: float,
) -> tuple[LikeShafts | None, Estimate]:
    """Compare on the same shafts, without and with the hub's size held."""
    if read is None:
        return None, NO_READINGS
    covariates = covariates_at_decision(ran, read.drop(columns="undersize_um"))
    if covariates.empty:
        return None, NO_READINGS
    kept = early.copy()
    kept[early] = ran["fitting"].isin(covariates.index).to_numpy()
    histories, drawn = take_histories(told, kept), take_replicates(replicates, kept)
    supplied = ran.loc[ran["fitting"].isin(covariates.index), "method_sent"].eq(AS_SUPPLIED).to_numpy(dtype=bool)
    like = compare_like_shafts(histories, supplied, covariates, silence, drawn, months=horizon_months)
    sized = covariates.assign(undersize_um=read.loc[covariates.index, "undersize_um"].to_numpy(dtype=float))
    with_size = compare_like_shafts(histories, supplied, sized, silence, drawn, months=horizon_months)
    return like, with_size.difference
