"""Work out what all shafts together say, for the advice on one."""

from __future__ import annotations

import datetime

from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.numerics.one_thread import one_thread
from wearstats.store.database.connection import Store
from wearstats.studies.gaps.filing_pace import study_filing_pace
from wearstats.studies.inputs.width_fit import FittedWidths, fit_fleet
from wearstats.studies.loosening.fit_from_store import fit_risk_model
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.shaft.background import ShaftBackground


@one_thread
def make_background(
    store: Store,
    *,
    as_of: datetime.date,
    draws: NamedDraws,
    fitted: FittedWidths | None = None,
    risk_model: RiskModel | None = None,
) -> ShaftBackground:
    """Work it out.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    draws : NamedDraws
        For the gaps on record.
    fitted : FittedWidths, optional
        The width model of all shafts, where it was fitted already.
    risk_model : RiskModel, optional
        The law of working loose, where it was fitted already.

    Returns
    -------
    ShaftBackground

    Raises
    ------
    AnalysisError
        With no reading.
    """
    fitted = fit_fleet(store, as_of=as_of, intervals=False) if fitted is None else fitted
    pace = study_filing_pace(store, fitted.readings, fitted.fit, as_of=as_of)
    return ShaftBackground(
        fit=fitted.fit,
        minutes_per_um=pace.minutes_per_um,
        pace_assumed=pace.assumed,
        risk=risk_model or fit_risk_model(store, as_of=as_of, fitted=fitted, draws=draws),
    )
