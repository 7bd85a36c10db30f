"""The truth behind an invented fleet, for comparing estimates with it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any, TypedDict

import numpy as np
import pandas as pd
from scipy.special import gammaincinv, ndtr

from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.domain.tables import METHODS
from wearstats.simulate.events.choice import AS_SUPPLIED, day_number
from wearstats.simulate.events.fitting import risk_by
from wearstats.simulate.events.progress import Progress
from wearstats.simulate.scenario.scenario import Scenario
from wearstats.simulate.tables import Names, gauge_names

HORIZON_MONTHS = 12.0

QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)
GAPS_UM = (0.0, 5.0, 10.0, 15.0, 20.0, 25.4, 30.0, 40.0, 50.0)
HORIZONS_MONTHS = (6.0, 12.0, 24.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Truth:
    """What nobody in the shop knows.

    Parameters
    ----------
    scenario : Scenario
        All switches.
    shafts : DataFrame
        By shaft, in the order of the simulation: ``shaft`` (empty where never measured), ``owner``, ``pattern``,
        ``duty``, ``new_um``, ``wear_um`` (metal lost at first), ``unworn``.
    periods : DataFrame
        One row a stretch between two hubs: ``shaft``, ``hours``; its row number is the first index of `width_um`.
    width_um : ndarray, shape (periods, most splines, stations)
        True widths above the nominal new width, so mostly negative; NaN where the pattern has fewer splines.
    measurers : DataFrame
        ``measured_by``, ``gauge``, ``bias_um``.
    inspections : DataFrame
        ``inspection``, ``period``, ``measured_by``, ``bias_um`` (of the occasion, beside the measurer's).
    hubs : DataFrame
        ``hub`` (empty where not on record), ``space_um`` (above the nominal new width), ``undersize_um``.
    fittings : DataFrame
        Every hub tried on, on record or not: ``fitting``, ``shaft``, ``hub``, ``period``, ``space_um``, ``sent_as``,
        ``method``, ``ran``, ``gap_left_um``, ``clearance_um``, ``tightest_um``, ``log_ratio`` (log hazard against the
        baseline), ``log_ratio_supplied`` and ``log_ratio_hand`` (had it been sent so), ``failed`` and ``known``
        (before the study's end), ``loose_months`` (when it does or would work loose), ``removed_months``,
        ``study_months`` (from its fitting to the study's end).
    """

    scenario: Scenario
    shafts: pd.DataFrame
    periods: pd.DataFrame
    width_um: FloatArray
    measurers: pd.DataFrame
    inspections: pd.DataFrame
    hubs: pd.DataFrame
    fittings: pd.DataFrame

    @property
    def below_new_um(self) -> FloatArray:
        """True maps as um below the nominal new width, shape (periods, most splines, stations)."""
        return -self.width_um

    def risk(self, gap_left_um: float, months: float) -> float:
        """Chance of having worked loose by some months at a mean gap left, hand-fitted, on a duty of log hazard 0."""
        ratio = np.array([self.scenario.log_hazard_per_10um * gap_left_um / 10.0])
        return float(risk_by(months, ratio, self.scenario)[0])

    def to_dict(self) -> dict[str, Any]:
        """Give parameters and population values as plain numbers, for a file beside the data."""
        scenario = self.scenario
        ran = self.fittings[self.fittings["ran"]]
        return {
            "invented": True,
            "components_um": components(scenario),
            "bias_um": {"home": scenario.home_bias_um, "workshop": 0.0},
            "station_um": dict(zip(("shoulder", "middle", "nut-end"), scenario.station_um, strict=True)),
            "wear_um": wear_law(scenario),
            "growth_um_per_1000h": {
                kind.duty: _plain(scenario.growth_um_per_1000h * kind.growth_factor) for kind in scenario.duties
            },
            "loose_growth_factor": scenario.loose_growth_factor,
            "loosening": {
                "log_hazard_per_10um": scenario.log_hazard_per_10um,
                "shape": scenario.loosening_shape,
                "reported_unasked": scenario.reported_unasked,
                "risk": [
                    {"gap_left_um": gap, "months": months, "value": _plain(self.risk(gap, months))}
                    for gap in GAPS_UM
                    for months in HORIZONS_MONTHS
                ],
                "mean_risk_12_months": _plain(_mean_risk(ran["log_ratio"], scenario)),
            },
            "methods": method_truth(ran, scenario),
            "gap_left_um": {
                "mean": _plain(float(ran["gap_left_um"].mean())),
                "quantiles": {str(q): _plain(float(ran["gap_left_um"].quantile(q))) for q in QUANTILES},
            },
            "counts": {
                "shafts": int((self.shafts["shaft"] != "").sum()),
                "owners": int(self.shafts["owner"].nunique()),
                "hubs_run": len(ran),
                "failed": int(ran["failed"].sum()),
                "failed_and_known": int((ran["failed"] & ran["known"]).sum()),
            },
            "scenario": _jsonable(dataclasses.asdict(scenario)),
        }


def components(scenario: Scenario) -> dict[str, float | None]:
    """Give the standard deviations of all that makes two readings differ, in um; ``shaft`` is over all duties."""
    factor = np.array([kind.wear_factor for kind in scenario.duties])
    share = np.array([kind.share for kind in scenario.duties])
    share = share / share.sum()
    mean = scenario.wear_mean_um * factor
    worn = 1.0 - scenario.unworn_share
    second = worn * mean**2 * (1.0 + 1.0 / scenario.wear_shape)
    within = second - (worn * mean) ** 2
    overall = (share * second).sum() - (share * worn * mean).sum() ** 2
    return {
        "shaft": _plain(np.sqrt(scenario.new_sd_um**2 + overall)),
        "shaft_within_duty": _plain(np.sqrt(scenario.new_sd_um**2 + (share * within).sum())),
        "new": scenario.new_sd_um,
        "spline": scenario.spline_sd_um,
        "shaft_station": scenario.shaft_station_sd_um,
        "cell": scenario.cell_sd_um,
        "measurer": scenario.home_measurer_sd_um,
        "measurer_workshop": scenario.workshop_measurer_sd_um,
        "inspection": scenario.home_inspection_sd_um,
        "inspection_workshop": scenario.workshop_inspection_sd_um,
        "repeatability_home": scenario.home_repeatability_um,
        "repeatability_workshop": scenario.workshop_repeatability_um,
        "caliper_measurer": scenario.caliper_measurer_sd_um,
        "caliper_inspection": scenario.caliper_inspection_sd_um,
        "caliper_repeatability": scenario.caliper_repeatability_um,
        "batch": scenario.batch_sd_um,
        "hub": scenario.hub_sd_um,
        "hub_gauging": scenario.gauging_sd_um,
    }


def wear_law(scenario: Scenario) -> dict[str, Any]:
    """Mean, unworn share and quantiles of how far below the nominal new width shafts are when first measured, in um.

    The distribution is exact up to a grid: the worn part of each duty is a gamma cut into 4000 equal shares, each
    spread by the normal of the new widths.
    """
    grid = np.linspace(-60.0, 60.0 + 12.0 * scenario.wear_mean_um, 20_001)
    share = np.array([kind.share for kind in scenario.duties])
    middle = (np.arange(4000) + 0.5) / 4000
    spread = max(scenario.new_sd_um, 1e-6)
    below = grid + scenario.new_mean_um
    law = scenario.unworn_share * ndtr(below / spread)
    coarse = np.linspace(grid[0], grid[-1], 2_001) + scenario.new_mean_um
    for kind, part in zip(scenario.duties, share / share.sum(), strict=True):
        scale = scenario.wear_mean_um * kind.wear_factor / scenario.wear_shape
        wear = gammaincinv(scenario.wear_shape, middle) * scale
        worn = np.array([float(np.mean(ndtr((x - wear) / spread))) for x in coarse])
        law = law + part * (1.0 - scenario.unworn_share) * np.interp(below, coarse, worn)
    mean = (share / share.sum() * [kind.wear_factor for kind in scenario.duties]).sum() * scenario.wear_mean_um
    return {
        "mean": _plain((1.0 - scenario.unworn_share) * mean - scenario.new_mean_um),
        "unworn_share": scenario.unworn_share,
        "quantiles": {str(q): _plain(np.interp(q, law, grid)) for q in QUANTILES},
    }


def method_truth(ran: pd.DataFrame, scenario: Scenario) -> dict[str, Any]:
    """Give the true 12-month risks by what was sent, and their difference as supplied minus hand-fitted.

    ``crude`` compares the fittings as they were sent; ``same_shafts`` the same fittings sent one way and the other;
    ``same_gap`` the two ways at the gap that was left.
    """
    supplied = ran["sent_as"] == METHODS[AS_SUPPLIED]
    risk = pd.Series(risk_by(12.0, ran["log_ratio"].to_numpy(float), scenario), index=ran.index)
    both = [risk_by(12.0, ran[f"log_ratio_{way}"].to_numpy(float), scenario) for way in ("supplied", "hand")]
    apart = scenario.log_hazard_as_supplied * (ran["method"] == METHODS[AS_SUPPLIED]).to_numpy(float)
    base = ran["log_ratio"].to_numpy(float) - apart
    same_gap = risk_by(12.0, base + scenario.log_hazard_as_supplied, scenario) - risk_by(12.0, base, scenario)
    return {
        "risk_12_months": {"as-supplied": _plain(risk[supplied].mean()), "hand": _plain(risk[~supplied].mean())},
        "risk_difference_12_months": {
            "crude": _plain(risk[supplied].mean() - risk[~supplied].mean()),
            "same_shafts": _plain((both[0] - both[1]).mean()) if len(ran) else None,
            "same_gap": _plain(same_gap.mean()) if len(ran) else None,
        },
    }


def tell_truth(
    progress: Progress, seen: pd.DataFrame, fittings: pd.DataFrame, hubs: pd.DataFrame, names: Names
) -> Truth:
    """Gather the truth from the ledgers."""
    scenario, shafts, owners = progress.scenario, progress.shafts, progress.owners
    duty = np.array([kind.duty for kind in scenario.duties], dtype=object)
    pattern = np.array([spec.pattern for spec in scenario.patterns], dtype=object)
    at_home = seen["at_home"].to_numpy(dtype=bool)
    person = seen["person"].to_numpy(dtype=np.int64)
    who = np.where(at_home, names.owners[np.where(at_home, person, 0)], names.hands[np.where(at_home, 0, person)])
    gauges = [*gauge_names(pd.DataFrame({"at_home": True, "person": np.arange(owners.gauge.size)}), names)]
    periods = progress.periods.frame()
    word = np.array(METHODS, dtype=object)
    start = fittings["fit_day"].to_numpy(dtype=float)
    month = 30.4375
    return Truth(
        scenario=scenario,
        shafts=pd.DataFrame(
            {
                "shaft": names.shafts,
                "owner": names.owners[shafts.owner],
                "pattern": pattern[shafts.pattern],
                "duty": duty[shafts.duty],
                "new_um": shafts.new_um,
                "wear_um": shafts.wear_um,
                "unworn": shafts.wear_um == 0,
            }
        ),
        periods=periods.assign(shaft=names.shafts[periods["shaft"].to_numpy(dtype=np.int64)]),
        width_um=np.concatenate(progress.widths),
        measurers=pd.DataFrame(
            {
                "measured_by": [*names.owners, *names.hands],
                "gauge": [*gauges, *["gauge-w1"] * names.hands.size],
                "bias_um": np.concatenate([owners.bias_um, owners.hand_bias_um]),
            }
        ),
        inspections=pd.DataFrame(
            {
                "inspection": names.inspections,
                "period": seen["period"].to_numpy(),
                "measured_by": who,
                "bias_um": seen["bias_um"].to_numpy(),
            }
        ),
        hubs=pd.DataFrame({"hub": names.hubs, "space_um": hubs["space_um"], "undersize_um": hubs["undersize_um"]}),
        fittings=pd.DataFrame(
            {
                "fitting": names.fittings,
                "shaft": names.shafts[fittings["shaft"].to_numpy(dtype=np.int64)],
                "hub": names.hubs[fittings["hub"].to_numpy(dtype=np.int64)],
                "period": fittings["period"],
                "space_um": hubs["space_um"].to_numpy()[fittings["hub"].to_numpy(dtype=np.int64)],
                "sent_as": word[fittings["sent_as"].to_numpy(dtype=np.int64)],
                "method": word[fittings["method"].to_numpy(dtype=np.int64)],
                **{name: fittings[name] for name in ("ran", "gap_left_um", "clearance_um", "tightest_um")},
                **{name: fittings[name] for name in ("log_ratio", "log_ratio_supplied", "log_ratio_hand", "failed")},
                "known": np.isfinite(fittings["seen_day"].to_numpy(dtype=float)),
                "loose_months": (fittings["loose_day"].to_numpy(dtype=float) - start) / month,
                "removed_months": (fittings["other_day"].to_numpy(dtype=float) - start) / month,
                "study_months": (day_number(scenario.end) - start) / month,
            }
        ),
    )


def _mean_risk(log_ratio: pd.Series, scenario: Scenario) -> float:
    return float(risk_by(12.0, log_ratio.to_numpy(float), scenario).mean())


def _plain(value: float) -> float | None:
    """Round for print; None for what is no number."""
    return round(float(value), 4) if np.isfinite(value) else None


def _jsonable(value: Any) -> Any:
    """Turn dates into text and tuples into lists."""
    if isinstance(value, dict):
        return {name: _jsonable(each) for name, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_jsonable(each) for each in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


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
