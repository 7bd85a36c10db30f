"""Tell whether hubs fitted straight off the shelf fail more than those fitted by hand."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.histories.build import Histories
from wearstats.analysis.loosening.mediation import SameGap
from wearstats.analysis.methods.covariates import covariates_at_decision
from wearstats.analysis.methods.evidence import MethodEvidence, enter_at_horizon, follow_evidence
from wearstats.analysis.methods.sample_size import more_fittings_needed, more_fittings_once
from wearstats.analysis.methods.standardised_risk import (
    LikeShafts,
    compare_like_shafts,
    take_histories,
    take_replicates,
)
from wearstats.analysis.methods.tables import AS_SUPPLIED, HAND_FITTED, MethodTable, tabulate_methods
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.numerics.one_thread import one_thread
from wearstats.analysis.rates.e_value import e_value_of
from wearstats.analysis.survival.cluster_bootstrap import Replicates, draw_replicates
from wearstats.analysis.survival.group_risks import GroupRisk, fit_groups, risk_difference
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories, fit_silence
from wearstats.domain.tables import METHODS
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store
from wearstats.studies.inputs.histories import grid_months, of_pattern, read_histories, require_fittings
from wearstats.studies.inputs.sampling import ShaftSample, sampled_shafts, store_of
from wearstats.studies.inputs.widths import WidthReadings
from wearstats.studies.loosening.fit_from_store import gap_risk_of_store
from wearstats.studies.methods.covariates import read_decisions
from wearstats.studies.methods.methods_document_merge import methods_document

NO_READINGS = "no fitting has readings that were in hand when its hub was chosen"
_BY = {"sent": "method_sent", "done": "method_done"}
_NO_GAP_LAW = "no law of the chance against the gap was fitted to these fittings alone"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethodsStudy:
    """The methods beside each other: as they were used, on the same shafts, inside strata, and at every look.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    pattern : str or None
        Restriction to one pattern.
    horizon_months : float
        Month at which risks are compared.
    groups : dict of str to dict of str to GroupRisk
        ``sent`` and ``done``, each by method and for all fitted by hand together; groups without fittings are there.
    differences : dict of str to Estimate
        ``sent`` and ``done``: risk as supplied minus fitted by hand, from the curves.
    tables : dict of str to MethodTable
        ``sent`` and ``done``: counts of fittings whose outcome at the horizon is known, alone and inside strata.
    like_shafts : LikeShafts or None
        By what was sent, on the same shafts; None where no fitting has readings in hand.
    same_hub : Estimate
        The same with the hub's size held as well; it seldom can be told, for the size goes with the method.
    without_readings, known_late : int
        Fittings left out of that: without readings in hand; known only from a later date.
    same_gap : SameGap or None
        At the same gap, from the law of the chance against the gap; None where that cannot be fitted, and for single
        patterns beside the whole.
    e_value : Estimate
        How strong something unseen would have to be to explain the ratio on the same shafts away.
    evidence : MethodEvidence
        By what was sent, at every quarter.
    more_fittings, more_fittings_once : Estimate
        How many more fittings would settle it: looked at every quarter; and on the same shafts, looked at once.
    sent_taken_as_done : int
        Fittings for which the advised method is not recorded, counted as sent for what was done.
    changed : int
        Fittings done by another method than was sent.
    would_not_go_on : dict of str to int
        Hubs that would not go on, by the method sent.
    by_pattern : dict of str to MethodsStudy
        The same for each pattern, where there are several.
    sampled_shafts : int or None
        Of how many shafts, taken at random, these are the hubs; None: of all.
    """

    as_of: datetime.date
    pattern: str | None
    horizon_months: float
    groups: Mapping[str, dict[str, GroupRisk]]
    differences: Mapping[str, Estimate]
    tables: Mapping[str, MethodTable]
    like_shafts: LikeShafts | None
    same_hub: Estimate
    without_readings: int
    known_late: int
    same_gap: SameGap | None
    e_value: Estimate
    evidence: MethodEvidence
    more_fittings: Estimate
    more_fittings_once: Estimate
    sent_taken_as_done: int
    changed: int
    would_not_go_on: dict[str, int]
    by_pattern: Mapping[str, MethodsStudy]
    sampled_shafts: int | None = None

    @property
    def same_shafts(self) -> Estimate:
        """Difference on the same shafts, as supplied minus fitted by hand, by what was sent."""
        return no_estimate(NO_READINGS) if self.like_shafts is None else self.like_shafts.difference

    @property
    def at_same_gap(self) -> Estimate:
        """Difference at the same gap."""
        return no_estimate(_NO_GAP_LAW) if self.same_gap is None else self.same_gap.difference

    def methods_frame(self) -> pd.DataFrame:
        """Give ``by``, ``method``, ``fittings``, ``failures``, ``hub_months``, ``risk``, ``low``, ``high``."""
        rows = [(by, group, group.risk(self.horizon_months)) for by in _BY for group in self.of_methods(by).values()]
        return pd.DataFrame(
            {
                "by": [by for by, _, _ in rows],
                "method": [group.group for _, group, _ in rows],
                "fittings": [group.fittings for _, group, _ in rows],
                "failures": [group.failures for _, group, _ in rows],
                "hub_months": [group.hub_months for _, group, _ in rows],
                "risk": [np.nan if risk.value is None else risk.value for _, _, risk in rows],
                "low": [np.nan if risk.low is None else risk.low for _, _, risk in rows],
                "high": [np.nan if risk.high is None else risk.high for _, _, risk in rows],
            }
        )

    def table_frame(self) -> pd.DataFrame:
        """Give ``by``, ``group``, ``failed``, ``tight``: fittings whose outcome at the horizon is known."""
        tables = [(by, self.tables[by].table) for by in _BY]
        return pd.DataFrame(
            {
                "by": [by for by, _ in tables for _ in range(2)],
                "group": [AS_SUPPLIED, HAND_FITTED] * len(tables),
                "failed": [n for _, table in tables for n in (table.first_failed, table.second_failed)],
                "tight": [n for _, table in tables for n in (table.first_tight, table.second_tight)],
            }
        )

    def differences_frame(self) -> pd.DataFrame:
        """Give ``question``, ``difference``, ``low``, ``high``, ``status``, ``why``: all comparisons beside each other.

        The questions are ``crude``, ``as_done``, ``table``, ``same_season`` (Mantel-Haenszel), ``same_shafts``,
        ``same_gap``; a comparison that these data cannot make has no number, and ``why`` says why.
        """
        asked = {
            "crude": self.differences["sent"],
            "as_done": self.differences["done"],
            "table": self.tables["sent"].difference,
            "same_season": self.tables["sent"].stratified.difference,
            "same_shafts": self.same_shafts,
            "same_gap": self.at_same_gap,
        }
        answers = list(asked.values())
        return pd.DataFrame(
            {
                "question": list(asked),
                "difference": [np.nan if answer.value is None else answer.value for answer in answers],
                "low": [np.nan if answer.low is None else answer.low for answer in answers],
                "high": [np.nan if answer.high is None else answer.high for answer in answers],
                "status": [answer.status for answer in answers],
                "why": ["" if answer.value is not None else answer.method for answer in answers],
            }
        )

    def evidence_frame(self) -> pd.DataFrame:
        """Give the evidence by quarter, as `wearstats.analysis.methods.evidence.MethodEvidence.quarters` has it."""
        return self.evidence.quarters

    def chances_frame(self) -> pd.DataFrame:
        """Give ``sent`` (as-supplied, hand-fitted), ``chance`` (of as-supplied on such a shaft), ``weight``."""
        like = self.like_shafts
        if like is None or like.chance.size == 0 or bool(np.isnan(like.chance).any()):
            return pd.DataFrame({"sent": pd.Series(dtype="str"), "chance": [], "weight": []})
        sent = np.where(like.first, AS_SUPPLIED, HAND_FITTED)
        return pd.DataFrame({"sent": sent, "chance": like.chance, "weight": like.weight})

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        return methods_document(self)

    def of_methods(self, by: str) -> dict[str, GroupRisk]:
        """Give the groups of single methods that have fittings, by what was ``sent`` or ``done``."""
        return {name: group for name, group in self.groups[by].items() if name in METHODS and group.fittings}


@one_thread
def study_methods(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    horizon_months: float = 12.0,
    same_gap: SameGap | None = None,
    readings: WidthReadings | None = None,
    draws: NamedDraws,
) -> MethodsStudy:
    """Compare the methods.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str, optional
        Restriction to one pattern.
    horizon_months : float
        Month at which risks are compared.
    same_gap : SameGap, optional
        The comparison at the same gap, where the law of the chance against the gap has been fitted; else it is fitted.
    readings : WidthReadings, optional
        All readings, where they are there already.
    draws : NamedDraws
        For drawing shafts anew.

    Returns
    -------
    MethodsStudy

    Raises
    ------
    AnalysisError
        When no fitting is on record, none was sent in one of the two ways, or none is followed up to the horizon.
    """
    sample = sampled_shafts(store, as_of=as_of, pattern=pattern)
    shafts = None if sample is None else sample.names
    part = store_of(store, sample)
    histories = read_histories(part, as_of=as_of, pattern=pattern, shafts=shafts)
    require_fittings(histories, pattern)
    _require_both_ways(histories, horizon_months)
    same_gap = same_gap or _at_same_gap(store, as_of, pattern, horizon_months, draws)
    read = read_decisions(part, as_of=as_of, pattern=pattern, shafts=shafts, readings=readings)
    patterns = sorted(histories.ran["pattern"].dropna().unique().tolist())
    several = pattern is None and len(patterns) > 1

    def answer(part: Histories, name: str | None, inner: Mapping[str, MethodsStudy]) -> MethodsStudy:
        at_same_gap = None if inner is not by_pattern else same_gap
        return _answer(part, read, name, horizon_months, inner, at_same_gap, sample, draws=draws)

    by_pattern: dict[str, MethodsStudy] = {}
    if several:
        by_pattern.update({name: answer(of_pattern(histories, name), name, {}) for name in patterns})
    return answer(histories, pattern, by_pattern)


def _require_both_ways(histories: Histories, horizon_months: float) -> None:
    """Raise an AnalysisError where there is nothing to compare."""
    supplied = histories.ran["method_sent"].eq(AS_SUPPLIED)
    if supplied.all() or not supplied.any():
        only, other = (
            ("as supplied", "to be fitted by hand") if supplied.all() else ("to be fitted by hand", "as supplied")
        )
        raise AnalysisError(
            f"all hubs on record were sent {only}, none {other}, so that there is nothing to compare",
            needed=f"dispatches, fittings and follow_ups of hubs sent {other}",
        )
    longest = float(SilentHistories.from_frame(histories.ran).last_word.max())
    if longest < horizon_months:
        shorter = f"a shorter time, --horizon-months {math.floor(longest)}, or " if longest >= 1.0 else ""
        raise AnalysisError(
            f"how often hubs work loose within {horizon_months:g} months cannot be told: none was heard of later than "
            f"{longest:.1f} months after fitting",
            needed=f"{shorter}follow_ups",
        )


def _at_same_gap(
    store: Store, as_of: datetime.date, pattern: str | None, horizon_months: float, draws: NamedDraws
) -> SameGap | None:
    """Compare at the same gap; None where the law of the chance against the gap cannot be fitted."""
    try:
        law = gap_risk_of_store(store, as_of=as_of, pattern=pattern, horizon_months=horizon_months, draws=draws)
    except AnalysisError:
        return None
    return law.same_gap


def _answer(
    histories: Histories,
    read: pd.DataFrame | None,
    pattern: str | None,
    horizon_months: float,
    by_pattern: Mapping[str, MethodsStudy],
    same_gap: SameGap | None,
    sample: ShaftSample | None,
    *,
    draws: NamedDraws,
) -> MethodsStudy:
    ran = histories.ran
    told = SilentHistories.from_frame(ran)
    silence = fit_silence(told)
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
    none = no_estimate(NO_READINGS)
    # one on record only because it came back loose has no sound fellows beside it
    entered = enter_at_horizon(ran[ran["kind"].eq("fitting")], by=_BY["sent"], horizon_months=horizon_months)
    evidence = follow_evidence(entered, as_of=histories.as_of)
    return MethodsStudy(
        as_of=histories.as_of,
        pattern=pattern,
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
        same_gap=same_gap,
        e_value=none if like is None else e_value_of(like.ratio),
        evidence=evidence,
        more_fittings=more_fittings_needed(evidence, rng=draws.generator("futures")),
        more_fittings_once=none if like is None else more_fittings_once(like.difference, like.std_error, like.fittings),
        sent_taken_as_done=int((~ran["method_sent_known"].astype(bool)).sum()),
        changed=int(ran["method_sent"].ne(ran["method_done"]).sum()),
        would_not_go_on={
            name: int(never_on["method_sent"].eq(name).sum())
            for name in METHODS
            if never_on["method_sent"].eq(name).any()
        },
        by_pattern=by_pattern,
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
        return None, no_estimate(NO_READINGS)
    covariates = covariates_at_decision(ran, read.drop(columns="undersize_um"))
    if covariates.empty:
        return None, no_estimate(NO_READINGS)
    kept = early.copy()
    kept[early] = ran["fitting"].isin(covariates.index).to_numpy()
    histories, drawn = take_histories(told, kept), take_replicates(replicates, kept)
    supplied = ran.loc[ran["fitting"].isin(covariates.index), "method_sent"].eq(AS_SUPPLIED).to_numpy(dtype=bool)
    like = compare_like_shafts(histories, supplied, covariates, silence, drawn, months=horizon_months)
    sized = covariates.assign(undersize_um=read.loc[covariates.index, "undersize_um"].to_numpy(dtype=float))
    with_size = compare_like_shafts(histories, supplied, sized, silence, drawn, months=horizon_months)
    return like, with_size.difference
