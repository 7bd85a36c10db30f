"""When each shaft will need the next undersize."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.growth.fit import LEAST_SHAFTS, GrowthFit, GrowthStates
from wearstats.analysis.growth.next_size import hours_until
from wearstats.analysis.remark import remark
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.pattern import Pattern
from wearstats.studies.inputs.width_fit import FittedWidths
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.growth_states import ReadStates
from wearstats.studies.wear.remarks import WearStudyRemark

NEEDED_COLUMNS = (
    "pattern", "shaft", "duty", "hours_h", "width_um_below_new", "sd_um", "next_undersize_um", "further_um",
    "needed_h", "needed_low_h", "needed_high_h", "status", "words",
)  # fmt: skip
NO_RATE = remark(WearStudyRemark.NO_RATE, least=LEAST_SHAFTS)


def next_sizes(sizes: pd.DataFrame, fitted: FittedWidths, read: ReadStates, ran: pd.DataFrame) -> pd.DataFrame:
    """Give every shaft's present width, the next undersize, and how much further it has to wear for it.

    The next undersize is the least on offer whose spaces are narrower than the shaft is now, and that is tighter than
    the hub now on it. It is due when the shaft has worn down to these spaces: that hub then goes on without filing.

    Parameters
    ----------
    sizes : DataFrame
        From `sizes_on_offer`.
    fitted : FittedWidths
        Readings and the width model.
    read : ReadStates
        States of the shafts; the last of each with hours is its present one.
    ran : DataFrame
        The fittings that ran: ``shaft``, ``origin_on``, ``undersize_um``.

    Returns
    -------
    DataFrame
        One row a shaft with hours: ``pattern``, ``shaft``, ``series``, ``duty``, ``hours_h``, ``width_um_below_new``,
        ``sd_um``, ``next_undersize_um`` and ``further_um`` (NaN where no larger one is on offer).
    """
    now = read.every.sort_values(["shaft", "measured_on", "unit"], kind="stable").drop_duplicates("shaft", keep="last")
    now = now.merge(_present_widths(fitted, now), on="unit").rename(columns={"hours": "hours_h"})
    dated = ran[["shaft", "origin_on", "undersize_um"]].dropna()
    since = now[["shaft", "first_on"]].merge(dated, on="shaft")
    since = since[since["origin_on"] > since["first_on"]].sort_values("origin_on", kind="stable")
    on_it = since.drop_duplicates("shaft", keep="last").set_index("shaft")["undersize_um"]
    now = now.assign(on_it_um=now["shaft"].map(on_it).fillna(-np.inf).to_numpy(dtype=float))
    pairs = now[["shaft", "pattern", "width_um_below_new", "on_it_um"]].merge(sizes, on="pattern")
    pairs = pairs[pairs["space_um_below_new"] > pairs["width_um_below_new"]]
    pairs = pairs[pairs["undersize_um"] > pairs["on_it_um"]]
    following = pairs.sort_values("undersize_um", kind="stable").drop_duplicates("shaft").set_index("shaft")
    further = following["space_um_below_new"] - following["width_um_below_new"]
    return now.assign(
        next_undersize_um=now["shaft"].map(following["undersize_um"]).to_numpy(dtype=float),
        further_um=now["shaft"].map(further).to_numpy(dtype=float),
    )


def sizes_on_offer(snapshot: Snapshot, patterns: dict[str, Pattern]) -> pd.DataFrame:
    """List the sizes on offer: ``pattern``, ``undersize_um``, ``space_um_below_new``."""
    sizes = snapshot.query("stock/sizes_known")
    sizes = sizes[sizes["offered"].astype(bool) & sizes["pattern"].isin(patterns)]
    space = [
        -patterns[str(name)].space_um(float(um))
        for name, um in zip(sizes["pattern"], sizes["undersize_um"], strict=True)
    ]
    return sizes.assign(space_um_below_new=np.array(space, dtype=float))[
        ["pattern", "undersize_um", "space_um_below_new"]
    ]


def _present_widths(fitted: FittedWidths, now: pd.DataFrame) -> pd.DataFrame:
    """Predict the mean width of every unit: ``unit``, ``width_um_below_new``, ``sd_um``."""
    readings = fitted.readings
    mine = readings.inspections[readings.inspections["unit"].isin(now["unit"])]
    data = readings.reduce(mine.assign(group=mine.groupby("unit")["group"].transform("last")))
    frames = []
    for prediction in predict_maps(fitted.fit, data):
        average = np.full(prediction.shape.places, 1 / prediction.shape.places)
        frames.append(
            pd.DataFrame(
                {
                    "unit": data.units["unit"].to_numpy(dtype=object)[prediction.unit],
                    "width_um_below_new": -(prediction.mean_um @ average),
                    "sd_um": np.sqrt(np.einsum("i,uij,j->u", average, prediction.covariance_um2, average)),
                }
            )
        )
    return pd.concat(frames, ignore_index=True)


def predict_needs(needs: pd.DataFrame, fit: GrowthFit | None, growth_of: str) -> pd.DataFrame:
    """Say when each shaft needs the next undersize.

    Parameters
    ----------
    needs : DataFrame
        From `next_sizes`.
    fit : GrowthFit or None
        Rates within shafts, if they are told.
    growth_of : str
        As which of the fit's names shafts run on.

    Returns
    -------
    DataFrame
        One row a shaft: `NEEDED_COLUMNS`.
    """
    now = needs.sort_values(["pattern", "shaft"], kind="stable")
    estimates: list[Estimate] = [no_estimate(NO_RATE)] * len(now)
    if fit is not None:
        rate, sd, df = _rates_of(now, fit, growth_of)
        estimates = hours_until(
            now["further_um"].to_numpy(dtype=float),
            now["sd_um"].to_numpy(dtype=float),
            rate,
            sd,
            df=df,
            hours_h=now["hours_h"].to_numpy(dtype=float),
            record_h=np.array([most_hours(fit.states, duty) for duty in now["duty"]]),
        )
    sized = now["further_um"].notna().to_list()
    estimates = [
        each if there else no_estimate(remark(WearStudyRemark.NO_LARGER_SIZE))
        for each, there in zip(estimates, sized, strict=True)
    ]
    frame = now.assign(
        needed_h=np.array([each.value for each in estimates], dtype=float),
        needed_low_h=np.array([each.low for each in estimates], dtype=float),
        needed_high_h=np.array([each.high for each in estimates], dtype=float),
        status=[each.status for each in estimates],
        words=pd.Series([each.method for each in estimates], index=now.index, dtype=object),
    )
    return frame[list(NEEDED_COLUMNS)].reset_index(drop=True)


def most_hours(states: GrowthStates, duty: str) -> float:
    """Give the most hours at which a shaft of a duty was looked at."""
    mine = states.duty == duty
    return float(np.where(states.seen[mine], states.hours_h[mine], 0.0).max(initial=0.0))


def _rates_of(now: pd.DataFrame, fit: GrowthFit, name: str) -> tuple[FloatArray, FloatArray, float]:
    """Every shaft's rate, its own where it was measured again and the mean elsewhere; its SD; degrees of freedom."""
    value, variance = fit.another_rate(name)
    rate, sd = np.full(len(now), value), np.full(len(now), np.sqrt(variance))
    own, own_variance = fit.own_rates(name)
    place = pd.Series(np.arange(fit.states.series.size), index=fit.states.series)
    at = now["series"].map(place).to_numpy(dtype=float)
    known = np.isfinite(at)
    mine = at[known].astype(np.int64)
    rate[known], sd[known] = own[mine], np.sqrt(own_variance[mine])
    return rate, sd, fit.own_freedom(name)
