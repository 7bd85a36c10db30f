"""The answer on fit methods: as they were used, on the same shafts, inside strata, and at every look."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.loosening.mediation import SameGap
from wearstats.analysis.methods.evidence import METHOD, MethodEvidence
from wearstats.analysis.methods.standardised_risk import (
    LikeShafts,
)
from wearstats.analysis.methods.tables import AS_SUPPLIED, HAND_FITTED, MethodTable
from wearstats.analysis.survival.group_risks import GroupRisk
from wearstats.domain.tables import METHODS
from wearstats.studies.loosening.study import group_to_dict

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


def methods_document(study: MethodsStudy) -> dict[str, Any]:
    """Give all that the document holds."""
    no_gap = no_estimate(study.at_same_gap.method)
    document: dict[str, Any] = {
        "pattern": study.pattern,
        "horizon_months": study.horizon_months,
        "fittings": sum(group.fittings for group in study.of_methods("sent").values()),
        "by_method": _by_method(study, "sent"),
        "by_method_done": _by_method(study, "done"),
        "risk_difference": {
            "crude": study.differences["sent"].to_dict(),
            "same_shafts": study.same_shafts.to_dict(),
            "same_gap": study.at_same_gap.to_dict(),
            "as_done": study.differences["done"].to_dict(),
            "same_hub": study.same_hub.to_dict(),
        },
        "through_gap": (no_gap if study.same_gap is None else study.same_gap.through_gap).to_dict(),
        "same_shafts": None
        if study.like_shafts is None
        else like_shafts_to_dict(study.like_shafts)
        | {"without_readings": study.without_readings, "known_late": study.known_late},
        "table": table_to_dict(study.tables["sent"]),
        "table_done": table_to_dict(study.tables["done"]),
        "e_value": study.e_value.to_dict(),
        "evidence": evidence_to_dict(study.evidence),
        "more_fittings_needed": study.more_fittings.to_dict(),
        "more_fittings_looked_at_once": study.more_fittings_once.to_dict(),
        "sent_taken_as_done": study.sent_taken_as_done,
        "changed": study.changed,
        "would_not_go_on": study.would_not_go_on,
    }
    if study.sampled_shafts is not None:
        document["sampled_shafts"] = study.sampled_shafts
    if study.by_pattern:
        document["by_pattern"] = {name: inner.to_dict() for name, inner in study.by_pattern.items()}
    return document


def like_shafts_to_dict(like: LikeShafts) -> dict[str, Any]:
    """Give the comparison on the same shafts with its weights and overlap."""
    told = bool(np.isfinite(like.chance).all()) and like.chance.size > 0
    groups = {"as_supplied": like.first, "hand_fitted": ~like.first}
    return {
        "fittings": like.fittings,
        "as_supplied": like.first_risk.to_dict(),
        "hand_fitted": like.second_risk.to_dict(),
        "difference": like.difference.to_dict(),
        "ratio": like.ratio.to_dict(),
        "by_weights_alone": like.weighted_difference.to_dict(),
        "by_outcome_lines_alone": like.line_difference.to_dict(),
        "weights": {
            name: {
                "fittings": int(group.sum()),
                "smallest": float(like.weight[group].min()),
                "largest": float(like.weight[group].max()),
                "effective_number": number,
            }
            for (name, group), number in zip(groups.items(), like.effective, strict=True)
            if group.any()
        }
        if told
        else None,
        "balance": like.balance.to_dict("records"),
    }


def table_to_dict(table: MethodTable) -> dict[str, Any]:
    """Give a table and its tests."""
    counts = table.table
    fisher = table.fisher
    pooled = table.stratified
    return {
        "as_supplied": {"failed": counts.first_failed, "tight": counts.first_tight},
        "hand_fitted": {"failed": counts.second_failed, "tight": counts.second_tight},
        "left_out": table.left_out,
        "difference": table.difference.to_dict(),
        "fisher": None
        if fisher is None
        else {
            "p_two_sided": fisher.p_two_sided,
            "p_greater": fisher.p_greater,
            "mid_p_two_sided": fisher.mid_p_two_sided,
            "mid_p_greater": fisher.mid_p_greater,
            "odds_ratio": fisher.odds_ratio.to_dict(),
        },
        "mantel_haenszel": {
            "by": list(table.strata),
            "strata": pooled.strata,
            "fittings": pooled.fittings,
            "odds_ratio": pooled.odds_ratio.to_dict(),
            "risk_difference": pooled.difference.to_dict(),
            "p": pooled.p_value,
            "homogeneity_p": pooled.homogeneity_p,
        },
    }


def evidence_to_dict(evidence: MethodEvidence) -> dict[str, Any]:
    """Give the evidence valid at every look, and how it came about."""
    quarters = evidence.quarters.copy()
    if len(quarters):
        quarters["known_on"] = quarters["known_on"].dt.date.astype("str")
    objects: pd.DataFrame = quarters.astype(object)
    return {
        "low": evidence.low,
        "high": evidence.high,
        "settled": evidence.settled,
        "since": None if evidence.since is None else evidence.since.isoformat(),
        "contradicts": evidence.contradicts,
        "level": evidence.level,
        "method": METHOD,
        "by_quarter": objects.where(objects.notna(), None).to_dict("records"),
    }


def _by_method(study: MethodsStudy, by: str) -> dict[str, Any]:
    return {name: group_to_dict(group, study.horizon_months) for name, group in study.of_methods(by).items()}
