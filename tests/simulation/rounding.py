"""How far coarse steps can be corrected simply, and where intervals are needed; writes rounding.md.

Run ``python -m tests.simulation.rounding`` to remake the tables (about five minutes on one core).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats

from tests.analysis.support.rounded_data import fit_rounded
from wearstats.analysis.widths.data import PatternShape, WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261126
STEPS = (1.0, 2.5, 10.0, 12.7, 25.4)
REPEATABILITIES = (2.0, 5.0, 8.0)
READINGS = 24
REPLICATES = 200
SHAFTS = 200
FLEETS = 3
SHAPE = PatternShape(pattern="P", splines=8, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)
SD_UM = {"shaft": 25.0, "spline": 4.0, "station": 5.0, "cell": 3.0, "measurer": 6.0, "inspection": 3.0}


def study(step: float, repeatability: float, *, replicates: int, rng: np.random.Generator) -> dict[str, float]:
    """Read one width `READINGS` times, many times over, its place between two steps being chance."""
    simple, exact, refused = [], [], 0
    for _ in range(replicates):
        truth = rng.uniform(0.0, step)
        shown = np.round((truth + rng.normal(0.0, repeatability, READINGS)) / step) * step
        average, square = float(shown.mean()), float(shown.var(ddof=1))
        reach = stats.t.ppf(0.975, READINGS - 1) * np.sqrt(square / READINGS)
        ends = (READINGS - 1) * square / stats.chi2.ppf([0.975, 0.025], READINGS - 1) - step**2 / 12
        low, high = np.sqrt(np.maximum(ends, 0.0))
        corrected = np.sqrt(max(square - step**2 / 12, 0.0))
        simple.append((average - truth, abs(average - truth) <= reach, corrected, low <= repeatability <= high))
        values, counts = np.unique(shown, return_counts=True)
        found = fit_rounded(values, counts, step_um=step)
        mean, sd = found.mean_um, found.sd_um
        refused += sd.value is None
        inside = (-np.inf if mean.low is None else mean.low) <= truth <= (np.inf if mean.high is None else mean.high)
        held = (sd.low or 0.0) <= repeatability <= (np.inf if sd.high is None else sd.high)
        exact.append(((mean.value or 0.0) - truth, inside, np.nan if sd.value is None else sd.value, held))
    result = {}
    for name, rows in (("simple", simple), ("intervals", exact)):
        table = np.array(rows, dtype=float)
        result[f"{name}: error mean"] = float(np.sqrt(np.mean(table[:, 0] ** 2)))
        result[f"{name}: cover mean"] = float(table[:, 1].mean())
        told = table[np.isfinite(table[:, 2]), 2]
        result[f"{name}: sd"] = float(told.mean()) if told.size else float("nan")
        result[f"{name}: cover sd"] = float(table[:, 3].mean())
    result["sd only bounded"] = refused / replicates
    return result


def fleet(shafts: int, *, step: float, repeatability: float, rng: np.random.Generator) -> tuple[WidthData, FloatArray]:
    """Invent shafts that owners read, half of them twice, and the workshop, two in five, twice to a micrometre."""
    shape = (shafts, SHAPE.splines, len(SHAPE.stations))
    true = (
        -40.0
        + rng.normal(0, SD_UM["shaft"], (shafts, 1, 1))
        + rng.normal(0, SD_UM["spline"], (*shape[:2], 1))
        + rng.normal(0, SD_UM["station"], (shafts, 1, shape[2]))
        + rng.normal(0, SD_UM["cell"], shape)
    )
    heads, moments = [], []
    spline, station = np.divmod(np.arange(SHAPE.places), shape[2])
    for shaft in range(shafts):
        owner = rng.normal(4.0, SD_UM["measurer"])
        visits = [("home", f"owner-{shaft}", owner, repeatability, step)] * (1 + int(rng.random() < 0.5))
        if rng.random() < 0.4:
            # by one hand twice: else its occasions and the owners' biases are hardly told apart
            visits += [("workshop", f"hand-{rng.integers(4)}", 0.0, 2.0, 1.0)] * 2
        for number, (kind, who, bias, noise, unit) in enumerate(visits):
            shift = bias + rng.normal(0, SD_UM["inspection"] if kind == "home" else 1.0)
            shown = np.round((true[shaft] + shift + rng.normal(0, noise, shape[1:])) / unit) * unit
            name = f"{shaft}-{number}"
            heads.append((name, str(shaft), who, kind, unit))
            moments.append(
                pd.DataFrame(
                    {
                        "inspection": name,
                        "spline": spline + 1,
                        "station": station,
                        "n": 1,
                        "mean_um": shown.ravel(),
                        "within_um2": 0.0,
                    }
                )
            )
    inspections = pd.DataFrame(heads, columns=["inspection", "unit", "measurer", "class", "step_um"])
    inspections = inspections.assign(shaft=inspections["unit"], pattern="P", group="", check_um=np.nan, marked=True)
    return reduce_readings(pd.concat(moments, ignore_index=True), inspections, {"P": SHAPE}), true


def map_errors(fit: WidthFit, data: WidthData, true: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the standardised errors of all places, and of the mean widths, of shafts that only their owners read."""
    visited = data.inspections.loc[data.inspections["class"] == "workshop", "unit"]
    alone = ~data.units["unit"].isin(visited).to_numpy()
    places, means = [], []
    average = np.full(SHAPE.places, 1 / SHAPE.places)
    for prediction in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[prediction.unit]
        error = true[shaft].reshape(shaft.size, -1) - prediction.mean_um
        mine = alone[prediction.unit]
        places.append((error / prediction.sd_um)[mine].ravel())
        spread = np.sqrt(np.einsum("i,uij,j->u", average, prediction.covariance_um2, average))
        means.append((error @ average / spread)[mine])
    return np.concatenate(places), np.concatenate(means)


def unrounded(data: WidthData) -> WidthData:
    """Hide the steps from the search for coarse gauges, but not their variance: the simple correction everywhere."""
    steps = data.inspections["step_um"].to_numpy(dtype=float)
    blocks = tuple(
        replace(block, rounding=np.repeat((steps[block.inspection] ** 2 / 12)[..., None], SHAPE.slots, axis=2))
        for block in data.blocks
    )
    return replace(data, blocks=blocks, inspections=data.inspections.assign(step_um=0.0))


def fleet_study(step: float, repeatability: float, *, fleets: int, rng: np.random.Generator) -> dict[str, float]:
    """Fit fleets both ways; average repeatability, spread of an owner's bias, and coverage of widths."""
    found: dict[str, list[float]] = {}
    for _ in range(fleets):
        data, true = fleet(SHAFTS, step=step, repeatability=repeatability, rng=rng)
        for name, mine in (("simple", unrounded(data)), ("intervals", data)):
            fit = fit_widths(mine, intervals=False)
            places, means = map_errors(fit, mine, true)
            for key, value in (
                ("repeatability", fit.components_um["repeatability_home"].value),
                ("cell", fit.components_um["cell"].value),
                ("cover place", float(np.mean(np.abs(places) < 1.96))),
                ("cover shaft", float(np.mean(np.abs(means) < 1.96))),
            ):
                found.setdefault(f"{name}: {key}", []).append(float("nan") if value is None else value)
    return {key: float(np.mean(values)) for key, values in found.items()}


def table(*, replicates: int = REPLICATES, fleets: int = FLEETS) -> str:
    """Make the tables as Markdown."""
    lines = [
        "# Coarse steps: the simple correction and the intervals",
        "",
        "## One width read several times",
        "",
        f"{READINGS} readings of one width, {replicates} times, seed {SEED}; the width lies anywhere between two "
        "steps. Simple: Student's interval about the mean; step^2 / 12 taken off the variance. Intervals: "
        f"`fit_rounded`. Error: root mean square, um; sd: mean of those told, um; cover: of 95 % intervals "
        f"(Monte Carlo error {(0.95 * 0.05 / replicates) ** 0.5:.3f}); only bounded: readings "
        "on one value or two neighbouring ones, so that the few sd told are those that came out large.",
        "",
    ]
    return "\n".join(lines + _rows(study, STEPS, REPEATABILITIES, replicates=replicates)) + "\n".join(
        [
            "",
            "",
            "## Fleets",
            "",
            f"{SHAFTS} shafts whose owners all read in such steps, {fleets} fleets each; true cell 3 um. Simple: "
            "step^2 / 12 a reading everywhere; intervals: `fit_widths` and `predict_maps`, which use them above 2.5 "
            "repeatabilities. Cover: of the 95 % intervals of places and of mean widths, where only the owner read "
            f"(Monte Carlo error of the latter {(0.95 * 0.05 / fleets / SHAFTS / 0.6) ** 0.5:.3f}).",
            "",
            *_rows(fleet_study, STEPS[2:], REPEATABILITIES, fleets=fleets),
            "",
        ]
    )


def _rows(
    work: Callable[..., dict[str, float]], steps: Sequence[float], repeatabilities: Sequence[float], **size: int
) -> list[str]:
    lines: list[str] = []
    for step in steps:
        for repeatability in repeatabilities:
            rng = np.random.default_rng([SEED, int(10 * step), int(repeatability)])
            found = work(step, repeatability, rng=rng, **size)
            if not lines:
                lines = ["| " + " | ".join(["step", "repeatability", *found]) + " |", "|" + "---|" * (len(found) + 2)]
            cells = [f"{step:g}", f"{repeatability:g}", *(f"{value:.3f}" for value in found.values())]
            lines.append("| " + " | ".join(cells) + " |")
            print(lines[-1], flush=True)  # noqa: T201 (it is run by hand, and long)
    return lines


if __name__ == "__main__":
    TABLE.write_text(table(), encoding="utf-8")
