"""How honest all that is told of widths and wear is where hardly any shafts are on record; writes few_shafts.md.

Run ``python -m tests.simulation.few_shafts`` to remake the tables (about three quarters of an hour on one core); what
they were before spreads were integrated over is kept as it stands.

Every fleet has a seed of its own, so that two versions of the program are judged on the same fleets.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from tests.analysis.support.opposite_pairs import opposite_pairs
from tests.simulation import shaft_maps
from tests.simulation.shaft_maps import HOME_BIAS_UM, SHAPE, STEPS_UM
from wearstats.analysis.gaps.posterior import GAUGED_SD_UM, draw_maps, fit_draws
from wearstats.analysis.wear.describe import wear_of
from wearstats.analysis.widths.data import WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import (
    ASSUMED_UM,
    ONE_IN_TWENTY_UM,
    SHAFTS_FACTOR,
    SHAFTS_UM,
    STATED_SD,
    WidthFit,
    shared_sd,
)
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.analysis.widths.shaft_means import mean_weights, read_alone
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import gap_left

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261129
FLEETS = {1: 30, 2: 24, 3: 24, 5: 20, 10: 14, 20: 12, 60: 4}
"""Fleets by how many shafts they have; half as many again where spreads are drawn."""
AVERAGE = np.full(SHAPE.places, 1 / SHAPE.places)
WEAR_SD_UM = 30.5
"""Standard deviation of usual wear, new widths in it."""
BEFORE = "\n## Before: spreads weighed and plugged in, wear by stretched predictions\n"
LAW = ("mean", "0.1", "0.5", "0.9")
DRAWS = 200

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
_HANDS = ("measurer_home", "inspection_home", "repeatability_home")


def _hands(times: float) -> Spreads:
    return _USUAL | {name: times * _USUAL[name] for name in _HANDS}


def _drawn(rng: np.random.Generator) -> Spreads:
    """Draw every spread from its prior; that of shafts as a factor on the usual wear."""
    found = {name: float(rng.exponential(end / np.log(20))) for name, end in ONE_IN_TWENTY_UM.items()}
    found["shaft"] = float(SHAFTS_UM * SHAFTS_FACTOR ** rng.standard_normal())
    for name in ("measurer_home", "inspection_home"):
        found[name] = float(ASSUMED_UM[name] * np.exp(STATED_SD * rng.standard_normal() / 2 - STATED_SD**2 / 4))
    return found | {"wear": found["shaft"] / WEAR_SD_UM, "home_bias": float(rng.normal(0.0, 4.0))}


SCENES: Mapping[str, tuple[int, str, Callable[[np.random.Generator], Spreads]]] = {
    "usual": (0, "wear with a standard deviation of 30 um, biases of hands of 6, of occasions of 3", lambda _: _USUAL),
    "workshop too": (1, "the same; the workshop measured 35 shafts in 100 too, some pins", lambda _: _USUAL),
    "shafts alike": (2, "wear a quarter of that", lambda _: _USUAL | {"wear": 0.25}),
    "shafts far apart": (3, "wear 1.6 times that", lambda _: _USUAL | {"wear": 1.6}),
    "careful hands": (4, "biases and repeatability half as large", lambda _: _hands(0.5)),
    "rough hands": (5, "biases and repeatability 1.3 times as large", lambda _: _hands(1.3)),
    "drawn": (6, "every spread drawn anew for each fleet from its prior density, biases about their limits", _drawn),
}
"""By name: a number for its seeds, what it is, and how its spreads are drawn."""


def usual_loss(rng: np.random.Generator, shafts: int) -> FloatArray:
    """Draw what shafts have lost, um, shape (shafts,): a fifth is unworn."""
    return np.where(rng.random(shafts) < 0.2, 0.0, rng.gamma(2.0, 20.0, shafts)) + rng.normal(0.0, 6.0, shafts)


def invent(shafts: int, spreads: Spreads, *, rng: np.random.Generator) -> tuple[WidthData, FloatArray]:
    """Invent true widths, shape (shafts, splines, stations), and one or two inspections of each by its owner."""
    grid = (shafts, SHAPE.splines, len(SHAPE.stations))
    true = (
        -spreads["wear"] * usual_loss(rng, shafts)[:, None, None]
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


def fleet(scene: str, shafts: int, number: int) -> tuple[WidthData, FloatArray, Spreads, np.random.Generator]:
    """Invent one fleet of a scene; nothing but its number says which."""
    which, _, draw = SCENES[scene]
    rng = np.random.default_rng([SEED, which, shafts, number])
    spreads = draw(rng)
    if scene == "workshop too":
        data, true, _ = shaft_maps.invent(shafts, shaft_maps.SCENES["usual"], rng=rng)
    else:
        data, true = invent(shafts, spreads, rng=rng)
    return data, true, spreads, rng


@cache
def _many() -> FloatArray:
    rng = np.random.default_rng([SEED, 99])
    return np.stack([usual_loss(rng, 40_000), rng.standard_normal(40_000)])


def true_law(spreads: Spreads) -> dict[str, float]:
    """Mean and quantiles of what shafts have lost; a shaft's own splines, stations and places move it a little."""
    own = (spreads["spline"] ** 2 / 8 + spreads["shaft_station"] ** 2 / 3 + spreads["cell"] ** 2 / 24) ** 0.5
    lost = spreads["wear"] * _many()[0] + own * _many()[1]
    return {"mean": float(lost.mean())} | {key: float(np.quantile(lost, float(key))) for key in LAW[1:]}


def mean_sd(fit: WidthFit, data: WidthData) -> FloatArray:
    """Give the error (SD, um) of every shaft's mean width, shape (shafts,)."""
    found = np.zeros(len(data.units))
    for told in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[told.unit]
        found[shaft] = np.sqrt(np.einsum("i,uij,j->u", AVERAGE, told.covariance_um2, AVERAGE))
    return found


def shafts_told(fit: WidthFit, data: WidthData, true: FloatArray, rng: np.random.Generator) -> pd.DataFrame:
    """Tell of every shaft whether the intervals of its mean and of a hub's gap hold the truth, and how wide they are.

    The hub is the one in steps of 10 um whose space is nearest to 5 um over the mean width as predicted; it was gauged.
    """
    parts = []
    for told in predict_maps(fit, data):
        shaft = data.units["shaft"].astype(int).to_numpy()[told.unit]
        error = true[shaft].reshape(shaft.size, -1) - told.mean_um
        sd = np.sqrt(np.einsum("i,uij,j->u", AVERAGE, told.covariance_um2, AVERAGE))
        space = 10.0 * np.round((told.mean_um @ AVERAGE + 5.0) / 10.0)
        maps = draw_maps(told, opposite_pairs(rng, DRAWS, SHAPE.places)[None])
        hub = space[:, None] + GAUGED_SD_UM * opposite_pairs(rng, DRAWS, shaft.size).T
        low, high = np.quantile(fit_draws(maps, hub).gap_left_um, [0.025, 0.975], axis=1)
        really = space + GAUGED_SD_UM * rng.standard_normal(shaft.size)
        gap = gap_left(true[shaft], really[:, None, None]).mean(axis=(1, 2))
        parts.append(
            pd.DataFrame(
                {
                    "shaft's mean": np.abs(error @ AVERAGE) <= 1.96 * sd,
                    "place": (np.abs(error) <= 1.96 * told.sd_um).mean(axis=1),
                    "gap": (low <= gap) & (gap <= high),
                    "width: shaft's mean": 2 * 1.96 * sd,
                    "width: gap": high - low,
                }
            )
        )
    return pd.concat(parts, ignore_index=True).astype(float)


def law_told(fit: WidthFit, data: WidthData, truth: dict[str, float]) -> dict[str, float]:
    """Tell whether the intervals of the law of wear hold the truth, and how wide they are."""
    read = read_alone(fit, data, {"P": mean_weights(SHAPE)}, shared=False)
    below, sd = -read["value_um"].to_numpy(), read["sd_um"].to_numpy()
    wear = wear_of(below, sd, common_se_um=shared_sd(fit), unworn=False)
    told = {"mean": wear.mean_um, **wear.quantiles_um}
    found = {}
    for name in LAW:
        low, high = told[name].low, told[name].high
        assert low is not None
        assert high is not None
        found[f"law: {name}"] = float(low <= truth[name] <= high)
        found[f"width: law: {name}"] = high - low
    return found


def study(scene: str, shafts: int, *, fleets: int, first: int = 0) -> dict[str, float]:
    """Invent fleets, tell all there is to tell, and count."""
    single, laws = [], []
    for number in range(first, first + fleets):
        data, true, spreads, rng = fleet(scene, shafts, number)
        fit = fit_widths(data, intervals=False)
        single.append(shafts_told(fit, data, true, rng).assign(fleet=number))
        laws.append(law_told(fit, data, true_law(spreads)))
    every = pd.concat(single)
    by_fleet = every.groupby("fleet").mean()
    law = pd.DataFrame(laws)
    found = {name: float(by_fleet[name].mean()) for name in ("shaft's mean", "place", "gap")}
    found["error"] = float(by_fleet["gap"].std()) / fleets**0.5
    for name in LAW:
        found[f"law: {name}"] = float(law[f"law: {name}"].mean())
    for name in ("shaft's mean", "gap"):
        found[f"width: {name}"] = float(every[f"width: {name}"].median())
    for name in LAW:
        of = f"width: law: {name}"
        found[of] = float(law[of].median())
    return found


def table(*, fleets: Mapping[int, int] = FLEETS) -> list[str]:
    """Make a table as Markdown lines."""
    lines: list[str] = []
    for scene in SCENES:
        for shafts, usual in fleets.items():
            times = round(1.5 * usual) if scene == "drawn" else usual
            found = {"fleets": float(times)} | study(scene, shafts, fleets=times)
            print(scene, shafts, {key: round(value, 3) for key, value in found.items()}, flush=True)  # noqa: T201 (run by hand)
            if not lines:
                lines = ["| scene | shafts | " + " | ".join(found) + " |", "|" + "---|" * (len(found) + 2)]
            lines.append(row_of(scene, shafts, found))
    return lines


def row_of(scene: str, shafts: int, found: Mapping[str, float]) -> str:
    """Give a row: coverage to three places, widths to one."""
    places = [0 if name == "fleets" else 1 if "width" in name else 3 for name in found]
    cells = [f"{value:.{digits}f}" for value, digits in zip(found.values(), places, strict=True)]
    return "| " + " | ".join([scene, str(shafts), *cells]) + " |"


def document(now: list[str], before: list[str]) -> str:
    """Put the tables together as Markdown."""
    lines = [
        "# Few shafts: coverage of what is told of widths, gaps and wear",
        "",
        f"Seed {SEED}, and each fleet has one of its own. One or two inspections of each shaft by its owner, none by "
        "the workshop and no check piece unless it says so; a fifth of the places is not read; gauges step by 1, "
        "2.5, 10 or 25.4 um. Intervals are meant to hold the truth 95 times in 100. The gap is the mean gap left by "
        "a gauged hub, chosen on the readings in hand; the law is that of wear over all shafts. Fleets count alike; "
        "error: Monte Carlo error of the coverage of gaps, between fleets; that of a law's column is 4 in 100 where "
        "there are 30 fleets, and 11 where there are 4. Widths: medians, um.",
        "",
        *[f"- {name}: {words}" for name, (_, words, _) in SCENES.items()],
        "",
        *[f"Not run: {name}." for name in SCENES if not any(line.startswith(f"| {name} |") for line in now)],
        "",
        "## Now: spreads integrated over",
        "",
        *now,
        "",
        BEFORE.strip("\n"),
        "",
        *before,
        "",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    kept = [line for line in TABLE.read_text(encoding="utf-8").split(BEFORE)[1].splitlines() if line.startswith("|")]
    TABLE.write_text(document(table(), kept), encoding="utf-8")
