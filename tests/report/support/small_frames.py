"""Small hand-made frames, as the studies give them to the charts."""

from __future__ import annotations

import datetime

import pandas as pd


def fleet() -> pd.DataFrame:
    """Eight shafts of two patterns."""
    return pd.DataFrame(
        {
            "pattern": ["D8"] * 5 + ["D10"] * 3,
            "shaft": [f"S-{number}" for number in range(1, 9)],
            "width_um_below_new": [4.0, 18.0, 31.0, 47.0, 90.0, 12.0, 25.0, 60.0],
            "sd_um": [5.0] * 8,
        }
    )


def sizes() -> pd.DataFrame:
    """Four hubs of each pattern, the last no longer offered."""
    return pd.DataFrame(
        {
            "pattern": ["D8"] * 4 + ["D10"] * 4,
            "undersize_um": [0.0, 25.0, 50.0, 200.0] * 2,
            "space_um_below_new": [-20.0, 5.0, 30.0, 180.0] * 2,
            "offered": [True, True, True, False] * 2,
        }
    )


def shaft_map() -> pd.DataFrame:
    """Three splines by three stations, hollow in the middle."""
    lost = [[20.0, 55.0, 25.0], [24.0, 52.0, 22.0], [-2.0, 41.0, 18.0]]
    stations = ["shoulder", "middle", "nut-end"]
    rows = [
        {
            "spline": spline + 1,
            "station": station,
            "station_index": index,
            "width_um_below_new": lost[spline][index],
            "sd_um": 5.5,
            "reading_um_below_new": lost[spline][index] + 1.0,
            "filing_um": max(30.0 - lost[spline][index], 0.0),
            "gap_left_um": max(lost[spline][index] - 30.0, 0.0),
        }
        for spline in range(3)
        for index, station in enumerate(stations)
    ]
    return pd.DataFrame(rows)


def curves() -> pd.DataFrame:
    """Two step curves."""
    return pd.DataFrame(
        {
            "group": ["as-supplied"] * 4 + ["owner-fitted"] * 4,
            "months": [0.0, 6.0, 12.0, 18.0] * 2,
            "still_tight": [1.0, 0.95, 0.88, 0.80, 1.0, 0.99, 0.97, 0.95],
            "low": [1.0, 0.90, 0.80, 0.70, 1.0, 0.96, 0.93, 0.89],
            "high": [1.0, 0.98, 0.93, 0.88, 1.0, 1.0, 0.99, 0.98],
        }
    )


def at_risk() -> pd.DataFrame:
    """The fittings still watched under those curves."""
    return pd.DataFrame(
        {
            "group": ["as-supplied"] * 4 + ["owner-fitted"] * 4,
            "months": [0.0, 6.0, 12.0, 18.0] * 2,
            "at_risk": [40, 30, 18, 9, 55, 44, 30, 12],
        }
    )


def returns() -> pd.DataFrame:
    """Three quarters by three reasons."""
    counts = {"would-not-go-on": [4, 5, 7], "worked-loose": [2, 0, 1], "not-needed": [0, 1, 0]}
    return pd.DataFrame(
        [
            {"quarter": f"2026Q{quarter + 1}", "reason": reason, "returns": numbers[quarter]}
            for reason, numbers in counts.items()
            for quarter in range(3)
        ]
    )


def history() -> pd.DataFrame:
    """Two inspections of one shaft, a hub run in between."""
    return pd.DataFrame(
        {
            "inspection": ["I1", "I2"],
            "measured_on": [datetime.date(2024, 3, 1), datetime.date(2026, 9, 1)],
            "measured_by": ["anna / mic", "hand / blade"],
            "kind": ["home", "workshop"],
            "hubs_before": [0, 1],
            "width_um_below_new": [21.0, 28.0],
            "sd_um": [7.0, 2.0],
            "low_um_below_new": [7.28, 24.08],
            "high_um_below_new": [34.72, 31.92],
        }
    )


def laws() -> pd.DataFrame:
    """True wear of both patterns as curves."""
    at = [0.0, 20.0, 40.0, 60.0]
    curve = pd.DataFrame(
        {
            "width_um_below_new": at,
            "shafts_per_um": [0.05, 0.09, 0.06, 0.02],
            "low": [0.03, 0.07, 0.04, 0.01],
            "high": [0.08, 0.12, 0.09, 0.04],
        }
    )
    return pd.concat([curve.assign(pattern=pattern) for pattern in ("D8", "D10")], ignore_index=True)


def growth_points() -> pd.DataFrame:
    """Three shafts looked at again, and a first look."""
    return pd.DataFrame(
        {
            "shaft": ["S-1", "S-1", "S-2", "S-3"],
            "since_h": [0.0, 1500.0, 4000.0, 2500.0],
            "lost_um": [0.0, 3.0, 9.0, 14.0],
            "lost_sd_um": [0.0, 3.0, 4.0, 3.5],
            "lost_low_um": [0.0, -2.88, 1.16, 7.14],
            "lost_high_um": [0.0, 8.88, 16.84, 20.86],
            "between": ["", "tight", "tight", "loose"],
        }
    )


def growth_band() -> pd.DataFrame:
    """The mean while tight."""
    return pd.DataFrame(
        {
            "between": ["tight"] * 2,
            "since_h": [0.0, 4000.0],
            "lost_um": [0.0, 8.0],
            "low_um": [0.0, 5.0],
            "high_um": [0.0, 11.0],
        }
    )


def measurers() -> pd.DataFrame:
    """Three who measured more than once."""
    return pd.DataFrame(
        {
            "measurer": ["anna / mic", "bert / mic", "hand / blade"],
            "class": ["home", "home", "workshop"],
            "inspections": [3, 2, 40],
            "bias_um": [-9.0, 2.0, 0.5],
            "low": [-14.0, -6.0, -1.0],
            "high": [-4.0, 10.0, 2.0],
        }
    )


def plans() -> pd.DataFrame:
    """Two numbers of splines and of stations, without and with a check piece."""
    rows = [
        (splines, stations, piece, 0.7 + 0.01 * splines + 0.02 * stations + 0.05 * piece)
        for piece in (False, True)
        for splines in (2, 8)
        for stations in (1, 3)
    ]
    frame = pd.DataFrame(rows, columns=["splines", "stations", "check_piece", "right_size_probability"])
    return frame.assign(inspections=1, trials=1)


def gap_curve() -> pd.DataFrame:
    """Give a chance rising with the gap, and the same as read."""
    risk = [0.03, 0.05, 0.09, 0.15, 0.25]
    return pd.DataFrame(
        {
            "gap_left_um": [0.0, 10.0, 20.0, 30.0, 40.0],
            "risk": risk,
            "low": [0.6 * share for share in risk],
            "high": [1.6 * share for share in risk],
            "as_read": [0.04, 0.06, 0.09, 0.13, 0.2],
        }
    )


def gap_rug() -> pd.DataFrame:
    """Six fittings, two of which worked loose; one beyond the curve."""
    return pd.DataFrame(
        {
            "fitting": [f"F{number}" for number in range(6)],
            "gap_left_um": [2.0, 5.0, 11.0, 19.0, 33.0, 48.0],
            "failed": [False, False, True, False, False, True],
            "supplied": [False, False, False, True, True, True],
        }
    )


def calibration() -> pd.DataFrame:
    """Four groups of like risk; of one nothing is told."""
    return pd.DataFrame(
        {
            "group": [1, 2, 3, 4],
            "fittings": [20, 20, 20, 20],
            "failures": [0, 1, 3, 9],
            "predicted": [0.03, 0.06, 0.1, 0.2],
            "happened": [0.0, 0.05, None, 0.4],
            "low": [0.0, 0.01, None, 0.25],
            "high": [0.1, 0.2, None, 0.6],
        }
    )


def beside_curve() -> pd.DataFrame:
    """Give a law and a curve, a year and a half long."""
    months = [0.0, 3.0, 6.0, 9.0, 12.0, 15.0, 18.0]
    law = [0.0, 0.02, 0.04, 0.07, 0.1, 0.13, 0.16]
    return pd.DataFrame({"months": months, "law": law, "curve": [0.0, 0.01, 0.05, 0.05, 0.11, 0.11, 0.18]})


def silence() -> pd.DataFrame:
    """Give the risk under meanings of silence; the best value of the chance is 0.5."""
    return pd.DataFrame(
        {
            "chance": [0.1, 0.4, 0.7, 0.99, 0.5, 0.5, 0.5],
            "silent_hazard": [1.0, 1.0, 1.0, 1.0, 0.5, 1.0, 2.0],
            "slope": [0.5, 0.5, 0.5, 0.5, 0.4, 0.5, 0.6],
            "risk": [0.16, 0.12, 0.1, 0.09, 0.1, 0.115, 0.14],
        }
    )


def size_plans() -> pd.DataFrame:
    """Four numbers of sizes, the third recommended."""
    cost = [9000.0, 6000.0, 5200.0, 5150.0]
    return pd.DataFrame(
        {
            "sizes": [1, 2, 3, 4],
            "cost": cost,
            "low": [0.9 * each for each in cost],
            "high": [1.15 * each for each in cost],
            "keeping": [100.0, 200.0, 300.0, 400.0],
            "unserved_share": [0.2, 0.1, 0.0, 0.0],
            "chosen": [False, False, True, False],
        }
    )


def size_needs() -> pd.DataFrame:
    """Six shafts, one of which none of the sizes serves."""
    needs = [3.0, 11.0, 14.0, 33.0, 47.0, 90.0]
    return pd.DataFrame({"need_um": needs, "undersize_um": [20.0, 20.0, 20.0, 40.0, 60.0, None]})


def best_sets() -> pd.DataFrame:
    """How often six sizes were in the best set."""
    sizes = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    share = [0.1, 0.9, 0.2, 0.7, 0.0, 1.0]
    return pd.DataFrame({"undersize_um": sizes, "share": share, "chosen": [um in (20.0, 40.0, 60.0) for um in sizes]})


def quarters() -> pd.DataFrame:
    """Five quarters of failures."""
    return pd.DataFrame(
        {
            "quarter": ["2025Q3", "2025Q4", "2026Q1", "2026Q2", "2026Q3"],
            "fittings": [10, 12, 9, 11, 10],
            "failures": [0, 1, 2, 1, 4],
            "hub_months": [60.0, 90.0, 120.0, 150.0, 180.0],
            "rate": [0.0, 1.11, 1.67, 0.67, 2.22],
            "low": [0.0, 0.03, 0.2, 0.02, 0.61],
            "high": [6.15, 6.19, 6.02, 3.71, 5.69],
            "run_months": [12.4, 10.1, 7.2, 4.4, 1.6],
        }
    )


def forecasts() -> pd.DataFrame:
    """Three quarters predicted, one of them missed."""
    return pd.DataFrame(
        {
            "quarter": ["2026Q1", "2026Q2", "2026Q3"],
            "hubs": [40, 50, 60],
            "expected": [1.4, 1.8, 2.2],
            "low": [0.0, 0.0, 0.0],
            "high": [4.0, 4.0, 5.0],
            "happened": [2, 1, 6],
        }
    )


def changes() -> pd.DataFrame:
    """Groups against their own past: one surely changed, one too small to tell."""
    return pd.DataFrame(
        {
            "what": ["loose", "came-back", "came-off", "loose"],
            "by": ["batch", "region", "cause", "batch"],
            "group": ["B7", "carr", "register", "B8"],
            "number": [12, 4, 3, 1],
            "hub_months": [100.0, 300.0, 400.0, 20.0],
            "before_number": [3, 15, 14, 0],
            "before_months": [400.0, 1200.0, 1600.0, 60.0],
            "p_adjusted": [2e-5, 1.0, 1.0, 1.0],
            "counted": [True, True, True, False],
        }
    )


def hubs_at_risk() -> pd.DataFrame:
    """Three hubs, one of which the gap is not known, one whose owner is warned."""
    return pd.DataFrame(
        {
            "shaft": ["S-3", "S-1", "S-2"],
            "fitting": ["F-3", "F-1", "F-2"],
            "gap_left_um": [42.0, None, 18.0],
            "risk_quarter": [0.61, 0.2, 0.12],
            "risk_quarter_low": [0.3, 0.05, 0.04],
            "risk_quarter_high": [0.85, 0.5, 0.3],
            "told": [False, False, True],
        }
    )


def demand_quarters() -> pd.DataFrame:
    """Four quarters on record, the last not yet over, some needs served by no size."""
    return pd.DataFrame(
        {
            "quarter": ["2025Q4", "2026Q1", "2026Q2", "2026Q3"],
            "needed": [8, 11, 9, 4],
            "lost": [2, 0, 1, 0],
            "exposure": [1.0, 1.0, 1.0, 0.5],
        }
    )


def demand_fan() -> pd.DataFrame:
    """Two quarters to come."""
    return pd.DataFrame(
        {
            "quarters_ahead": [1, 2],
            "low95": [4, 3],
            "low50": [7, 7],
            "median": [9, 9],
            "high50": [11, 12],
            "high95": [16, 18],
            "mean": [9.2, 9.4],
        }
    )


def shelf() -> pd.DataFrame:
    """Three sizes, one of them no longer kept."""
    return pd.DataFrame(
        {
            "undersize_um": [20.0, 35.0, 50.0],
            "kept": [True, False, True],
            "on_hand": [5, 2, 0],
            "make": [0, 0, 8],
            "cover_demand": [3.1, 0.0, 6.4],
            "cover_low": [1.0, 0.0, 3.0],
            "cover_high": [6.0, 0.0, 11.0],
        }
    )


def contact_bands() -> pd.DataFrame:
    """Three bands of fittings: more marked than predicted, as many, fewer."""
    return pd.DataFrame(
        {
            "band": [1, 2, 3],
            "fittings": [10, 10, 10],
            "predicted": [0.04, 0.5, 0.99],
            "marked": [0.15, 0.55, 0.9],
            "low": [0.06, 0.4, 0.84],
            "high": [0.27, 0.7, 0.95],
        }
    )


def contact_fittings() -> pd.DataFrame:
    """Five fittings with marks."""
    return pd.DataFrame({"predicted": [0.0, 0.1, 0.5, 0.9, 1.0], "marked": [0.05, 0.2, 0.45, 1.0, 0.85]})


def ladder() -> pd.DataFrame:
    """Four hubs near a shaft: of the loosest no such gap is on record, the next works loose far beyond the limit."""
    return pd.DataFrame(
        {
            "hub": ["0.000, as it is", "0.025, as it is", "0.050, owner files", "0.075, owner files"],
            "minutes": [0.0, 0.0, 48.0, 117.0],
            "slack": [98.0, 33.0, 0.0, 0.0],
            "loose": [float("nan"), 46.0, 4.4, 4.1],
            "low": [float("nan"), 26.0, 2.2, 2.0],
            "high": [float("nan"), 72.0, 7.6, 6.9],
            "cost": [117.0, 89.0, 85.0, 143.0],
            "limit": 5.0,
            "refused": ["may rattle", "over the limit", "", ""],
            "spoken": [False, False, True, False],
        }
    )
