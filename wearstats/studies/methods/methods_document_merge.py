"""The answer on the methods as the ``--json`` document has it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import no_estimate
from wearstats.analysis.methods.evidence import METHOD, MethodEvidence
from wearstats.analysis.methods.standardised_risk import LikeShafts
from wearstats.analysis.methods.tables import MethodTable
from wearstats.studies.loosening.study import group_to_dict

if TYPE_CHECKING:
    from wearstats.studies.methods.study import MethodsStudy


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
