"""Look from all sides at the law of working loose against the gap: how far it can be trusted, and what it hangs on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.choice import PrivateKnowledge
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.estimates import slope_by_shafts
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.loosening.functional_form import FormAnswer, compare_forms
from wearstats.analysis.loosening.ignorability import ChoiceTest, check_choice
from wearstats.analysis.loosening.remarks import LooseningRemark
from wearstats.analysis.loosening.sensitivity import SilenceSensitivity, vary_silence
from wearstats.analysis.loosening.validation import HeldBack, calibrate, hold_back, law_beside_curve
from wearstats.analysis.remark import remark
from wearstats.analysis.survival.cluster_bootstrap import Replicates
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.frames import columns
from wearstats.studies.gaps.known_gaps import MEASURES, KnownGaps, known_gaps
from wearstats.studies.gaps.measured_again import inspections_beside
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.loosening.covariates import covariates_of, with_gaps
from wearstats.studies.loosening.fit_from_store import loosening_fit, reporting_fit
from wearstats.studies.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Senders:
    """What senders knew of the width beyond the readings in hand, and what that does to the slope.

    Parameters
    ----------
    measured_again : int
        Fittings it was learnt from.
    worth : Estimate
        Share of what the readings missed that senders knew, 0 to 1.
    nothing : float
        How likely it is that they knew nothing.
    used : bool
        Whether the sizes sent weigh the gaps of hubs on record.
    log_hazard_per_10um_without : float
        The slope if they do not.
    """

    measured_again: int
    worth: Estimate
    nothing: float
    used: bool
    log_hazard_per_10um_without: float

    @property
    def surely(self) -> bool:
        """Whether they surely knew something."""
        return self.used and self.worth.low is not None and self.worth.low > 0


def _senders(knowledge: PrivateKnowledge | None, fit: LooseningFit) -> Senders | None:
    if knowledge is None:
        return None
    low, high = (min(end, 1.0) for end in knowledge.ends())
    told = remark(LooseningRemark.SENDERS, shafts=knowledge.measured_again)
    return Senders(
        measured_again=knowledge.measured_again,
        worth=Estimate(value=min(knowledge.expected, 1.0), low=low, high=high, method=told),
        nothing=float(knowledge.share[0]),
        used=fit.choice is not None,
        log_hazard_per_10um_without=fit.slope if fit.choice is None else fit.choice.slope_without,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapChecked:
    """The law tried on shafts that it had not seen, and what its readings left out.

    Parameters
    ----------
    held_back : HeldBack or None
        What it predicted of these; None where failures are too few.
    senders : Senders or None
        What those who chose knew beyond the readings; None where too few shafts were measured again.
    """

    held_back: HeldBack | None
    senders: Senders | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapTrust(GapChecked):
    """How far the law can be trusted, from all sides.

    Parameters
    ----------
    by_shafts : Estimate
        The slope with an interval that does not trust the law.
    calibration : DataFrame
        As `wearstats.analysis.loosening.validation.calibrate` gives it.
    beside_curve : DataFrame
        ``months``, ``law``, ``curve``.
    sensitivity : SilenceSensitivity
        Answers under other meanings of silence.
    form : FormAnswer or None
        Line, threshold or curve.
    measures : dict of str to float
        Log likelihood with each measure of the gap in turn, less that with the mean gap.
    choice : ChoiceTest
        Whether the choice rested on the readings in hand.
    """

    by_shafts: Estimate
    calibration: Annotated[pd.DataFrame, columns(number="predicted happened low high", whole="group fittings failures")]
    beside_curve: Annotated[pd.DataFrame, columns(number="months law curve")]
    sensitivity: SilenceSensitivity
    form: FormAnswer | None
    measures: dict[str, float]
    choice: ChoiceTest

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        return {
            "log_hazard_per_10um_by_shafts": self.by_shafts,
            "held_back": self.held_back,
            "calibration": self.calibration,
            "form": self.form,
            "measures_log_likelihood": self.measures,
            "beside_curve": self.beside_curve,
            "silence": self.sensitivity.frame,
            "choice": self.choice,
            "senders": self.senders,
        }


def study_gap_checked(snapshot: Snapshot, *, horizon_months: float) -> GapChecked:
    """Try the law on shafts that it had not seen."""
    fit, gaps = loosening_fit(snapshot), known_gaps(snapshot)
    known, rows = with_gaps(histories_of(snapshot).by_flanks, gaps)
    covariates, _ = covariates_of(known)
    held_back = hold_back(
        SilentHistories.from_frame(known), gaps.nodes["gap_left_um"].take(rows), reporting_fit(snapshot),
        covariates=covariates, months=horizon_months, rng=snapshot.draws.generator("held back"),
    )  # fmt: skip
    return GapChecked(held_back=held_back, senders=_senders(gaps.knowledge, fit))


def study_gap_trust(
    snapshot: Snapshot, replicates: Replicates, *, months: np.ndarray[Any, np.dtype[np.float64]], horizon_months: float
) -> GapTrust:
    """Look at the law from all sides.

    Parameters
    ----------
    replicates : Replicates
        Shafts drawn anew, of all fittings that ran.
    months : ndarray
        Grid of the curves.
    horizon_months : float
        Horizon, one of `months`.

    Returns
    -------
    GapTrust
    """
    fit, silence, gaps, draws = loosening_fit(snapshot), reporting_fit(snapshot), known_gaps(snapshot), snapshot.draws
    ran = histories_of(snapshot).by_flanks
    known, rows = with_gaps(ran, gaps)
    there = ran["fitting"].isin(known["fitting"]).to_numpy(dtype=bool)
    histories = SilentHistories.from_frame(known)
    covariates, _ = covariates_of(known)
    nodes = {measure: gaps.nodes[measure].take(rows) for measure in MEASURES}
    mean = nodes["gap_left_um"]
    some = Replicates(weight=replicates.weight[:, there], chance=replicates.chance)
    groups = int(np.clip(fit.failures // 5, 2, 10))
    checked = study_gap_checked(snapshot, horizon_months=horizon_months)
    likelihood = {measure: _likelihood_with(histories, nodes[measure], covariates) for measure in MEASURES}
    return GapTrust(
        by_shafts=slope_by_shafts(fit),
        held_back=checked.held_back,
        senders=checked.senders,
        calibration=calibrate(fit, histories, silence, some, months=months, horizon=horizon_months, groups=groups),
        beside_curve=law_beside_curve(fit, silence, months[months <= histories.last_word.max()]),
        sensitivity=vary_silence(fit, months=horizon_months),
        form=compare_forms(histories, mean, fit, covariates=covariates, rng=draws.generator("multipliers")),
        measures={name: value - likelihood["gap_left_um"] for name, value in likelihood.items()},
        choice=_choice(known, gaps, inspections_beside(snapshot)),
    )


def _likelihood_with(
    histories: SilentHistories, nodes: GapNodes, covariates: np.ndarray[Any, np.dtype[np.float64]]
) -> float:
    """Log likelihood with one measure, brought to the same scale, so that the penalty weighs all alike."""
    mean = nodes.mean_um
    centre, scale = float(mean.mean()), float(mean.std()) or 1.0

    def term(value: np.ndarray[Any, np.dtype[np.float64]]) -> np.ndarray[Any, np.dtype[np.float64]]:
        return np.asarray((value - centre)[..., None] / scale)

    return fit_loosening(histories, nodes, covariates=covariates, term=term).log_likelihood


def _choice(known: pd.DataFrame, gaps: KnownGaps, others: pd.DataFrame) -> ChoiceTest:
    frame = gaps.frame.merge(others, on="fitting").merge(known[["fitting", "method_sent", "period"]], on="fitting")
    grouped = pd.get_dummies(frame[["pattern", "method_sent", "period"]].astype(str), drop_first=True)
    return check_choice(
        frame["undersize_um"].to_numpy(dtype=float),
        frame["below_new_um"].to_numpy(dtype=float),
        frame["other_um"].to_numpy(dtype=float),
        grouped.to_numpy(dtype=float),
    )
