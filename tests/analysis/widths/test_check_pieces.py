"""Check pieces by their own size: biases by simulation with known truth, and what readings of one piece share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from wearstats.analysis.widths.data import PatternShape, WidthData, piece_variances, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.prediction import predict_maps

SHAPE = PatternShape(pattern="P", splines=6, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)
SHAFTS, BOTH = 36, 10
HOME_UM = 3.0
OFF_UM = np.array([14.0, 10.0])
"""How far the two pieces' own sizes lie above what is engraved on them."""
DOUBT_UM = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Round:
    """A drawn fleet: readings with the check piece by its own size, and the truth."""

    moments: pd.DataFrame
    inspections: pd.DataFrame
    mean_um: pd.Series  # by shaft


def _round(rng: np.random.Generator) -> _Round:
    """Draw shafts that owners measured with one of two pieces, some of them measured by the workshop too."""
    error = rng.normal(0.0, DOUBT_UM, 2)  # of the sizes as calibrated
    heads, moments, truth = [], [], {}
    for shaft in range(SHAFTS):
        level = -40 + 12 * rng.standard_normal()
        places = level + 4 * rng.standard_normal((SHAPE.splines, 1)) + 2 * rng.standard_normal((SHAPE.splines, 3))
        truth[f"S{shaft:02d}"] = float(places.mean())
        for at in ("home", "workshop") if shaft < BOTH else ("home",):
            home = at == "home"
            bias = HOME_UM + 6 * rng.standard_normal() if home else 1.5 * rng.standard_normal()
            scatter = 4.0 if home else 2.0
            piece = int(rng.integers(2))
            name = f"S{shaft:02d} {at}"
            heads.append(
                {
                    "inspection": name,
                    "unit": f"S{shaft:02d}",
                    "shaft": f"S{shaft:02d}",
                    "pattern": "P",
                    "group": "all",
                    "measurer": f"owner {shaft}" if home else f"hand {shaft % 2}",
                    "class": at,
                    "step_um": 1.0,
                    # what is read less the size as calibrated
                    "check_um": np.round(bias + scatter * rng.standard_normal() + error[piece]) if home else np.nan,
                    "piece": f"CP-{piece}" if home else None,
                    "piece_u_um": DOUBT_UM if home else np.nan,
                    "marked": True,
                }
            )
            read = np.round(places + bias + scatter * rng.standard_normal(places.shape))
            for (spline, station), value in np.ndenumerate(read):
                moments.append((name, spline + 1, station, 1, value, 0.0))
    names = ["inspection", "spline", "station", "n", "mean_um", "within_um2"]
    return _Round(
        moments=pd.DataFrame(moments, columns=names),
        inspections=pd.DataFrame(heads),
        mean_um=pd.Series(truth),
    )


def _covered(data: WidthData, truth: pd.Series) -> tuple[bool, float, float]:
    """Whether the mean bias at home lies in its interval, its error, and of how many shafts the mean width does."""
    fit = fit_widths(data, intervals=False)
    told = fit.mean_of("class:home")
    assert told is not None
    value, se = told
    inside = []
    for prediction in predict_maps(fit, data):
        weights = np.full(SHAPE.places, 1 / SHAPE.places)
        sd = np.sqrt(np.einsum("i,uij,j->u", weights, prediction.covariance_um2, weights, optimize=True))
        true = truth.reindex(data.units["shaft"].iloc[prediction.unit]).to_numpy()
        inside.append(np.abs(prediction.mean_um @ weights - true) < 1.96 * sd)
    return abs(value - HOME_UM) < 1.96 * se, value - HOME_UM, float(np.concatenate(inside).mean())


def test_own_sizes_hold_what_engraved_ones_miss() -> None:
    """Of 40 fleets; nominal sizes are 10 and 14 um off, calibrated ones by a doubt of 3 um that readings share."""
    rng = np.random.default_rng(20261129)
    own, plain, nominal = [], [], []
    for _ in range(40):
        drawn = _round(rng)
        shapes = {"P": SHAPE}
        own.append(_covered(reduce_readings(drawn.moments, drawn.inspections, shapes), drawn.mean_um))
        sure = drawn.inspections.drop(columns=["piece", "piece_u_um"])
        plain.append(_covered(reduce_readings(drawn.moments, sure, shapes), drawn.mean_um))
        off = sure["check_um"] + drawn.inspections["piece"].map({"CP-0": OFF_UM[0], "CP-1": OFF_UM[1]})
        engraved = sure.assign(check_um=off)
        nominal.append(_covered(reduce_readings(drawn.moments, engraved, shapes), drawn.mean_um))
    held = {
        name: np.mean([each[0] for each in of]) for name, of in (("own", own), ("sure", plain), ("nominal", nominal))
    }
    shafts = {
        name: np.mean([each[2] for each in of]) for name, of in (("own", own), ("sure", plain), ("nominal", nominal))
    }
    error = {name: np.mean([each[1] for each in of]) for name, of in (("own", own), ("nominal", nominal))}
    assert held["own"] >= 0.85, (held, shafts, error)  # 95 in 100 less three standard errors
    assert shafts["own"] >= 0.93, shafts
    assert abs(error["own"]) < 1.0, error
    assert held["sure"] < held["own"], held
    assert error["nominal"] > 3.0, error
    assert held["nominal"] < 0.5, held


def test_readings_of_one_piece_in_a_unit_have_its_error_once_in_their_mean() -> None:
    piece = np.array([[0, 0, 1], [0, 1, 2]])
    found = piece_variances(piece, np.array([[2.0, 2.0, 1.0], [2.0, 0.0, 0.0]]))
    assert found is not None
    assert found.tolist() == [[8.0, 8.0, 1.0], [4.0, 0.0, 0.0]]
    # the mean of two independent errors of variance 8 has variance 4, as one error of 2 um has
    assert found[0, :2].sum() / 4 == pytest.approx(2.0**2)
    assert piece_variances(piece, np.zeros((2, 3))) is None


def test_a_piece_without_a_doubt_changes_nothing() -> None:
    drawn = _round(np.random.default_rng(7))
    shapes = {"P": SHAPE}
    sure = reduce_readings(drawn.moments, drawn.inspections.assign(piece_u_um=0.0), shapes)
    plain = reduce_readings(drawn.moments, drawn.inspections.drop(columns=["piece", "piece_u_um"]), shapes)
    assert list(sure.inspections) == list(plain.inspections)
    assert sure.piece_u_um == 0.0
    assert all(block.piece_um2 is None for block in sure.blocks)
    assert fit_widths(sure, intervals=False).criterion == fit_widths(plain, intervals=False).criterion
