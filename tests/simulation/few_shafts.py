"""How honest single shafts' widths are where hardly any are on record; writes the last section of shaft_maps.md.

Run ``python -m tests.simulation.few_shafts`` to remake that section (about a quarter of an hour on one core).

Every fleet is fitted once and predicted twice: with its spreads weighed against what is thought likely of them, and
with the spreads as estimated plugged in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from tests.simulation.shaft_maps import HOME_BIAS_UM, SHAPE, STEPS_UM, TABLE
from wearstats.analysis.widths.data import WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import ASSUMED_UM, STATED_SD, WEAK_UM, WidthFit
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray

SEED = 20261128
FLEETS = {1: 600, 2: 300, 3: 250, 5: 150, 10: 75, 30: 25}
HEADING = "\n## Few shafts\n"
AVERAGE = np.full(SHAPE.places, 1 / SHAPE.places)

_BIASES = ("measurer_home", "inspection_home")

Spreads = dict[str, float]
_USUAL: Spreads = {
    "wear": 1.0,
    "spline": 4.0,
    "shaft_station": 5.0,
    "cell": 3.0,
    "measurer_home": 6.0,
    "inspection_home": 3.0,
    "repeatability_home": 5.0,
    "home_bias": HOME_BIAS_UM,
}


def _drawn(rng: np.random.Generator) -> Spreads:
    """Draw every spread from what is thought likely of it; that of shafts as a factor on the usual wear, SD 29 um."""
    biases = {name: (ASSUMED_UM[name] * np.exp(-(STATED_SD**2) / 4), np.exp(STATED_SD / 2)) for name in _BIASES}
    likely = WEAK_UM | biases
    found = {name: middle * factor ** rng.standard_normal() for name, (middle, factor) in likely.items()}
    return found | {"wear": found["shaft"] / 29.0, "home_bias": rng.normal(0.0, 4.0)}


SCENES: Mapping[str, Callable[[np.random.Generator], Spreads]] = {
    "usual": lambda _: _USUAL,
    "shafts alike": lambda _: _USUAL | {"wear": 0.25},
    "drawn": _drawn,
}


def invent(shafts: int, spreads: Spreads, *, rng: np.random.Generator) -> tuple[WidthData, FloatArray]:
    """Invent true widths, shape (shafts, splines, stations), and one or two inspections of each by its owner."""
    grid = (shafts, SHAPE.splines, len(SHAPE.stations))
    wear = np.where(rng.random(shafts) < 0.2, 0.0, rng.gamma(2.0, 20.0, shafts)) + rng.normal(0.0, 6.0, shafts)
    true = (
        -spreads["wear"] * wear[:, None, None]
        + rng.normal(0.0, spreads["spline"], (*grid[:2], 1))
        + np.array([2.0, -4.0, 2.0])
        + rng.normal(0.0, spreads["shaft_station"], (shafts, 1, grid[2]))
        + rng.normal(0.0, spreads["cell"], grid)
    )
    row = np.repeat(np.arange(shafts), rng.integers(1, 3, shafts))
    owner = rng.normal(spreads["home_bias"], spreads["measurer_home"], shafts)
    bias = owner[row] + rng.normal(0.0, spreads["inspection_home"], row.size)
    step = rng.choice(list(STEPS_UM), row.size, p=list(STEPS_UM.values()))
    shown = true[row] + bias[:, None, None]
    shown = shown + spreads["repeatability_home"] * rng.standard_normal(shown.shape)
    shown = np.round(shown / step[:, None, None]) * step[:, None, None]
    names = np.array([f"{shaft}-{look}" for look, shaft in enumerate(row)], dtype=object)
    inspections = pd.DataFrame(
        {
            "inspection": names,
            "unit": row.astype(str),
            "shaft": row.astype(str),
            "measurer": [f"owner-{shaft}" for shaft in row],
            "class": "home",
            "step_um": step,
            "check_um": np.nan,
            "pattern": "P",
            "group": "",
            "marked": True,
        }
    )
    read = rng.random(shown.shape) < 0.8
    # one spline at least is read everywhere, or a station may never be
    read[:, 0] = True
    at, spline, station = np.nonzero(read)
    moments = pd.DataFrame(
        {
            "inspection": names[at],
            "spline": spline + 1,
            "station": station,
            "n": 1,
            "mean_um": shown[at, spline, station],
            "within_um2": 0.0,
        }
    )
    return reduce_readings(moments, inspections, {"P": SHAPE}), true


def mean_sd(fit: WidthFit, data: WidthData) -> FloatArray:
    """Give the error (SD, um) of every shaft's mean width, shape (shafts,)."""
    found = np.zeros(len(data.units))
    for told in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[told.unit]
        found[shaft] = np.sqrt(np.einsum("i,uij,j->u", AVERAGE, told.covariance_um2, AVERAGE))
    return found


def covered(fit: WidthFit, data: WidthData, true: FloatArray) -> pd.DataFrame:
    """Tell of every shaft whether its mean's interval holds the truth, the share of its places', and the widths."""
    parts = []
    for told in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[told.unit]
        error = true[shaft].reshape(shaft.size, -1) - told.mean_um
        sd = np.sqrt(np.einsum("i,uij,j->u", AVERAGE, told.covariance_um2, AVERAGE))
        parts.append(
            pd.DataFrame(
                {
                    "shaft": shaft,
                    "mean": np.abs(error @ AVERAGE) <= 1.96 * sd,
                    "place": (np.abs(error) <= 1.96 * told.sd_um).mean(axis=1),
                    "width": 2 * 1.96 * sd,
                }
            )
        )
    return pd.concat(parts, ignore_index=True).sort_values("shaft").astype(float)


def study(shafts: int, scene: str, *, fleets: int, rng: np.random.Generator) -> dict[str, float]:
    """Invent fleets, predict every shaft in both ways, and count."""
    weighed, plugged = [], []
    for _ in range(fleets):
        data, true = invent(shafts, SCENES[scene](rng), rng=rng)
        fit = fit_widths(data, intervals=False)
        weighed.append(covered(fit, data, true))
        plugged.append(covered(replace(fit, weighed=None), data, true))
    now, before = pd.concat(weighed), pd.concat(plugged)
    by_fleet = [frame["mean"].mean() for frame in weighed]
    wider = now["width"].to_numpy() / before["width"].to_numpy()
    return {
        "mean": float(now["mean"].mean()),
        "mean, plugged in": float(before["mean"].mean()),
        "place": float(now["place"].mean()),
        "place, plugged in": float(before["place"].mean()),
        "error": float(np.std(by_fleet)) / fleets**0.5,
        "width": float(now["width"].median()),
        "width, plugged in": float(before["width"].median()),
        "narrowest": float(now["width"].min()),
        "narrowest, plugged in": float(before["width"].min()),
        "wider, median": float(np.median(wider)),
        "wider, 95 in 100": float(np.quantile(wider, 0.95)),
    }


def section(*, fleets: Mapping[int, int] = FLEETS) -> str:
    """Make the section as Markdown."""
    lines = [
        "",
        f"{', '.join(f'{times} of {shafts}' for shafts, times in fleets.items())} shafts in each scene, seed {SEED}; "
        "one or two inspections of each shaft by its owner, none by the workshop, no check piece. Plugged in: with "
        "spreads as they were estimated, as predictions were before; else with spreads weighed against what is thought "
        "likely of them. Wider: how many times as wide the intervals of the mean are.",
        "",
        "- usual: as above, wear with a standard deviation of 29 um",
        "- shafts alike: wear a quarter of that",
        "- drawn: every spread drawn anew for each fleet from what is thought likely of it, biases by a factor "
        "of 1.6 about 0.8 of their limits",
        "",
    ]
    for number, scene in enumerate(SCENES):
        for shafts, times in fleets.items():
            found = study(shafts, scene, fleets=times, rng=np.random.default_rng([SEED, number, shafts]))
            print(scene, shafts, {key: round(value, 3) for key, value in found.items()}, flush=True)  # noqa: T201 (run by hand)
            if lines[-1] == "":
                lines.append("| scene | shafts | " + " | ".join(found) + " |")
                lines.append("|" + "---|" * (len(found) + 2))
            lines.append("| " + " | ".join([scene, str(shafts), *(f"{value:.3f}" for value in found.values())]) + " |")
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    above = TABLE.read_text(encoding="utf-8").split(HEADING)[0].rstrip("\n")
    TABLE.write_text(f"{above}\n{HEADING}{section()}", encoding="utf-8")
