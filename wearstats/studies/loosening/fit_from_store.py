"""The chance of working loose against the gap, straight from the store, for questions that only need the law."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.analysis.loosening.fit import LooseningFit
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store
from wearstats.studies.gaps.known_gaps import KnownGaps, study_gaps
from wearstats.studies.inputs.histories import read_histories
from wearstats.studies.inputs.sampling import sampled_shafts, store_of
from wearstats.studies.inputs.width_fit import FittedWidths, fit_fleet
from wearstats.studies.inputs.widths import read_widths
from wearstats.studies.loosening.gap_risk import GapRisk, fit_law, study_gap_risk
from wearstats.studies.loosening.risk_model import FEWEST_FAILURES, RiskModel


def gap_risk_of_store(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    horizon_months: float = 12.0,
    risk_limit: float = 0.05,
    fitted: FittedWidths | None = None,
    draws: NamedDraws,
) -> GapRisk:
    """Fit the law to all fittings on record, as the question of loosening does.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    horizon_months, risk_limit : float
        How far ahead, and the chance by then that is still accepted.
    fitted : FittedWidths, optional
        The width model of the same shafts, where it has been fitted already.
    draws : NamedDraws
        For the gaps.

    Returns
    -------
    GapRisk

    Raises
    ------
    AnalysisError
        When nothing ran, no gap is known, or none of those failed.
    """
    ran, gaps = _gaps_of_store(store, as_of=as_of, pattern=pattern, fitted=fitted, draws=draws)
    silence = fit_silence(SilentHistories.from_frame(ran))
    return study_gap_risk(ran, gaps, silence, horizon_months=horizon_months, risk_limit=risk_limit)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownLaw:
    """What is known of the gaps, and the law fitted to them, as far as there is either.

    Parameters
    ----------
    gaps : KnownGaps or None
        What was known of every fitting's gap on the day of choice.
    law : LooseningFit or None
        The law; None where nothing failed.
    why_not : str
        Why one of them is lacking.
    """

    gaps: KnownGaps | None
    law: LooseningFit | None
    why_not: str = ""


def law_of_store(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    fitted: FittedWidths | None = None,
    draws: NamedDraws,
) -> KnownLaw:
    """Fit no more than the law, as far as the store can tell it; arguments as of `gap_risk_of_store`."""
    try:
        ran, gaps = _gaps_of_store(store, as_of=as_of, pattern=pattern, fitted=fitted, draws=draws)
    except AnalysisError as error:
        return KnownLaw(gaps=None, law=None, why_not=str(error))
    try:
        return KnownLaw(gaps=gaps, law=fit_law(ran, gaps))
    except AnalysisError as error:
        return KnownLaw(gaps=gaps, law=None, why_not=str(error))


def _gaps_of_store(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None,
    fitted: FittedWidths | None,
    draws: NamedDraws,
) -> tuple[pd.DataFrame, KnownGaps]:
    """Read the fittings that ran, of a sample of shafts where they are very many, and what was known of their gaps."""
    sample = sampled_shafts(store, as_of=as_of, pattern=pattern)
    names = None if sample is None else sample.names
    part = store_of(store, sample)
    ran = read_histories(part, as_of=as_of, pattern=pattern, shafts=names).ran
    if ran.empty:
        raise AnalysisError("no fitting is on record", needed="add the tables fittings and follow_ups")
    widths = fitted or fit_fleet(store, as_of=as_of, pattern=pattern, intervals=False)
    readings = widths.readings
    if sample is not None or readings.of_shafts is not None:
        shafts = ran["shaft"].dropna().unique().tolist()
        readings = read_widths(part, as_of=as_of, pattern=pattern, shafts=shafts)
    return ran, study_gaps(
        part, as_of=as_of, pattern=pattern, readings=readings, fit=widths.fit, shafts=names, draws=draws
    )


def fit_risk_model(store: Store, *, as_of: datetime.date, fitted: FittedWidths, draws: NamedDraws) -> RiskModel:
    """Fit the law to all fittings on record.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    fitted : FittedWidths
        The width model of all shafts.
    draws : NamedDraws
        For the gaps.

    Returns
    -------
    RiskModel
    """
    return risk_model_of(law_of_store(store, as_of=as_of, fitted=fitted, draws=draws))


def risk_model_of(known: KnownLaw) -> RiskModel:
    """Take what is known of the law of all fittings, if it rests on failures enough."""
    return RiskModel(law=None, why_not=known.why_not) if known.law is None else model_of(known.law)


def model_of(fit: LooseningFit) -> RiskModel:
    """Take a fitted law, if it rests on failures enough."""
    if fit.failures < FEWEST_FAILURES:
        why = f"only {fit.failures} failures with a known gap are on record; {FEWEST_FAILURES} are needed"
        return RiskModel(law=None, why_not=why)
    followed = max(float(fit.data.last_word.max()), float(np.max(fit.data.right, initial=0.0)))
    return RiskModel(law=fit.law, largest_um=float(np.quantile(fit.gaps_um, 0.99)), followed_months=followed)
