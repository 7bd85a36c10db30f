"""The chance of working loose against the gap, straight from the store, for questions that only need the law."""

from __future__ import annotations

import datetime

import numpy as np

from wearstats.analysis.silence import SilentHistories, fit_silence
from wearstats.errors import AnalysisError
from wearstats.store.connection import Store
from wearstats.studies.fitted_widths import FittedWidths, fit_fleet
from wearstats.studies.fitting_histories import read_histories
from wearstats.studies.gap_risk import GapRisk, study_gap_risk
from wearstats.studies.gaps import study_gaps
from wearstats.studies.sampled_fittings import sample_fittings
from wearstats.studies.width_readings import read_widths


def gap_risk_of_store(
    store: Store,
    *,
    as_of: datetime.date,
    pattern: str | None = None,
    horizon_months: float = 12.0,
    risk_limit: float = 0.05,
    fitted: FittedWidths | None = None,
    rng: np.random.Generator,
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
    rng : Generator
        For the gaps; fresh from the seed, it gives what the question of loosening gives.

    Returns
    -------
    GapRisk

    Raises
    ------
    AnalysisError
        When nothing ran, no gap is known, or none of those failed.
    """
    histories, sampled = sample_fittings(read_histories(store, as_of=as_of, pattern=pattern))
    ran = histories.ran
    if ran.empty:
        raise AnalysisError("no fitting is on record", needed="add the tables fittings and follow_ups")
    widths = fitted or fit_fleet(store, as_of=as_of, pattern=pattern, intervals=False)
    readings = widths.readings
    if sampled is not None or readings.of_shafts is not None:
        shafts = ran["shaft"].dropna().unique().tolist()
        readings = read_widths(store, as_of=as_of, pattern=pattern, shafts=shafts)
    gaps = study_gaps(store, as_of=as_of, pattern=pattern, readings=readings, fit=widths.fit, rng=rng)
    silence = fit_silence(SilentHistories.from_frame(ran))
    return study_gap_risk(ran, gaps, silence, horizon_months=horizon_months, risk_limit=risk_limit)
