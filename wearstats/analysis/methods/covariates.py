"""What was read of a shaft when its hub was chosen, as it stood then and taken at its word.

The choice between methods was made on these numbers, so these are what fittings must be alike in; a map cleaned of
error later, or a reading taken later, was not known to whoever chose.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from wearstats.analysis.widths.data import PatternShape
from wearstats.domain.contact import way_in

READ_COLUMNS = ("mean_um", "tightest_um", "hollow_um", "uneven_um")


def read_at_decision(
    inspections: pd.DataFrame, moments: pd.DataFrame, shapes: Mapping[str, PatternShape]
) -> pd.DataFrame:
    """Summarise the readings in hand for each fitting.

    Parameters
    ----------
    inspections : DataFrame
        One row an inspection in hand: ``unit`` (the fitting), ``inspection``, ``pattern``, ``measured_at``,
        ``hubs_before``.
    moments : DataFrame
        One row an inspection and place: ``inspection``, ``spline`` (from 1), ``station`` (from 0, the shoulder),
        ``mean_um`` (width from the new one).
    shapes : mapping of str to PatternShape
        By pattern.

    Returns
    -------
    DataFrame
        Indexed by fitting: ``mean_um`` (mean width below new), ``tightest_um`` (how much wider than the mean the widest
        place is, which decides whether a hub goes on), ``hollow_um`` (mean gap that no hub cures), ``uneven_um``
        (standard deviation of the splines' means), ``workshop`` (whether the workshop measured), ``later_hub`` (whether
        a hub had run before). Several inspections in hand count alike: splines need not be numbered alike in them.
    """
    parts = []
    for name, group in inspections.groupby("pattern"):
        parts.append(_read(group, moments, shapes[str(name)]))
    read = pd.concat(parts)
    told = inspections.assign(
        workshop=inspections["measured_at"].eq("workshop"), later_hub=inspections["hubs_before"].gt(0)
    ).merge(read, left_on="inspection", right_index=True)
    by_unit = told.groupby("unit")
    summary = by_unit[list(READ_COLUMNS)].mean()
    return summary.join(by_unit[["workshop", "later_hub"]].max().astype(float))


def _read(inspections: pd.DataFrame, moments: pd.DataFrame, shape: PatternShape) -> pd.DataFrame:
    names = np.sort(inspections["inspection"].to_numpy(dtype=str))
    rows = moments[moments["inspection"].isin(names)]
    maps = np.full((names.size, shape.splines, len(shape.stations)), np.nan)
    at = np.searchsorted(names, rows["inspection"].to_numpy(dtype=str))
    maps[at, rows["spline"].to_numpy() - 1, rows["station"].to_numpy()] = rows["mean_um"].to_numpy(dtype=float)
    there = np.isfinite(maps).any(axis=(1, 2))
    names, maps = names[there], maps[there]
    mean = np.nanmean(maps, axis=(1, 2))
    # a place not read lets pass whatever passed it before, and has no gap of its own
    passed = way_in(np.where(np.isnan(maps), -np.inf, maps))
    splines = np.ma.masked_invalid(maps).mean(axis=2)
    return pd.DataFrame(
        {
            "mean_um": -mean,
            "tightest_um": np.nanmax(maps, axis=(1, 2)) - mean,
            "hollow_um": np.nanmean(passed - maps, axis=(1, 2)),
            "uneven_um": np.ma.filled(splines.std(axis=1), 0.0),
        },
        index=pd.Index(names, name="inspection"),
    )


def covariates_at_decision(ran: pd.DataFrame, read: pd.DataFrame) -> pd.DataFrame:
    """Put together what fittings must be alike in: readings, half-year, duty, pattern.

    Parameters
    ----------
    ran : DataFrame
        Fittings as `wearstats.analysis.histories.build.Histories.ran` gives them.
    read : DataFrame
        As `read_at_decision` gives it.

    Returns
    -------
    DataFrame
        In the order of `ran`, indexed by fitting, rows with readings in hand only. Groups are marks of 0 and 1, the
        commonest of each left out; what does not vary is left out.
    """
    told = ran[ran["fitting"].isin(read.index)]
    parts = [read.loc[told["fitting"]].reset_index(drop=True)]
    for column in ("period", "duty", "pattern"):
        marks = pd.get_dummies(told[column].astype("str").fillna("not said").reset_index(drop=True), dtype=float)
        if marks.shape[1] > 1:
            marks = marks.drop(columns=marks.sum().idxmax())
            parts.append(marks.add_prefix(f"{column} "))
    whole = pd.concat(parts, axis=1).set_axis(told["fitting"].to_numpy(dtype=str), axis=0)
    return whole.loc[:, whole.std(ddof=0) > 1e-9]
