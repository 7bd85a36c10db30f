"""Why a hub is at risk: its gap beside those of all others, how long it runs, and whether there was word of it."""

from __future__ import annotations

import datetime

import pandas as pd

from wearstats.domain.units import MEAN_MONTH_DAYS

_WIDE_SHARE = 0.75
_SILENT_MONTHS = 6.0


def reasons(running: pd.DataFrame, *, as_of: datetime.date) -> pd.Series[str]:
    """Give the reason for the chance of every hub in use.

    Parameters
    ----------
    running : DataFrame
        Of `ForecastStudy.running`: ``gap_left_um``, ``fitted_on``, ``last_word_on``.
    as_of : datetime.date
        The day asked about.

    Returns
    -------
    Series of str
        In the order of the frame: ``gap wider than of 97 in 100; runs 30 months; never heard of since``.
    """
    day = pd.Timestamp(as_of)
    below = 100 * (running["gap_left_um"].rank(method="min") - 1) / max(int(running["gap_left_um"].count()), 1)
    gap = "gap wider than of " + below.fillna(0.0).round().astype(int).astype(str) + " in 100"
    gap = gap.where(below >= 100 * _WIDE_SHARE, "no wide gap")
    gap = gap.where(running["gap_left_um"].notna(), "gap not known, taken as those of all others")
    months = (day - running["fitted_on"]).dt.days / MEAN_MONTH_DAYS
    silent = (day - running["last_word_on"]).dt.days / MEAN_MONTH_DAYS
    runs = "; runs " + months.round().astype(int).astype(str) + " months"
    word = ("; no word for " + silent.round().astype(int).astype(str) + " months").where(silent >= _SILENT_MONTHS, "")
    never = (running["last_word_on"] <= running["fitted_on"]) & (silent >= _SILENT_MONTHS)
    told: pd.Series[str] = gap + runs + word.where(~never, "; never heard of since")
    return told
