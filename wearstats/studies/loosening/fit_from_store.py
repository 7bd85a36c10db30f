"""The law of working loose, fitted to the fittings on record and what was known of their gaps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.loosening.ignorability import with_choice_doubt
from wearstats.analysis.remark import Remark, refused, remark
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories, fit_silence
from wearstats.errors import AnalysisError
from wearstats.studies.gaps.known_gaps import KnownGaps, known_gaps
from wearstats.studies.inputs.histories import histories_of, require_fittings
from wearstats.studies.loosening.covariates import covariates_of, with_gaps
from wearstats.studies.loosening.remarks import LooseningStudyRemark
from wearstats.studies.loosening.risk_model import FEWEST_FAILURES, RiskModel
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part


@part(*EVERYTHING, kept=True)
def loosening_fit(snapshot: Snapshot) -> LooseningFit:
    """Fit the law to the fittings of the pattern that ran and whose gap is known.

    Raises
    ------
    AnalysisError
        When nothing ran, no gap is known, or none of those failed.
    """
    histories = histories_of(snapshot)
    require_fittings(histories, snapshot.pattern)
    gaps = known_gaps(snapshot)
    known, rows = require_gaps(histories.by_flanks, gaps)
    covariates, names = covariates_of(known)
    told = SilentHistories.from_frame(known)
    fit = fit_loosening(told, gaps.nodes["gap_left_um"].take(rows), covariates=covariates, names=names)
    if gaps.knowledge is None or gaps.without_choice is None:
        return fit
    without = fit_loosening(
        told,
        gaps.without_choice.take(rows),
        covariates=covariates,
        names=names,
        term=fit.term,
        start=fit.parameters,
    )
    return with_choice_doubt(fit, without, worth=gaps.knowledge.expected, variance=gaps.knowledge.variance)


@part("known_on", "models_from", "pattern", kept=True)
def reporting_fit(snapshot: Snapshot) -> SilenceFit:
    """Fit how failures of the pattern's hubs come to be known, whatever their gaps; errors as of `fit_silence`."""
    return fit_silence(SilentHistories.from_frame(histories_of(snapshot).by_flanks))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownLaw:
    """What is known of the gaps, and the law fitted to them, as far as there is either.

    Parameters
    ----------
    gaps : KnownGaps or None
        What was known of every fitting's gap on the day of choice.
    law : LooseningFit or None
        The law; None where nothing failed.
    why_not : Remark or None
        Why one of them is lacking.
    """

    gaps: KnownGaps | None
    law: LooseningFit | None
    why_not: Remark | None = None


def known_law(snapshot: Snapshot) -> KnownLaw:
    """Give what is known of gaps and law, and why one of them is lacking."""
    gaps = None
    try:
        require_fittings(histories_of(snapshot), snapshot.pattern)
        gaps = known_gaps(snapshot)
        return KnownLaw(gaps=gaps, law=loosening_fit(snapshot))
    except AnalysisError as error:
        return KnownLaw(gaps=gaps, law=None, why_not=refused(error))


def risk_model(snapshot: Snapshot) -> RiskModel:
    """Give the law of the fittings of all patterns, if it rests on failures enough."""
    known = known_law(snapshot.of(None))
    return RiskModel(law=None, why_not=known.why_not) if known.law is None else model_of(known.law)


def model_of(fit: LooseningFit) -> RiskModel:
    """Take a fitted law, if it rests on failures enough."""
    if fit.failures < FEWEST_FAILURES:
        why = remark(LooseningStudyRemark.FEW_FAILURES, failures=fit.failures, fewest=FEWEST_FAILURES)
        return RiskModel(law=None, why_not=why)
    followed = max(float(fit.data.last_word.max()), float(np.max(fit.data.right, initial=0.0)))
    law = fit.law.never_safer_wider()
    return RiskModel(law=law, largest_um=float(np.quantile(fit.gaps_um, 0.99)), followed_months=followed)


def require_gaps(ran: pd.DataFrame, gaps: KnownGaps) -> tuple[pd.DataFrame, np.ndarray[Any, np.dtype[np.int64]]]:
    """Keep the fittings whose gap is known, with their rows in `gaps`; AnalysisError where there are none."""
    known, rows = with_gaps(ran, gaps)
    if known.empty:
        raise AnalysisError(
            "of no fitting that ran is anything known of the gap",
            needed="readings of its shaft taken before the hub was sent",
        )
    return known, rows
