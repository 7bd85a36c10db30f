"""Small layouts of readings for the width model, and the same model done densely."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.numerics.reml import RemlFit, maximise_reml
from wearstats.analysis.widths.components import COMPONENTS, couple
from wearstats.analysis.widths.data import PatternShape, WidthData, reduce_readings
from wearstats.analysis.widths.likelihood import WidthLikelihood
from wearstats.domain.arrays import FloatArray

POSITIVE = np.array([name.startswith("repeatability") for name in COMPONENTS])


def layout(frame: pd.DataFrame, *, splines: int = 1, stations: int = 1) -> WidthData:
    """Reduce single readings: columns unit, measurer, inspection, class, spline, station, width."""
    grouped = frame.groupby(["inspection", "spline", "station"])["width"]
    moments = grouped.agg(n="size", mean_um="mean", variance_um2="var")
    moments["within_um2"] = moments.pop("variance_um2").fillna(0.0) * (moments["n"] - 1)
    heads = frame.drop_duplicates("inspection")
    inspections = pd.DataFrame(
        {
            "inspection": heads["inspection"],
            "unit": heads["unit"].astype(str),
            "shaft": heads["unit"].astype(str),
            "pattern": "P",
            "group": "",
            "measurer": heads["measurer"].astype(str),
            "class": heads["class"],
            "step_um": 0.0,
            "check_um": heads.get("check_um", np.nan),
            "marked": True,
        }
    )
    shape = PatternShape(
        pattern="P", splines=splines, stations=tuple(f"s{k}" for k in range(stations)), new_width_mm=6.0
    )
    return reduce_readings(moments.reset_index(), inspections, {"P": shape})


def fit(data: WidthData, free: list[str]) -> RemlFit:
    """Fit some components, all others zero."""
    likelihood = WidthLikelihood(data, couple(data))
    wanted = np.array([name in free for name in COMPONENTS])
    start = np.where(wanted | POSITIVE, 1.0, 0.0)
    return maximise_reml(likelihood.evaluate, start, free=wanted, positive=POSITIVE)


def component(found: RemlFit, name: str) -> float:
    """Look a variance up."""
    return float(found.variances[COMPONENTS.index(name)])


def crossed_readings(seed: int) -> pd.DataFrame:
    """Invent twelve shafts, unbalanced, read by owners and two workshop hands who cross."""
    rng = np.random.default_rng(seed)
    rows = []
    for unit in range(12):
        bias = rng.normal(0, 3)
        for visit in range(int(rng.integers(1, 4))):
            home = rng.random() < 0.6
            who = (f"owner-{unit}" if rng.random() < 0.8 else "owner-x") if home else f"hand-{rng.integers(2)}"
            shift = bias + rng.normal(0, 2)
            check = rng.normal(shift, 2) if rng.random() < 0.4 else np.nan
            for spline in range(1, 5):
                for station in range(3):
                    for _ in range(int(rng.integers(0, 3))):
                        width = 9 * np.sin(unit) + 3 * np.sin(7 * unit + spline) + shift + rng.normal(0, 3)
                        rows.append((unit, f"{unit}-{visit}", home, who, spline, station, width, check))
    frame = pd.DataFrame(
        rows, columns=["unit", "inspection", "home", "measurer", "spline", "station", "width", "check_um"]
    )
    return frame.assign(**{"class": np.where(frame["home"], "home", "workshop")})


def dense_model(frame: pd.DataFrame, variances: FloatArray) -> tuple[pd.DataFrame, FloatArray, FloatArray]:
    """Write the model out for all readings and check readings: them, their covariance, and the design of the means."""
    checks = frame.drop_duplicates("inspection").dropna(subset="check_um")
    checks = checks.assign(width=checks["check_um"], spline=0, station=-1, is_check=True)
    full = pd.concat([frame.assign(is_check=False), checks], ignore_index=True)
    home = full["home"].to_numpy(dtype=float)
    piece = full["is_check"].to_numpy(dtype=bool)
    value = dict(zip(COMPONENTS, variances, strict=True))

    def same(*columns: str) -> NDArray[np.float64]:
        key = full[list(columns)].astype(str).agg("|".join, axis=1).to_numpy()
        return np.asarray(key[:, None] == key[None, :], dtype=float)

    on_shaft = np.outer(~piece, ~piece)
    covariance = on_shaft * (
        value["shaft"] * same("unit")
        + value["spline"] * same("unit", "spline")
        + value["shaft_station"] * same("unit", "station")
        + value["cell"] * same("unit", "spline", "station")
    )
    for name, kind in (("home", home), ("workshop", 1 - home)):
        both = np.outer(kind, kind)
        covariance += both * (value[f"measurer_{name}"] * same("measurer"))
        covariance += both * (value[f"inspection_{name}"] * same("inspection"))
        covariance += np.diag(kind * value[f"repeatability_{name}"])
    design = np.stack([((full["station"] == j) & ~piece).to_numpy(dtype=float) for j in range(3)] + [home], axis=1)
    return full, covariance, design


def dense_measurers(frame: pd.DataFrame, variances: FloatArray) -> dict[str, tuple[float, float]]:
    """Predict what each measurer reads too large, and how sure that is, from the full covariance."""
    full, covariance, design = dense_model(frame, variances)
    inverse = np.linalg.inv(covariance)
    projector = inverse - inverse @ design @ np.linalg.inv(design.T @ inverse @ design) @ design.T @ inverse
    found = {}
    for who, mine in full.groupby("measurer").groups.items():
        own = float(variances[COMPONENTS.index(f"measurer_{full.loc[mine[0], 'class']}")])
        reads = full.index.isin(mine).astype(float)
        bias = own * float(reads @ projector @ full["width"].to_numpy(dtype=float))
        found[str(who)] = bias, float(np.sqrt(own - own**2 * reads @ projector @ reads))
    return found


def dense_criterion(frame: pd.DataFrame, variances: FloatArray) -> float:
    """Work the restricted likelihood out from the full covariance of all readings and check readings."""
    full, covariance, design = dense_model(frame, variances)
    y = full["width"].to_numpy(dtype=float)
    inverse = np.linalg.inv(covariance)
    precision = design.T @ inverse @ design
    projector = inverse - inverse @ design @ np.linalg.inv(precision) @ design.T @ inverse
    return float(
        np.linalg.slogdet(covariance)[1]
        + np.linalg.slogdet(precision)[1]
        + y @ projector @ y
        + (y.size - design.shape[1]) * np.log(2 * np.pi)
    )
