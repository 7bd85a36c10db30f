"""How honest the law of wear is: bias and coverage over a grid of truths; writes wear_law.md.

Run ``python -m tests.simulation.wear_law`` to remake the tables (about twenty minutes on one core).

Truths are drawn here by general-purpose generators alone; nothing of the fit is used to make them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.wear.describe import wear_of
from wearstats.domain.arrays import FloatArray

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261125
REPLICATES = {60: 200, 200: 200, 1000: 100}
NEW_SD_UM = 6.0
COMMON_SE_UM = 1.0
ASKED = ("mean", "0.1", "0.5", "0.9")


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """A law of wear.

    Parameters
    ----------
    words : str
        What it is.
    unworn : float
        Share without wear.
    wear : callable
        Draws the wear of worn shafts, um, from a generator, so many.
    """

    words: str
    unworn: float
    wear: Callable[[np.random.Generator, int], FloatArray]

    def draw(self, rng: np.random.Generator, shafts: int) -> FloatArray:
        """Draw what shafts have lost below the nominal width, um."""
        worn = rng.random(shafts) >= self.unworn
        return rng.normal(0.0, NEW_SD_UM, shafts) + np.where(worn, self.wear(rng, shafts), 0.0)


def _by_duty(rng: np.random.Generator, shafts: int) -> FloatArray:
    return rng.gamma(2.0, rng.choice([10.0, 20.0, 35.0], shafts, p=[0.40, 0.35, 0.25]))


def _two_lumps(rng: np.random.Generator, shafts: int) -> FloatArray:
    return np.where(rng.random(shafts) < 0.5, rng.normal(25.0, 6.0, shafts), rng.normal(75.0, 10.0, shafts))


TRUTHS = {
    "gamma": Truth(words="shape 2, mean 40 um", unworn=0.2, wear=lambda rng, n: rng.gamma(2.0, 20.0, n)),
    "lognormal": Truth(
        words="mean 40 um, SD of the logarithm 0.8",
        unworn=0.2,
        wear=lambda rng, n: rng.lognormal(np.log(40.0) - 0.32, 0.8, n),
    ),
    "Weibull": Truth(
        words="shape 1.3, mean 40 um", unworn=0.2, wear=lambda rng, n: 40.0 / 0.923577 * rng.weibull(1.3, n)
    ),
    "three duties": Truth(
        words="gamma whose mean is 20, 40 or 70 um by duty: no family of the candidates", unworn=0.2, wear=_by_duty
    ),
    "two lumps": Truth(
        words="half about 25 um (SD 6), half about 75 um (SD 10): no family of the candidates",
        unworn=0.2,
        wear=_two_lumps,
    ),
    "all worn": Truth(words="gamma, shape 2, mean 40 um", unworn=0.0, wear=lambda rng, n: rng.gamma(2.0, 20.0, n)),
}


def error_sds(rng: np.random.Generator, shafts: int) -> FloatArray:
    """Draw the standard deviation of each shaft's error, um: three in ten read by the workshop, others at home."""
    home = rng.uniform(6.2, 7.6, shafts)
    return np.where(rng.random(shafts) < 0.3, rng.uniform(1.5, 2.5, shafts), home)


def true_values(truth: Truth) -> dict[str, float]:
    """Mean and quantiles of the truth, from four million draws."""
    lost = truth.draw(np.random.default_rng([SEED, 0]), 4_000_000)
    return {"mean": float(lost.mean()), **{key: float(np.quantile(lost, float(key))) for key in ASKED[1:]}}


def study(truth: Truth, shafts: int, *, replicates: int, rng: np.random.Generator) -> dict[str, float]:
    """Invent fleets, describe their wear, and count."""
    values = true_values(truth)
    told: dict[str, list[Estimate]] = {name: [] for name in (*ASKED, "unworn")}
    for _ in range(replicates):
        lost, sd = truth.draw(rng, shafts), error_sds(rng, shafts)
        read = lost + rng.normal(0.0, sd) + rng.normal(0.0, COMMON_SE_UM)
        # predictions are not used with so many shafts
        wear = wear_of(read, sd, common_se_um=COMMON_SE_UM)
        told["mean"].append(wear.mean_um)
        for key in ASKED[1:]:
            told[key].append(wear.quantiles_um[key])
        told["unworn"].append(wear.unworn_share)
    result: dict[str, float] = {}
    for name in ASKED:
        result |= {f"{name}: {key}": value for key, value in score(told[name], values[name]).items()}
    said = [share for share in told["unworn"] if share.value is not None]
    result["unworn: told"] = len(said) / replicates
    blank = {"cover": float("nan"), "bias": float("nan"), "width": float("nan")}
    found = score(said, truth.unworn) if len(said) > 1 else blank
    return result | {f"unworn: {key}": value for key, value in found.items()}


def score(estimates: list[Estimate], value: float) -> dict[str, float]:
    """Coverage, bias in standard deviations of the estimate, and median width of the intervals."""
    rows = np.array(
        [
            (
                e.value,
                -np.inf if e.low is None else e.low,
                np.inf if e.high is None else e.high,
            )
            for e in estimates
        ],
        dtype=float,
    )
    spread = float(rows[:, 0].std())
    return {
        "cover": float(np.mean((rows[:, 1] <= value) & (value <= rows[:, 2]))),
        "bias": float(rows[:, 0].mean() - value) / spread if spread > 0 else float("nan"),
        "width": float(np.median(rows[:, 2] - rows[:, 1])),
    }


def table(*, replicates: dict[int, int] = REPLICATES, names: tuple[str, ...] = tuple(TRUTHS)) -> str:
    """Make the tables as Markdown."""
    found = {}
    for name in names:
        for shafts, times in replicates.items():
            rng = np.random.default_rng([SEED, list(TRUTHS).index(name), shafts])
            found[name, shafts] = study(TRUTHS[name], shafts, replicates=times, rng=rng)
            shown = {key: round(value, 3) for key, value in found[name, shafts].items()}
            print(name, shafts, shown, flush=True)  # noqa: T201 (it is run by hand, and long)
    errors = ", ".join(f"{(0.95 * 0.05 / times) ** 0.5:.3f} at {shafts}" for shafts, times in replicates.items())
    lines = [
        "# The law of wear: coverage and bias",
        "",
        f"{', '.join(f'{times} fleets of {shafts} shafts' for shafts, times in replicates.items())}, seed {SEED}. "
        "Three shafts in ten are read to 1.5 to 2.5 um, the others to 6.2 to 7.6; all readings share an error of "
        f"{COMMON_SE_UM:g} um; new shafts vary by {NEW_SD_UM:g} um. Intervals are meant to hold the truth 95 times in "
        f"100 (Monte Carlo error of the coverage {errors} shafts). A fifth of the shafts is unworn, unless it says all "
        "worn; the wear of the others:",
        "",
        *[f"- {name}: {TRUTHS[name].words}" for name in names],
    ]
    sections = [
        ("Coverage of 95 % intervals", [f"{name}: cover" for name in ASKED]),
        ("Bias in standard deviations of the estimate", [f"{name}: bias" for name in ASKED]),
        ("Median width of the intervals, um", [f"{name}: width" for name in ASKED]),
        (
            "The unworn share: how often it is told at all, and how well then",
            ["unworn: told", "unworn: cover", "unworn: bias", "unworn: width"],
        ),
    ]
    for heading, keys in sections:
        lines += ["", f"## {heading}", "", "| law | shafts | " + " | ".join(keys) + " |"]
        lines.append("|" + "---|" * (len(keys) + 2))
        for (name, shafts), row in found.items():
            cells = [name, str(shafts), *(f"{row[key]:.3f}" for key in keys)]
            lines.append("| " + " | ".join(cells) + " |")
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    if sys.argv[1:]:  # a short look
        table(replicates={int(n): int(sys.argv[1]) for n in sys.argv[2].split(",")}, names=tuple(TRUTHS))
    else:
        TABLE.write_text(table(), encoding="utf-8")
