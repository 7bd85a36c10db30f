"""What chance made of a scenario in one fleet, beside what was stated: so that an outlier can be told."""

from __future__ import annotations

from typing import TypedDict

import numpy as np
import pandas as pd

from wearstats.domain.tables import METHODS
from wearstats.simulate.events.choice import AS_SUPPLIED
from wearstats.simulate.events.fitting import risk_by
from wearstats.simulate.events.shafts import BoolArray, FloatArray
from wearstats.simulate.truth import Truth

HORIZON_MONTHS = 12.0


class Realised(TypedDict):
    """One number as stated and as it came out, with the standard error of the latter."""

    stated: float
    realised: float
    standard_error: float


def realise(truth: Truth) -> dict[str, Realised]:
    """Compare what happened in a fleet with what its scenario states.

    Parameters
    ----------
    truth : Truth
        Of a fleet with hubs sent either way.

    Returns
    -------
    dict of str to Realised
        12-month risks of working loose by what was sent (product limit over all hubs that ran, silent ones too; other
        causes and the study's end cut runs off) and their difference; mean bias of the owners who measured; mean
        wear of the measured shafts and the share of unworn ones.
    """
    supplied, hand = (_risk(truth, as_supplied=way) for way in (True, False))
    used = truth.inspections["measured_by"]
    bias = truth.measurers[truth.measurers["measured_by"].isin(used[used.str.startswith("owner")])]["bias_um"]
    shafts = truth.shafts[truth.shafts["shaft"] != ""]
    below = shafts["wear_um"] - shafts["new_um"]
    law = truth.to_dict()["wear_um"]
    unworn = float(law["unworn_share"])
    return {
        "risk_12_months_as_supplied": supplied,
        "risk_12_months_hand": hand,
        "risk_difference_12_months": Realised(
            stated=round(supplied["stated"] - hand["stated"], 4),
            realised=round(supplied["realised"] - hand["realised"], 4),
            standard_error=round(float(np.hypot(supplied["standard_error"], hand["standard_error"])), 4),
        ),
        "home_bias_um": _mean(bias, truth.scenario.home_bias_um),
        "wear_mean_um": _mean(below, float(law["mean"])),
        "unworn_share": Realised(
            stated=unworn,
            realised=round(float(shafts["unworn"].mean()), 4),
            standard_error=round(float(np.sqrt(unworn * (1.0 - unworn) / len(shafts))), 4),
        ),
    }


def within_one_error(realised: dict[str, Realised]) -> bool:
    """Whether every number came out within one standard error of what was stated."""
    return all(abs(each["realised"] - each["stated"]) <= each["standard_error"] for each in realised.values())


def _mean(values: pd.Series, stated: float) -> Realised:
    error = float(values.std(ddof=1)) / np.sqrt(len(values))
    return Realised(stated=stated, realised=round(float(values.mean()), 4), standard_error=round(float(error), 4))


def _risk(truth: Truth, *, as_supplied: bool) -> Realised:
    """Mean true risk of the hubs sent one way, and what became of them."""
    ran = truth.fittings[truth.fittings["ran"]]
    ran = ran[(ran["sent_as"] == METHODS[AS_SUPPLIED]) == as_supplied]
    stated = risk_by(HORIZON_MONTHS, ran["log_ratio"].to_numpy(float), truth.scenario).mean()
    loose = ran["loose_months"].to_numpy(float)
    cut = np.minimum(ran["removed_months"].to_numpy(float), ran["study_months"].to_numpy(float))
    risk, error = product_limit(np.minimum(loose, cut), loose <= cut, HORIZON_MONTHS)
    return Realised(stated=round(float(stated), 4), realised=round(risk, 4), standard_error=round(error, 4))


def product_limit(months: FloatArray, failed: BoolArray, horizon: float) -> tuple[float, float]:
    """Give the product-limit risk by a horizon and its Greenwood standard error; both arrays of shape (n,)."""
    order = np.lexsort((~failed, months))
    at_risk = np.arange(len(months), 0, -1.0)
    counted = at_risk[failed[order] & (months[order] <= horizon)]
    still = float(np.prod(1.0 - 1.0 / counted))
    error = still * np.sqrt((1.0 / (counted * np.maximum(counted - 1.0, 1.0))).sum())
    return 1.0 - still, float(error)
