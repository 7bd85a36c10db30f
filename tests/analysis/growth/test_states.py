"""Mean wear by state: unshrunken, with errors as a dense computation has them, and as sure as it says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.growth.states import MeasuredStates, measure_states
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.data import PatternShape, WidthData, reduce_readings
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.domain.arrays import FloatArray

SPLINES, STATIONS = 4, ("shoulder", "middle", "nut-end")
SHAPE = PatternShape(pattern="P", splines=SPLINES, stations=STATIONS, new_width_mm=6.0)
SD = {
    "shaft": 30.0, "spline": 4.0, "shaft_station": 5.0, "cell": 3.0,
    "measurer_home": 6.0, "measurer_workshop": 1.5, "measurer_caliper": 12.0,
    "inspection_home": 3.0, "inspection_workshop": 1.0, "inspection_caliper": 8.0,
    "repeatability_home": 5.0, "repeatability_workshop": 2.0, "repeatability_caliper": 15.0,
}  # fmt: skip
MEANS = {"station:P:shoulder": 2.0, "station:P:middle": -6.0, "station:P:nut-end": 1.0, "class:home": 4.0}
LOST = np.array([0.0, 12.0, 30.0])


def known_fit() -> WidthFit:
    """The truth as a fit, its means with errors."""
    root = np.array([[0.8, 0.1, 0.1, 0.0], [0.1, 0.8, 0.1, 0.0], [0.1, 0.1, 0.8, 0.0], [0.2, 0.2, 0.2, 0.6]])
    variances = np.array([SD[name] ** 2 for name in COMPONENTS])
    return WidthFit(
        components_um={name: Estimate(value=SD[name]) for name in COMPONENTS},
        variances=variances,
        free=np.ones(variances.size, dtype=bool),
        means=pd.DataFrame({"name": list(MEANS), "value_um": list(MEANS.values()), "se_um": 1.0}),
        mean_covariance=root @ root.T,
        variance_covariance=np.zeros((variances.size, variances.size)),
        measurers=pd.DataFrame(),
        units=1,
        readings=1,
        criterion=0.0,
    )


@dataclass(frozen=True)
class Readings:
    data: WidthData
    state: pd.Series
    wear_um: FloatArray  # (shafts, states), what was put in


def invent(shafts: int, *, rng: np.random.Generator, doubt: bool = False, step_um: float = 0.0) -> Readings:
    """Shafts in up to three states, by owners, hands and owners of two shafts; places missing; all numbers known."""
    hands = SD["measurer_workshop"] * rng.standard_normal(2)
    owners = SD["measurer_home"] * rng.standard_normal(shafts)
    noise = np.linalg.cholesky(known_fit().mean_covariance) @ rng.standard_normal(4) if doubt else np.zeros(4)
    means = np.array(list(MEANS.values())) + noise
    heads, moments, wear = [], [], np.zeros((shafts, LOST.size))
    for shaft in range(shafts):
        uneven = (
            SD["spline"] * rng.standard_normal((SPLINES, 1))
            + SD["shaft_station"] * rng.standard_normal((1, 3))
            + SD["cell"] * rng.standard_normal((SPLINES, 3))
        )
        uneven += means[:3] - means[:3].mean()
        uneven -= (uneven - (means[:3] - means[:3].mean())).mean()  # wear is the mean over all places
        wear[shaft] = -SD["shaft"] * rng.standard_normal() + LOST
        for state in range(int(rng.integers(2, 4))):
            for visit in range(int(rng.integers(1, 3))):
                home = rng.random() < 0.6
                kind = "home" if home else "workshop"
                who, bias = (f"owner-{shaft // 2}", owners[shaft // 2]) if home else (f"hand-{visit}", hands[visit])
                shift = bias + home * means[3] + SD[f"inspection_{kind}"] * rng.standard_normal()
                read = -wear[shaft, state] + uneven + shift + SD[f"repeatability_{kind}"] * rng.standard_normal((4, 3))
                name = f"{shaft:03}-{state}-{visit}"
                check = shift + SD[f"repeatability_{kind}"] * rng.standard_normal() if rng.random() < 0.3 else np.nan
                heads.append((name, f"{shaft:03}", who, kind, check, rng.random() < 0.8 or visit + state == 0))
                spline, station = np.nonzero(rng.random((4, 3)) < 0.8)
                moments.append(
                    pd.DataFrame(
                        {
                            "inspection": name,
                            "spline": spline + 1,
                            "station": station,
                            "n": 1,
                            "mean_um": read[spline, station],
                            "within_um2": 0.0,
                        }
                    )
                )
    inspections = pd.DataFrame(heads, columns=["inspection", "unit", "measurer", "class", "check_um", "marked"])
    inspections = inspections.assign(shaft=inspections["unit"], pattern="P", group="", step_um=step_um)
    data = reduce_readings(pd.concat(moments, ignore_index=True), inspections, {"P": SHAPE})
    names = inspections["inspection"]
    numbers = pd.Series(names.str.split("-").str[1].astype(int).to_numpy(), index=names)
    return Readings(data=data, state=numbers, wear_um=wear)


def whole_error(measured: MeasuredStates) -> FloatArray:
    """Covariance of all errors, shape (shafts x states, the same)."""
    shafts, states = measured.seen.shape
    shared = measured.shared_error_um.reshape(shafts * states, -1)
    full = shared @ shared.T
    for k in range(shafts):
        at = slice(k * states, (k + 1) * states)
        full[at, at] += measured.own_error_um2[k]
    return full


def test_errors_are_as_large_and_as_shared_as_they_are() -> None:
    """Against the truth over many drawings: variances of states, of what was lost, and of sums over shafts."""
    held, lost, sums = [], [], []
    for seed in range(60):
        made = invent(8, rng=np.random.default_rng(seed), doubt=True)
        measured = measure_states(known_fit(), made.data, made.state)
        error = np.where(measured.seen, measured.wear_um - made.wear_um, 0.0).ravel()
        full = whole_error(measured)
        seen = measured.seen.ravel()
        held.append((error / np.sqrt(np.maximum(np.diag(full), 1e-12)))[seen])
        step = np.zeros((8, error.size))
        step[np.arange(8), np.arange(8) * 3], step[np.arange(8), np.arange(8) * 3 + 1] = -1.0, 1.0
        lost.append((step @ error) / np.sqrt(np.diag(step @ full @ step.T)))
        sums.append(error.sum() / np.sqrt(full.sum()))
    for scaled in (np.concatenate(held), np.concatenate(lost), np.array(sums)):
        few = 0.2 if scaled.size < 100 else 0.08
        assert np.mean(scaled) == pytest.approx(0.0, abs=2 * few)
        assert np.std(scaled) == pytest.approx(1.0, abs=few)


def test_means_equal_the_dense_ones() -> None:
    """Independent computation: generalised least squares with all readings of a shaft, one by one."""
    made = invent(6, rng=np.random.default_rng(3), step_um=9.0)
    data = made.data
    measured = measure_states(known_fit(), data, made.state)
    variances = dict(zip(COMPONENTS, known_fit().variances, strict=True))
    spline = np.kron(np.eye(SPLINES), np.ones((3, 3)))
    station = np.kron(np.ones((SPLINES, SPLINES)), np.eye(3))
    place_cov = variances["spline"] * spline + variances["shaft_station"] * station + variances["cell"] * np.eye(12)
    centre = np.eye(12) - 1 / 12
    slots = SHAPE.extension() @ centre @ place_cov @ centre @ SHAPE.extension().T
    offsets = np.array(list(MEANS.values())[:3])
    offsets = np.r_[np.tile(offsets - offsets.mean(), SPLINES), offsets - offsets.mean(), 0.0]
    checked = 0
    for block in data.blocks:
        for u in range(block.unit.size):
            t, s = np.nonzero(block.count[u] > 0)
            rows = data.inspections.iloc[block.inspection[u, t]]
            home = rows["class"].eq("home").to_numpy()
            who, name = rows["measurer"].to_numpy(), rows["inspection"].to_numpy()
            kind = np.where(home, "home", "workshop")
            sigma = slots[np.ix_(s, s)]
            bias = np.array([variances[f"measurer_{each}"] for each in kind])
            own = np.array([variances[f"inspection_{each}"] for each in kind])
            # rounding to a step adds the variance of an even error
            scatter = np.array([variances[f"repeatability_{each}"] for each in kind]) + 9.0**2 / 12
            noise = scatter / block.count[u, t, s]
            sigma = sigma + (who[:, None] == who) * bias + (name[:, None] == name) * own + np.diag(noise)
            number = made.state[name].to_numpy()
            design = (number[:, None] == np.arange(3)) * (s < SHAPE.slots - 1)[:, None]
            some = design.any(axis=0)
            y = block.mean[u, t, s] - offsets[s] - 4.0 * home
            weighted = np.linalg.solve(sigma, design[:, some].astype(float))
            phi = np.linalg.inv(design[:, some].T @ weighted)
            row = int(np.flatnonzero(measured.unit == block.unit[u])[0])
            np.testing.assert_array_equal(measured.seen[row, :3], some)
            np.testing.assert_allclose(measured.wear_um[row][some], -phi @ weighted.T @ y, rtol=1e-9)
            # own and shared error together, without what hangs on the doubt of the means
            shared = measured.shared_error_um[row][:, 4:]
            total = measured.own_error_um2[row] + shared @ shared.T
            np.testing.assert_allclose(total[np.ix_(some, some)], phi, rtol=1e-8, atol=1e-8)
            checked += 1
    assert checked == 6


def test_means_are_not_drawn_towards_other_shafts() -> None:
    # the shaft's own spread has no say: a shaft far from all others keeps its mean
    made = invent(6, rng=np.random.default_rng(3))
    fit = known_fit()
    narrow = fit.variances.copy()
    narrow[COMPONENTS.index("shaft")] = 1e-6
    tight = WidthFit(**{name: getattr(fit, name) for name in fit.__slots__ if name != "variances"}, variances=narrow)
    np.testing.assert_allclose(
        measure_states(tight, made.data, made.state).wear_um, measure_states(fit, made.data, made.state).wear_um
    )


def test_a_bias_that_stays_cancels_from_what_was_lost() -> None:
    frame = pd.DataFrame({"spline": np.repeat(np.arange(4), 3) + 1, "station": list(range(3)) * 4})
    reads = [
        frame.assign(inspection=name, n=1, mean_um=um, within_um2=0.0) for name, um in (("a", -20.0), ("b", -35.0))
    ]
    heads = pd.DataFrame({"inspection": ["a", "b"], "measurer": "owner", "class": "home", "check_um": np.nan})
    heads = heads.assign(unit="S", shaft="S", pattern="P", group="", step_um=0.0, marked=True)
    data = reduce_readings(pd.concat(reads, ignore_index=True), heads, {"P": SHAPE})
    fit = known_fit()
    measured = measure_states(fit, data, pd.Series({"a": 0, "b": 1}))
    assert measured.wear_um[0, 1] - measured.wear_um[0, 0] == pytest.approx(15.0)
    error = whole_error(measured)
    # two occasions and the scatter of twelve readings each; neither the owner's bias nor the mean bias of owners
    assert error[0, 0] + error[1, 1] - 2 * error[0, 1] == pytest.approx(2 * (3.0**2 + 5.0**2 / 12), rel=1e-9)
    assert error[0, 0] > 6.0**2 + 3.0**2
