"""The width model fitted to what is on record: asked for once, answered from by every question about widths."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from wearstats.analysis.width_data import WidthData
from wearstats.analysis.width_fit import WidthFit
from wearstats.analysis.widths import fit_widths
from wearstats.store.connection import Store
from wearstats.studies.width_readings import WidthReadings, read_widths


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittedWidths:
    """The readings and the model.

    Parameters
    ----------
    readings : WidthReadings
        All that were known.
    data : WidthData
        One unit of every shaft: what was fitted.
    fit : WidthFit
        The fitted model.
    """

    readings: WidthReadings
    data: WidthData
    fit: WidthFit


def fit_fleet(store: Store, *, as_of: datetime.date, pattern: str | None = None) -> FittedWidths:
    """Read and fit.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.

    Returns
    -------
    FittedWidths

    Raises
    ------
    AnalysisError
        With no reading.
    """
    readings = read_widths(store, as_of=as_of, pattern=pattern)
    data = readings.one_unit_a_shaft()
    return FittedWidths(readings=readings, data=data, fit=fit_widths(data))
