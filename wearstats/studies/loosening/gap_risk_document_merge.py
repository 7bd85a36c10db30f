"""The answer on the gap as the ``--json`` document has it."""

from __future__ import annotations

from typing import Any

from wearstats.studies.loosening.gap_risk import GapRisk
from wearstats.studies.loosening.validation import GapTrust


def gap_risk_to_dict(answer: GapRisk) -> dict[str, Any]:
    """Give what the document holds beside the keys of the contract."""
    same = answer.same_gap
    return {
        "fittings": answer.fittings,
        "failures": answer.failures,
        "without_gap": answer.without_gap,
        "assumed_share": answer.assumed_share,
        "effects": {name: estimate.to_dict() for name, estimate in answer.effects.items()},
        "notes_used": [{"note": used.name, "notes": used.notes} for used in answer.indicators],
        "curve": answer.curve.to_dict("records"),
        "same_gap": None
        if same is None
        else {
            "difference": same.difference.to_dict(),
            "whole_difference": same.whole_difference.to_dict(),
            "through_gap": same.through_gap.to_dict(),
            "fittings": same.fittings,
        },
        "trust": None if answer.trust is None else _trust_to_dict(answer.trust),
    }


def _trust_to_dict(trust: GapTrust) -> dict[str, Any]:
    held, form, choice = trust.held_back, trust.form, trust.choice
    calibration = trust.calibration.astype(object)
    return {
        "log_hazard_per_10um_by_shafts": trust.by_shafts.to_dict(),
        "held_back": None
        if held is None
        else {
            "log_score_gain": held.log_score_gain.to_dict(),
            "brier": held.brier,
            "brier_without_gap": held.brier_without,
            "concordance": held.concordance,
            "concordance_without_gap": held.concordance_without,
            "groups": held.folds,
        },
        "calibration": calibration.where(calibration.notna(), None).to_dict("records"),
        "form": None
        if form is None
        else {
            "threshold_um": form.threshold_um,
            "threshold_gain": form.threshold_gain,
            "threshold_p": form.threshold_p,
            "curve_p": form.curve_p,
            "straight": form.straight,
        },
        "measures_log_likelihood": trust.measures,
        "beside_curve": trust.beside_curve.to_dict("records"),
        "silence": trust.sensitivity.frame.to_dict("records"),
        "choice": {
            "shafts": choice.shafts,
            "undersize_per_um": choice.undersize_per_um.to_dict(),
            "p_value": choice.p_value,
            "ignorable": choice.ignorable,
        },
    }
