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
from wearstats.analysis.methods.evidence import MethodEvidence
from wearstats.analysis.methods.remarks import MethodsRemark
from wearstats.analysis.methods.standardised_risk import LikeShafts
from wearstats.analysis.methods.tables import AS_SUPPLIED, HAND_FITTED, MethodTable
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.survival.group_risks import GroupRisk
from wearstats.domain.tables import METHODS
from wearstats.studies.counts.left_out import LeftOut
from wearstats.studies.loosening.study import group_to_dict
from wearstats.studies.methods.held_otherwise import HeldOtherwise
from wearstats.studies.methods.remarks import MethodsStudyRemark
from wearstats.studies.methods.verdict import judge_methods, next_of_methods

NO_READINGS = no_estimate(remark(MethodsStudyRemark.NO_READINGS))
_NO_GAP_LAW = no_estimate(remark(MethodsStudyRemark.NO_GAP_LAW))
_BY = {"sent": "method_sent", "done": "method_done"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethodsStudy:
    """The methods compared: as they were used, on the same shafts, inside strata, and at every look.

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
    left_out : LeftOut
        Records that are in no comparison.
    held_otherwise : tuple of HeldOtherwise
        Hubs held by a compound, a shim or a sleeve, which are in no other comparison.
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
    left_out: LeftOut
    held_otherwise: tuple[HeldOtherwise, ...]
    sampled_shafts: int | None = None

    @property
    def same_shafts(self) -> Estimate:
        """Difference on the same shafts, as supplied minus fitted by hand, by what was sent."""
        return NO_READINGS if self.like_shafts is None else self.like_shafts.difference

    @property
    def at_same_gap(self) -> Estimate:
        """Difference at the same gap."""
        return _NO_GAP_LAW if self.same_gap is None else self.same_gap.difference

    @property
    def strict(self) -> Estimate:
        """What is not ruled out, looked at every quarter."""
        evidence = self.evidence
        return Estimate(value=None, low=evidence.low, high=evidence.high, level=evidence.level, status="bounded")

    @property
    def verdict(self) -> Remark:
        """Whether hubs as supplied fail more."""
        return judge_methods(
            like_shafts=self.same_shafts,
            as_sent=self.differences["sent"],
            strict=self.strict,
            horizon_months=self.horizon_months,
        )

    @property
    def next_step(self) -> Remark:
        """What to do about it."""
        return next_of_methods(self.verdict, same_gap=self.at_same_gap)

    def methods_frame(self) -> pd.DataFrame:
        """Give ``by``, ``method``, ``fittings``, ``failures``, ``hub_months``, ``risk``, ``low``, ``high``."""
        rows = [
            {
                "by": by,
                "method": group.group,
                "fittings": group.fittings,
                "failures": group.failures,
                "hub_months": group.hub_months,
                **_ends(group.risk(self.horizon_months), "risk"),
            }
            for by in _BY
            for group in self.of_methods(by).values()
        ]
        return pd.DataFrame(rows)

    def table_frame(self) -> pd.DataFrame:
        """Give ``by``, ``group``, ``failed``, ``tight``: fittings whose outcome at the horizon is known."""
        rows = [
            (by, group, *counts)
            for by in _BY
            for group, counts in zip((AS_SUPPLIED, HAND_FITTED), self.tables[by].table.to_rows(), strict=True)
        ]
        return pd.DataFrame(rows, columns=["by", "group", "failed", "tight"])

    def differences_frame(self) -> pd.DataFrame:
        """Give ``question``, ``difference``, ``low``, ``high``, ``status``, ``why``: all comparisons.

        The questions are ``crude``, ``as_done``, ``table``, ``same_season`` (Mantel-Haenszel), ``same_shafts``,
        ``same_gap``; a comparison that these data cannot make has no number, and ``why`` remarks why.
        """
        asked = {
            "crude": self.differences["sent"],
            "as_done": self.differences["done"],
            "table": self.tables["sent"].difference,
            "same_season": self.tables["sent"].stratified.difference,
            "same_shafts": self.same_shafts,
            "same_gap": self.at_same_gap,
        }
        return pd.DataFrame(
            [
                {
                    "question": question,
                    **_ends(told, "difference"),
                    "status": told.status,
                    "why": "" if told.value is not None else told.method,
                }
                for question, told in asked.items()
            ]
        )

    def evidence_frame(self) -> pd.DataFrame:
        """Give the evidence by quarter, as `wearstats.analysis.methods.evidence.MethodEvidence.quarters` has it."""
        return self.evidence.quarters

    def chances_frame(self) -> pd.DataFrame:
        """Give ``sent`` (as-supplied, hand-fitted), ``chance`` (of as-supplied on such a shaft), ``weight``."""
        like = self.like_shafts
        if like is None or not _weighed(like):
            return pd.DataFrame({"sent": pd.Series(dtype="str"), "chance": [], "weight": []})
        sent = np.where(like.first, AS_SUPPLIED, HAND_FITTED)
        return pd.DataFrame({"sent": sent, "chance": like.chance, "weight": like.weight})

    def of_methods(self, by: str) -> dict[str, GroupRisk]:
        """Give the groups of single methods that have fittings, by what was ``sent`` or ``done``."""
        return {name: group for name, group in self.groups[by].items() if name in METHODS and group.fittings}

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        sent, done = (
            {name: group_to_dict(group, self.horizon_months) for name, group in self.of_methods(by).items()}
            for by in _BY
        )
        left_out = {"without_readings": self.without_readings, "known_late": self.known_late}
        return {
            "pattern": self.pattern,
            "horizon_months": self.horizon_months,
            "verdict": self.verdict,
            "next_step": self.next_step,
            "fittings": sum(group["fittings"] for group in sent.values()),
            "by_method": sent,
            "by_method_done": done,
            "risk_difference": {
                "crude": self.differences["sent"],
                "same_shafts": self.same_shafts,
                "same_gap": self.at_same_gap,
                "as_done": self.differences["done"],
                "same_hub": self.same_hub,
            },
            "through_gap": _NO_GAP_LAW if self.same_gap is None else self.same_gap.through_gap,
            "same_shafts": None if self.like_shafts is None else _like_shafts(self.like_shafts) | left_out,
            "table": _table(self.tables["sent"]),
            "table_done": _table(self.tables["done"]),
            "e_value": self.e_value,
            "evidence": _evidence(self.evidence),
            "more_fittings_needed": self.more_fittings,
            "more_fittings_looked_at_once": self.more_fittings_once,
            "sent_taken_as_done": self.sent_taken_as_done,
            "changed": self.changed,
            "would_not_go_on": self.would_not_go_on,
            "left_out": self.left_out,
            "held_otherwise": self.held_otherwise,
            **({} if self.sampled_shafts is None else {"sampled_shafts": self.sampled_shafts}),
            **({"by_pattern": self.by_pattern} if self.by_pattern else {}),
        }


def _ends(told: Estimate, name: str) -> dict[str, float]:
    """Give value and ends of an estimate as a frame has them."""
    found = {name: told.value, "low": told.low, "high": told.high}
    return {key: np.nan if number is None else number for key, number in found.items()}


def _weighed(like: LikeShafts) -> bool:
    return like.chance.size > 0 and bool(np.isfinite(like.chance).all())


def _like_shafts(like: LikeShafts) -> dict[str, Any]:
    """Give the comparison on the same shafts with its weights and overlap."""
    groups = {"as_supplied": like.first, "hand_fitted": ~like.first}
    weights = {
        name: {
            "fittings": group.sum(),
            "smallest": like.weight[group].min(),
            "largest": like.weight[group].max(),
            "effective_number": number,
        }
        for (name, group), number in zip(groups.items(), like.effective, strict=True)
        if group.any()
    }
    return {
        "fittings": like.fittings,
        "as_supplied": like.first_risk,
        "hand_fitted": like.second_risk,
        "difference": like.difference,
        "ratio": like.ratio,
        "by_weights_alone": like.weighted_difference,
        "by_outcome_lines_alone": like.line_difference,
        "weights": weights if _weighed(like) else None,
        "balance": like.balance,
    }


def _table(table: MethodTable) -> dict[str, Any]:
    """Give a table and its tests."""
    (supplied, by_hand), pooled = table.table.to_rows(), table.stratified
    return {
        "as_supplied": {"failed": supplied[0], "tight": supplied[1]},
        "hand_fitted": {"failed": by_hand[0], "tight": by_hand[1]},
        "left_out": table.left_out,
        "difference": table.difference,
        "fisher": table.fisher,
        "mantel_haenszel": {
            "by": table.strata,
            "strata": pooled.strata,
            "fittings": pooled.fittings,
            "odds_ratio": pooled.odds_ratio,
            "risk_difference": pooled.difference,
            "p": pooled.p_value,
            "homogeneity_p": pooled.homogeneity_p,
        },
    }


def _evidence(evidence: MethodEvidence) -> dict[str, Any]:
    """Give the evidence valid at every look, and how it came about."""
    quarters = evidence.quarters
    return {
        "low": evidence.low,
        "high": evidence.high,
        "settled": evidence.settled,
        "since": evidence.since,
        "contradicts": evidence.contradicts,
        "level": evidence.level,
        "method": remark(MethodsRemark.EVIDENCE),
        "by_quarter": quarters if quarters.empty else quarters.assign(known_on=quarters["known_on"].dt.date),
    }
