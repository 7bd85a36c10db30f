"""How honest single shafts' widths are, by fleet and by wear; writes shaft_maps.md.

Run ``python -m tests.simulation.shaft_maps`` to remake the tables (about ten minutes on one core).

Fleets are drawn here by general-purpose generators alone. A fifth of the places is not read, gauges step from a
micrometre to a thou, a third of the shafts is measured twice at home, most of them by the same hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tests.analysis.support.opposite_pairs import opposite_pairs
from wearstats.analysis.gaps.posterior import draw_maps
from wearstats.analysis.wear.describe import wear_of
from wearstats.analysis.widths.data import PatternShape, WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import WidthFit, shared_sd
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.analysis.widths.shaft_means import mean_weights, read_alone
from wearstats.domain.arrays import FloatArray

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261127
FLEETS = {60: 60, 200: 20, 1000: 4}
SHAPE = PatternShape(pattern="P", splines=8, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)
STEPS_UM = {1.0: 0.35, 2.54: 0.10, 10.0: 0.40, 25.4: 0.15}
HOME_BIAS_UM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """How a fleet was measured.

    Parameters
    ----------
    workshop, checked : float
        Shares of the shafts that the workshop measured too, and of the home inspections with a check piece.
    rougher : float
        How much larger all biases are than usual.
    """

    workshop: float
    checked: float
    rougher: float = 1.0


SCENES = {
    "usual": Scene(workshop=0.35, checked=0.20),
    "hardly any workshop": Scene(workshop=0.05, checked=0.05),
    "rougher hands": Scene(workshop=0.20, checked=0.10, rougher=1.6),
}
QUESTIONS = ("mean", "place", "widest", "narrowest")
LAW = ("mean", "0.1", "0.5", "0.9")


def invent(shafts: int, scene: Scene, *, rng: np.random.Generator) -> tuple[WidthData, FloatArray, NDArray[np.bool_]]:
    """Invent true widths, um from new, shape (shafts, splines, stations), and readings; tell which only owners read."""
    grid = (shafts, SHAPE.splines, len(SHAPE.stations))
    wear = np.where(rng.random(shafts) < 0.2, 0.0, rng.gamma(2.0, 20.0, shafts))
    true = (
        (rng.normal(0.0, 6.0, shafts) - wear)[:, None, None]
        + rng.normal(0.0, 4.0, (*grid[:2], 1))
        + np.array([2.0, -4.0, 2.0])
        + rng.normal(0.0, 5.0, (shafts, 1, grid[2]))
        + rng.normal(0.0, 3.0, grid)
    )
    owner = rng.normal(HOME_BIAS_UM, 6.0 * scene.rougher, shafts)
    hand = rng.normal(0.0, 1.5 * scene.rougher, 4)
    again = rng.random(shafts) < 1 / 3
    seen = rng.random(shafts) < scene.workshop
    heads = pd.concat(
        [
            pd.DataFrame({"row": np.arange(shafts), "visit": 0, "kind": "home"}),
            pd.DataFrame({"row": np.flatnonzero(again), "visit": 1, "kind": "home"}),
            pd.DataFrame({"row": np.flatnonzero(seen), "visit": 2, "kind": "workshop"}),
        ],
        ignore_index=True,
    )
    size, home = len(heads), (heads["kind"] == "home").to_numpy()
    row = heads["row"].to_numpy()
    other = (heads["visit"].to_numpy() == 1) & (rng.random(size) < 0.3)
    which = rng.integers(4, size=size)
    bias = np.where(home, np.where(other, rng.normal(HOME_BIAS_UM, 6.0 * scene.rougher, size), owner[row]), hand[which])
    bias += rng.normal(0.0, np.where(home, 3.0, 1.0) * scene.rougher)
    noise = np.where(home, 5.0, 2.0)
    step = np.where(home, rng.choice(list(STEPS_UM), size, p=list(STEPS_UM.values())), 1.0)
    shown = true[row] + bias[:, None, None] + noise[:, None, None] * rng.standard_normal((size, *grid[1:]))
    shown = np.round(shown / step[:, None, None]) * step[:, None, None]
    pin = np.round((bias + noise * rng.standard_normal(size)) / step) * step
    names = heads["row"].astype(str) + "-" + heads["visit"].astype(str)
    inspections = pd.DataFrame(
        {
            "inspection": names,
            "unit": heads["row"].astype(str),
            "shaft": heads["row"].astype(str),
            "measurer": np.where(
                home,
                np.where(other, "friend-", "owner-") + heads["row"].astype(str).to_numpy(dtype=object),
                "hand-" + which.astype(str).astype(object),
            ),
            "class": heads["kind"],
            "step_um": step,
            "check_um": np.where(home & (rng.random(size) < scene.checked), pin, np.nan),
            "pattern": "P",
            "group": "",
            "marked": True,
        }
    )
    at, spline, station = np.nonzero(rng.random(shown.shape) < 0.8)
    moments = pd.DataFrame(
        {
            "inspection": names.to_numpy()[at],
            "spline": spline + 1,
            "station": station,
            "n": 1,
            "mean_um": shown[at, spline, station],
            "within_um2": 0.0,
        }
    )
    return reduce_readings(moments, inspections, {"P": SHAPE}), true, ~seen


def covered(
    fit: WidthFit, data: WidthData, true: FloatArray, alone: NDArray[np.bool_], *, rng: np.random.Generator
) -> pd.DataFrame:
    """Tell of every shaft whether its intervals hold the truth, and how wide that of the mean is."""
    parts = []
    average = np.full(SHAPE.places, 1 / SHAPE.places)
    for prediction in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[prediction.unit]
        truth = true[shaft].reshape(shaft.size, -1)
        sd = np.sqrt(np.einsum("i,uij,j->u", average, prediction.covariance_um2, average))
        draws = draw_maps(prediction, opposite_pairs(rng, 400, SHAPE.places)).reshape(shaft.size, -1, SHAPE.places)
        ends = {
            "widest": np.quantile(draws.max(axis=2), [0.025, 0.975], axis=1),
            "narrowest": np.quantile(draws.min(axis=2), [0.025, 0.975], axis=1),
        }
        parts.append(
            pd.DataFrame(
                {
                    "shaft": shaft,
                    "mean": np.abs((truth - prediction.mean_um) @ average) <= 1.96 * sd,
                    "place": (np.abs(truth - prediction.mean_um) <= 1.96 * prediction.sd_um).mean(axis=1),
                    "widest": (ends["widest"][0] <= truth.max(axis=1)) & (truth.max(axis=1) <= ends["widest"][1]),
                    "narrowest": (ends["narrowest"][0] <= truth.min(axis=1))
                    & (truth.min(axis=1) <= ends["narrowest"][1]),
                    "width": 2 * 1.96 * sd,
                }
            )
        )
    frame = pd.concat(parts, ignore_index=True)
    level = true.mean(axis=(1, 2))
    tertile = np.searchsorted(np.quantile(level, [1 / 3, 2 / 3]), level[frame["shaft"]])
    return frame.assign(alone=alone[frame["shaft"]], tertile=2 - tertile)


def law_covers(fit: WidthFit, data: WidthData, *, truth: dict[str, float]) -> dict[str, bool]:
    """Tell whether the intervals of the law of wear, fitted to what the readings say of the shafts, hold the truth."""
    read = read_alone(fit, data, {"P": mean_weights(SHAPE)}, shared=False)
    below, sd = -read["value_um"].to_numpy(), read["sd_um"].to_numpy()
    wear = wear_of(below, sd, common_se_um=shared_sd(fit), unworn=False)
    told = {"mean": wear.mean_um, **wear.quantiles_um}
    held = {}
    for name in LAW:
        low, high = told[name].low, told[name].high
        held[name] = low is not None and high is not None and low <= truth[name] <= high
    return held


def true_law() -> dict[str, float]:
    """Mean and quantiles of the true mean wear, from a million draws."""
    rng = np.random.default_rng([SEED, 0])
    size = 1_000_000
    lost = np.where(rng.random(size) < 0.2, 0.0, rng.gamma(2.0, 20.0, size)) + rng.normal(0.0, 6.0, size)
    # a shaft's own splines, stations and places move its mean a little
    lost += rng.normal(0.0, np.sqrt(4.0**2 / 8 + 5.0**2 / 3 + 3.0**2 / 24), size)
    return {"mean": float(lost.mean()), **{key: float(np.quantile(lost, float(key))) for key in LAW[1:]}}


def study(shafts: int, scene: Scene, *, fleets: int, rng: np.random.Generator) -> dict[str, float]:
    """Invent fleets, predict every shaft, and count."""
    frames, laws = [], []
    truth = true_law()
    for _ in range(fleets):
        data, true, alone = invent(shafts, scene, rng=rng)
        fit = fit_widths(data, intervals=False)
        frames.append(covered(fit, data, true, alone, rng=rng).astype({"mean": float}))
        laws.append(law_covers(fit, data, truth=truth))
    every = pd.concat(frames, ignore_index=True)
    found = {name: float(every[name].mean()) for name in QUESTIONS}
    home = every[every["alone"]]
    found["mean, home only"] = float(home["mean"].mean())
    found["error"] = float(np.std([frame["mean"].mean() for frame in frames])) / fleets**0.5
    found["width, home only"] = float(home["width"].median())
    for k, words in enumerate(("least", "middle", "most")):
        for name in ("mean", "widest", "narrowest"):
            found[f"{name}, {words} worn"] = float(every.loc[every["tertile"] == k, name].mean())
    for name in LAW:
        found[f"law: {name}"] = float(np.mean([law[name] for law in laws]))
    return found


def table(*, fleets: dict[int, int] = FLEETS) -> str:
    """Make the tables as Markdown."""
    found = {}
    for number, (name, scene) in enumerate(SCENES.items()):
        for shafts, times in fleets.items():
            rng = np.random.default_rng([SEED, number, shafts])
            found[name, shafts] = study(shafts, scene, fleets=times, rng=rng)
            shown = {key: round(value, 3) for key, value in found[name, shafts].items()}
            print(name, shafts, shown, flush=True)  # noqa: T201 (it is run by hand, and long)
    lines = [
        "# Single shafts: coverage of what is told of their widths",
        "",
        f"{', '.join(f'{times} fleets of {shafts} shafts' for shafts, times in fleets.items())} in each scene, seed "
        f"{SEED}. A fifth of the places is not read; gauges at home step by 1, 2.5, 10 or 25.4 um, in the workshop by "
        "1; a third of the shafts is measured twice at home, seven in ten of these by the same hand. The width model "
        "is fitted to each fleet, and every shaft predicted. Intervals are meant to hold the truth 95 times in 100; "
        "error: Monte Carlo error of the coverage of means, between fleets; width: median, um.",
        "",
        *[
            f"- {name}: the workshop measured {100 * scene.workshop:.0f} shafts in 100 too, "
            f"{100 * scene.checked:.0f} home inspections in 100 had a check piece"
            + ("" if scene.rougher == 1 else f"; all biases {scene.rougher:g} times as large")
            for name, scene in SCENES.items()
        ],
    ]
    keys = list(next(iter(found.values())))
    sections = [
        ("All shafts", [key for key in keys if "worn" not in key and "law" not in key]),
        ("By tertile of true wear", [key for key in keys if "worn" in key]),
        (
            "The law of wear, fitted to the same fleets, where these are twenty or more",
            [key for key in keys if "law" in key],
        ),
    ]
    for heading, columns in sections:
        lines += ["", f"## {heading}", "", "| scene | shafts | " + " | ".join(columns) + " |"]
        lines.append("|" + "---|" * (len(columns) + 2))
        enough = 20 if columns[0].startswith("law") else 1
        for (name, shafts), row in found.items():
            if fleets[shafts] < enough:
                continue
            lines.append("| " + " | ".join([name, str(shafts), *(f"{row[key]:.3f}" for key in columns)]) + " |")
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    TABLE.write_text(table(), encoding="utf-8")
