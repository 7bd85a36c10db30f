"""Forecasts of failures, and the watch on them, against invented fleets whose future is known.

Run with ``python -m tests.simulation.forecast``; writes the table beside it. The fleets are drawn here, by numpy alone:
no code of the package's own simulator is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from wearstats.analysis.forecast import count_estimate, foretell
from wearstats.analysis.gap_nodes import GapNodes
from wearstats.analysis.loosening import fit_loosening
from wearstats.analysis.monitoring import binary_scores, cumulate
from wearstats.analysis.moving_limits import watch_with_moving_limits
from wearstats.analysis.silence import SilentHistories

TABLE = Path(__file__).with_name("forecast.md")
SEED = 20261125
SIZES = (120, 400, 1200)
REPLICATES = {120: 600, 400: 400, 1200: 200}
AHEAD = 3.0
YEARS_MONTHS = 36.0
SHAPE, SLOPE, LEVEL = 1.4, 0.6, -2.6
REPORTED, ASKED_A_MONTH, LEAVING = 0.6, 0.07, 0.004
NODES = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """Hubs as known now, and what becomes known in the quarter that follows."""

    histories: SilentHistories
    gaps: GapNodes
    running: np.ndarray
    known_next: np.ndarray


def draw_fleet(hubs: int, rng: np.random.Generator, *, times_as_many: float = 1.0) -> Fleet:
    """Draw hubs fitted over three years; `times_as_many` failures in the quarter to come."""
    age = rng.uniform(0.2, YEARS_MONTHS, hubs)
    mean, sd = rng.gamma(2.0, 8.0, hubs), 5.0
    gap = np.maximum(mean + sd * rng.standard_normal(hubs), 0.0)
    hazard = np.exp(LEVEL + SLOPE * (gap - 15.0) / 10.0)
    reach = rng.exponential(size=hubs)
    fails = 12.0 * (reach / hazard) ** (1.0 / SHAPE)
    if times_as_many != 1.0:
        # from now on the hazard is so many times as high
        now = hazard * (age / 12.0) ** SHAPE
        later = now + (reach - now) / times_as_many
        fails = np.where(reach > now, 12.0 * (np.maximum(later, now) / hazard) ** (1.0 / SHAPE), fails)
    leaves = rng.exponential(1.0 / LEAVING, hubs)
    said = np.where(rng.random(hubs) < REPORTED, fails + rng.uniform(0.0, 0.5, hubs), np.inf)
    asked = np.cumsum(rng.exponential(1.0 / ASKED_A_MONTH, (hubs, 24)), axis=1)
    found = np.where(asked >= fails[:, None], asked, np.inf).min(axis=1)
    known = np.minimum(said, found)
    off = leaves < fails
    failed = ~off & (known <= age)
    gone = off & (leaves <= age)
    until = np.where(failed, fails, np.where(gone, leaves, age))
    word = np.where(asked < np.minimum(until, fails)[:, None], asked, 0.0).max(axis=1)
    word = np.where(gone, leaves, word)
    by_report = said < found
    left = np.where(by_report, np.maximum(word, known - 0.5), word)
    running = ~failed & ~gone
    silent = running & (age > word)
    last = np.where(failed, np.minimum(known, age), np.where(gone, leaves, word))
    nodes = np.maximum(mean[:, None] + sd * _normal_nodes(), 0.0)
    return Fleet(
        histories=SilentHistories(
            left=np.where(failed, left, np.where(gone, leaves, age)), right=np.where(failed, known, np.inf),
            entry=np.zeros(hubs), silent_from=np.where(silent, word, np.nan), last_word=last, failed=failed,
            unasked=failed & by_report, asked=failed & ~by_report, shaft=np.arange(hubs),
        ),
        gaps=GapNodes(value_um=nodes, shaft=np.arange(hubs)),
        running=running,
        known_next=~off & running & (known > age) & (known <= age + AHEAD),
    )  # fmt: skip


def _normal_nodes() -> np.ndarray:
    """Equally likely values of a standard normal, by its own inverse on a fine grid."""
    grid = np.linspace(-5.0, 5.0, 20_001)
    total = np.cumsum(np.exp(-0.5 * grid**2))
    return np.interp((np.arange(NODES) + 0.5) / NODES, total / total[-1], grid)


def chances(fleet: Fleet, *, draws: int, rng: np.random.Generator) -> np.ndarray | None:
    """Chance of every hub in use to become known in the quarter ahead, as the study foretells it; None: no failures."""
    if fleet.histories.failed.sum() < 5:
        return None
    fit = fit_loosening(fleet.histories, fleet.gaps)
    foretold = foretell(fit, fleet.running, months=np.array([AHEAD]), leaving=LEAVING, draws=draws, rng=rng)
    answering = np.full(foretold.loose_now.shape, -np.expm1(-ASKED_A_MONTH * AHEAD))
    return foretold.known_by(0, answering)


def coverage(hubs: int, replicates: int, *, seed: int = SEED) -> dict[str, float]:
    """Draw fleets, foretell each, and count how often what came lay inside."""
    rng = np.random.default_rng([seed, hubs])
    rows = []
    for _ in range(replicates):
        fleet = draw_fleet(hubs, rng)
        chance = chances(fleet, draws=100, rng=rng)
        if chance is None:
            continue
        told = count_estimate(chance, told="failures", rng=rng)
        came = int(fleet.known_next.sum())
        assert told.value is not None
        assert told.low is not None
        assert told.high is not None
        rows.append((told.value, came, told.low <= came <= told.high, told.high - told.low))
    frame = pd.DataFrame(rows, columns=["expected", "came", "inside", "width"])
    return {
        "fleets": len(frame),
        "came": float(frame["came"].mean()),
        "expected": float(frame["expected"].mean()),
        "cover": float(frame["inside"].mean()),
        "width": float(frame["width"].median()),
    }


def run_lengths(hubs: int, *, fleets: int, wanted: float, seed: int = SEED) -> dict[str, float]:
    """Give the watch's mean run length while nothing has changed: with the true chances, and with estimated ones.

    Each fleet's law is estimated once; then quarters like the one to come follow each other, their failures drawn with
    the true chances, and the run length of a watch whose limit and discount go by the estimated ones is worked out.
    """
    rng = np.random.default_rng([seed, hubs, 2])
    expected = np.mean([draw_fleet(hubs, rng).known_next.sum() for _ in range(200)])
    limit, stated = _limits(float(expected), -float(expected), wanted)
    estimated: list[np.ndarray] = []
    while len(estimated) < fleets:
        fleet = draw_fleet(hubs, rng)
        found = chances(fleet, draws=2, rng=rng)
        if found is not None:
            estimated.append(found[0])
    lengths = [_simulated(limit, float(expected), rng, discount=None, runs=6000)]
    lengths += [
        _simulated(_limits(float(each.sum()), less, wanted)[0], float(expected), rng, discount=less)
        for each in estimated
        for less in [float(binary_scores(each, 2.0)[0].sum())]
    ]
    low, middle, high = np.quantile(lengths[1:], [0.1, 0.5, 0.9])
    return {"stated": stated, "true": lengths[0], "low": low, "middle": middle, "high": high, "expected": expected}


def _limits(expected: float, discount: float, wanted: float) -> tuple[np.ndarray, float]:
    """Give the limits of 2000 quarters, and the mean time between false alarms that they state."""
    first = 200
    quarters = np.full(first, expected)
    found = watch_with_moving_limits(np.zeros(first), quarters, np.full(first, discount), odds_ratio=2.0, wanted=wanted)
    # they have settled long before
    return np.concatenate([found.limit, np.full(2000 - first, found.limit[-20:].mean())]), found.false_alarm_steps


def _simulated(
    limit: np.ndarray, expected: float, rng: np.random.Generator, *, discount: float | None, runs: int = 400
) -> float:
    """Mean quarters until a signal, cut at 2000, the failures of a quarter Poisson."""
    less = -expected if discount is None else discount
    lengths = []
    for _ in range(runs):
        row = rng.poisson(expected, 2000)
        over = np.flatnonzero(cumulate(row * np.log(2.0) + less) >= limit)
        lengths.append(over[0] + 1 if over.size else 2000)
    return float(np.mean(lengths))


def main() -> None:
    """Write the table."""
    lines = [
        "# Forecasts of failures, and the watch on them: what is promised, and what came",
        "",
        f"Fleets from `tests/simulation/forecast.py`, drawn by numpy alone; seed {SEED}. Hubs fitted over three years,",
        f"Weibull shape {SHAPE}, {SLOPE} a 10 um of gap in the log hazard, gaps known give or take 5 um, "
        f"{REPORTED:.0%} of failures",
        f"reported unasked, {ASKED_A_MONTH} questions answered a month and hub, {LEAVING} a month come off for other "
        "causes. Foretold: how many",
        "failures become known in the next three months; interval 90 %. Counts are lumpy: where few are expected an",
        "interval of whole numbers holds more often than it promises.",
        "",
        "## Coverage of the forecast",
        "",
        "| hubs | fleets | failures expected | that came | inside | median width |",
        "|---|---|---|---|---|---|",
    ]
    for hubs in SIZES:
        row = coverage(hubs, REPLICATES[hubs])
        lines.append(
            f"| {hubs} | {row['fleets']:.0f} | {row['expected']:.2f} | {row['came']:.2f} | {row['cover']:.3f} "
            f"| {row['width']:.0f} |"
        )
    lines += [
        "",
        "## Quarters between false alarms",
        "",
        "Each quarter's limit is passed with a chance of one in 40 at most, given that no alarm went before. With the",
        "true chances the run length should be what is stated, which is more than 40 where sums jump; with a law",
        "estimated from the fleet it scatters: the quantiles are over fleets.",
        "",
        "| hubs | failures a quarter | stated | with the true chances | 10 % | half | 90 % |",
        "|---|---|---|---|---|---|---|",
    ]
    for hubs in SIZES:
        row = run_lengths(hubs, fleets=60, wanted=40.0)
        lines.append(
            f"| {hubs} | {row['expected']:.2f} | {row['stated']:.1f} | {row['true']:.1f} | {row['low']:.1f} "
            f"| {row['middle']:.1f} | {row['high']:.1f} |"
        )
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
