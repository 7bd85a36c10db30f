"""Forecasts of failures, and the watch on them, against invented fleets whose future is known.

Run with ``python -m tests.simulation.forecast``; writes the table beside it. The fleets are drawn here, by numpy alone:
no code of the package's own simulator is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from tests.analysis.support.fixed_limits import cumulate
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.loosening.forecast import cost_estimate, count_estimate, predict
from wearstats.analysis.monitoring.cusum import binary_scores
from wearstats.analysis.monitoring.observed_expected import ratio_sequence
from wearstats.analysis.monitoring.risk_adjusted_cusum import watch_with_moving_limits
from wearstats.analysis.survival.reporting import SilentHistories

TABLE = Path(__file__).with_name("forecast.md")
SEED = 20261125
SIZES = (120, 400, 1200)
REPLICATES = {120: 1000, 400: 600, 1200: 300}
QUARTER, YEAR = 3.0, 12.0
QUARTERS_BACK = 8
PRICES = (700.0, 1900.0)
FALSE_ALARM_QUARTERS = (20, 40)
YEARS_MONTHS = 36.0
SHAPE, SLOPE, LEVEL = 1.4, 0.6, -2.6
REPORTED, ASKED_A_MONTH, LEAVING = 0.6, 0.07, 0.004
YOUNGEST, GAP_SD = 0.2, 5.0
NODES = 32
FEWEST_FAILURES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Lives:
    """What becomes of hubs, whether anybody knows it or not; months count from the day each was fitted."""

    age: np.ndarray
    mean: np.ndarray
    fails: np.ndarray
    leaves: np.ndarray
    said: np.ndarray
    asked: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """Hubs as known now, and what becomes known in the quarter and in the year that follow."""

    histories: SilentHistories
    gaps: GapNodes
    running: np.ndarray
    known_next: np.ndarray
    known_year: np.ndarray


def draw_fleet(hubs: int, rng: np.random.Generator, *, times_as_many: float = 1.0) -> Fleet:
    """Draw hubs fitted over three years; `times_as_many` failures in the time to come."""
    return known_at(draw_lives(hubs, rng, times_as_many=times_as_many), 0.0)


def draw_lives(hubs: int, rng: np.random.Generator, *, times_as_many: float = 1.0, since_months: float = 0.0) -> Lives:
    """Draw what becomes of hubs fitted over three years; `times_as_many` failures since so many months ago."""
    age = rng.uniform(YOUNGEST, YEARS_MONTHS, hubs)
    mean = rng.gamma(2.0, 8.0, hubs)
    gap = np.maximum(mean + GAP_SD * rng.standard_normal(hubs), 0.0)
    hazard = np.exp(LEVEL + SLOPE * (gap - 15.0) / 10.0)
    reach = rng.exponential(size=hubs)
    fails = 12.0 * (reach / hazard) ** (1.0 / SHAPE)
    if times_as_many != 1.0:
        # from then on the hazard is so many times as high
        now = hazard * (np.maximum(age - since_months, 0.0) / 12.0) ** SHAPE
        later = now + (reach - now) / times_as_many
        fails = np.where(reach > now, 12.0 * (np.maximum(later, now) / hazard) ** (1.0 / SHAPE), fails)
    leaves = rng.exponential(1.0 / LEAVING, hubs)
    said = np.where(rng.random(hubs) < REPORTED, fails + rng.uniform(0.0, 0.5, hubs), np.inf)
    asked = np.cumsum(rng.exponential(1.0 / ASKED_A_MONTH, (hubs, 24)), axis=1)
    return Lives(age=age, mean=mean, fails=fails, leaves=leaves, said=said, asked=asked)


def known_at(lives: Lives, months_back: float) -> Fleet:
    """Give what was known so many months ago, of the hubs that were fitted by then."""
    there = lives.age - months_back >= YOUNGEST
    age = lives.age[there] - months_back
    fails, leaves, said, asked = (each[there] for each in (lives.fails, lives.leaves, lives.said, lives.asked))
    hubs = age.size
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
    nodes = np.maximum(lives.mean[there][:, None] + GAP_SD * _normal_nodes(), 0.0)
    to_come = ~off & running & (known > age)
    return Fleet(
        histories=SilentHistories(
            left=np.where(failed, left, np.where(gone, leaves, age)), right=np.where(failed, known, np.inf),
            entry=np.zeros(hubs), silent_from=np.where(silent, word, np.nan), last_word=last, failed=failed,
            unasked=failed & by_report, asked=failed & ~by_report, shaft=np.arange(hubs),
        ),
        gaps=GapNodes(value_um=nodes, shaft=np.arange(hubs)),
        running=running,
        known_next=to_come & (known <= age + QUARTER),
        known_year=to_come & (known <= age + YEAR),
    )  # fmt: skip


def _normal_nodes() -> np.ndarray:
    """Equally likely values of a standard normal, by its own inverse on a fine grid."""
    grid = np.linspace(-5.0, 5.0, 20_001)
    total = np.cumsum(np.exp(-0.5 * grid**2))
    return np.interp((np.arange(NODES) + 0.5) / NODES, total / total[-1], grid)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """Chance of every hub in use to become known in the quarter and in the year ahead, draw by draw of the law."""

    quarter: np.ndarray
    year: np.ndarray


def chances(fleet: Fleet, *, draws: int, rng: np.random.Generator) -> Chances | None:
    """Predict a fleet as the study does; None where too few failures are known."""
    if fleet.histories.failed.sum() < FEWEST_FAILURES:
        return None
    fit = fit_loosening(fleet.histories, fleet.gaps)
    months = np.array([QUARTER, YEAR])
    predicted = predict(fit, fleet.running, months=months, leaving=LEAVING, draws=draws, rng=rng)
    quarter, year = (
        predicted.known_by(time, np.full(predicted.loose_now.shape, -np.expm1(-ASKED_A_MONTH * months[time])))
        for time in range(months.size)
    )
    return Chances(quarter=quarter, year=year)


def coverage(hubs: int, replicates: int, *, seed: int = SEED) -> pd.DataFrame:
    """Draw fleets, predict each, and count how often what came lay inside: one row a thing predicted."""
    rng, for_costs = np.random.default_rng([seed, hubs]), np.random.default_rng([seed, hubs, 3])
    rows = []
    for _ in range(replicates):
        fleet = draw_fleet(hubs, rng)
        chance = chances(fleet, draws=100, rng=rng)
        if chance is None:
            continue
        # two patterns, one of which costs more
        price = np.array(PRICES)[np.arange(int(fleet.running.sum())) % 2]
        year = fleet.known_year[fleet.running]
        rows += [
            ("quarter", count_estimate(chance.quarter, told="failures", rng=rng), float(fleet.known_next.sum())),
            ("year", count_estimate(chance.year, told="failures", rng=rng), float(year.sum())),
            ("cost", cost_estimate(chance.year, price, rng=for_costs), float(year @ price)),
        ]
    frame = pd.DataFrame(
        [
            (
                what,
                told.value,
                came,
                (told.low or 0.0) <= came <= (told.high or 0.0),
                (told.high or 0.0) - (told.low or 0.0),
            )
            for what, told, came in rows
        ],
        columns=["what", "expected", "came", "inside", "width"],
    )
    groups = frame.groupby("what", sort=False)
    found = groups[["expected", "came", "inside"]].mean()
    return found.assign(fleets=groups.size(), width=groups["width"].median())


def looked_at(lives: Lives, rng: np.random.Generator) -> pd.DataFrame:
    """Predict the last quarters, each as known at its beginning: ``seen``, ``expected``, ``doubt``, ``discount``."""
    rows = []
    for back in range(QUARTERS_BACK, 0, -1):
        then = known_at(lives, QUARTER * back)
        chance = chances(then, draws=60, rng=rng)
        if chance is not None:
            total = chance.quarter.sum(axis=1)
            less = float(binary_scores(chance.quarter.mean(axis=0), 2.0)[0].sum())
            rows.append((float(then.known_next.sum()), float(total.mean()), float(total.var(ddof=1)), less))
    return pd.DataFrame(rows, columns=["seen", "expected", "doubt", "discount"])


def watched(hubs: int, replicates: int, *, seed: int = SEED) -> dict[str, float]:
    """Watch fleets whose law does not change, quarter by quarter, each predicted by the law as fitted then.

    Every number is there twice, with the law's doubt and, ``_exact``, as if it were exact. ``held``: how often the
    interval of seen over predicted held 1 at every look; ``scatter``: mean square of what was seen beyond what was
    predicted, over the variance that it should have; ``width``: of the interval after the last quarter; ``stated_20``,
    ``alarms_20`` and so on: false alarms that should come at limits for so many quarters between them, and that came.
    """
    rng = np.random.default_rng([seed, hubs, 4])
    rows = []
    for _ in range(replicates):
        quarters = looked_at(draw_lives(hubs, rng), rng)
        if quarters.empty:
            continue
        seen, expected, doubt, less = (
            quarters[name].to_numpy(dtype=float) for name in ("seen", "expected", "doubt", "discount")
        )
        row = {"quarters": float(seen.size), "seen": float(seen.sum()), "expected": float(expected.sum())}
        for end, each in (("", doubt), ("_exact", np.zeros(doubt.size))):
            told = [ratio_sequence(seen[:k], expected[:k], each[:k]) for k in range(1, seen.size + 1)]
            row[f"held{end}"] = float(all((one.low or 0.0) <= 1.0 <= (one.high or np.inf) for one in told))
            row[f"width{end}"] = (told[-1].high or np.inf) - (told[-1].low or 0.0)
            row[f"scatter{end}"] = float((seen - expected).sum() ** 2 / (expected + each).sum())
            for apart in FALSE_ALARM_QUARTERS:
                found = watch_with_moving_limits(seen, expected, less, doubt=each, odds_ratio=2.0, wanted=float(apart))
                row[f"stated_{apart}{end}"] = float(found.chance.sum())
                row[f"alarms_{apart}{end}"] = float(len(found.alarms))
        rows.append(row)
    frame = pd.DataFrame(rows)
    means = {str(name): float(value) for name, value in frame.mean().items()}
    sums = {str(name): float(value) for name, value in frame.sum().items() if "_20" in str(name) or "_40" in str(name)}
    medians = {name: float(frame[name].median()) for name in ("width", "width_exact")}
    return {**means, **medians, **sums, "fleets": float(len(frame)), "quarters": float(frame["quarters"].sum())}


def noticed(hubs: int, replicates: int, *, times_as_many: float, seed: int = SEED) -> dict[str, float]:
    """Give in how many fleets an alarm went within the last year, all of which the hazard was so many times as high."""
    rng = np.random.default_rng([seed, hubs, 5])
    rows = []
    for _ in range(replicates):
        quarters = looked_at(draw_lives(hubs, rng, times_as_many=times_as_many, since_months=YEAR), rng)
        if len(quarters) < YEAR / QUARTER:
            continue
        seen, expected, doubt, less = (
            quarters[name].to_numpy(dtype=float) for name in ("seen", "expected", "doubt", "discount")
        )
        row = {}
        for end, each in (("", doubt), ("_exact", np.zeros(doubt.size))):
            found = watch_with_moving_limits(seen, expected, less, doubt=each, odds_ratio=2.0, wanted=40.0)
            row[f"alarm{end}"] = float(any(alarm.step >= seen.size - YEAR / QUARTER for alarm in found.alarms))
        rows.append(row)
    frame = pd.DataFrame(rows)
    return {**{str(name): float(value) for name, value in frame.mean().items()}, "fleets": float(len(frame))}


def run_length(hubs: int, *, wanted: float, seed: int = SEED) -> dict[str, float]:
    """Give the watch's mean run length by an exact law while nothing has changed: as stated, and as simulated."""
    rng = np.random.default_rng([seed, hubs, 2])
    expected = float(np.mean([draw_fleet(hubs, rng).known_next.sum() for _ in range(200)]))
    first, all_quarters = 200, 2000
    quarters = np.full(first, expected)
    found = watch_with_moving_limits(np.zeros(first), quarters, -quarters, odds_ratio=2.0, wanted=wanted)
    # they have settled long before
    limit = np.concatenate([found.limit, np.full(all_quarters - first, found.limit[-20:].mean())])
    lengths = []
    for _ in range(6000):
        over = np.flatnonzero(cumulate(rng.poisson(expected, all_quarters) * np.log(2.0) - expected) >= limit)
        lengths.append(over[0] + 1 if over.size else all_quarters)
    return {"stated": found.false_alarm_steps, "true": float(np.mean(lengths)), "expected": expected}


def noticed_lines() -> list[str]:
    """Give the section on changes that are noticed."""
    lines = [
        "",
        "## Changes noticed",
        "",
        "Fleets in which the hazard was so many times as high for the last four of the quarters: the share in which an "
        "alarm",
        "went in them, at limits for one false alarm in 40 quarters. In brackets: as if the law were exact.",
        "",
        "| hubs | times as many | fleets | noticed |",
        "|---|---|---|---|",
    ]
    for hubs in SIZES:
        for times in (2.0, 4.0):
            found = noticed(hubs, REPLICATES[hubs] // 8, times_as_many=times)
            lines.append(
                f"| {hubs} | {times:.0f} | {found['fleets']:.0f} | {found['alarm']:.2f} ({found['alarm_exact']:.2f}) |"
            )
    return lines


def main() -> None:
    """Write the table."""
    lines = [
        "# Forecasts of failures, and the watch on them: what is promised, and what came",
        "",
        f"Fleets from `tests/simulation/forecast.py`, drawn by numpy alone; seed {SEED}. Hubs fitted over three years,",
        f"Weibull shape {SHAPE}, {SLOPE} a 10 um of gap in the log hazard, gaps known give or take 5 um, "
        f"{REPORTED:.0%} of failures",
        f"reported unasked, {ASKED_A_MONTH} questions answered a month and hub, {LEAVING} a month come off for other "
        "causes.",
        "",
        "## Coverage of the forecast",
        "",
        "Predicted of the hubs in use: how many failures become known in the next three months and in the next year,",
        f"and what those of the year cost, {PRICES[0]:.0f} or {PRICES[1]:.0f} each by pattern; intervals 90 %. Counts "
        "are lumpy: where few",
        "are expected an interval of whole numbers holds more often than it promises.",
        "",
        "| hubs | predicted | fleets | expected | that came | inside | median width |",
        "|---|---|---|---|---|---|---|",
    ]
    for hubs in SIZES:
        for what, row in coverage(hubs, REPLICATES[hubs]).iterrows():
            digits = 0 if what == "cost" else 2
            lines.append(
                f"| {hubs} | {what} | {row['fleets']:.0f} | {row['expected']:.{digits}f} | {row['came']:.{digits}f} "
                f"| {row['inside']:.3f} | {row['width']:.0f} |"
            )
    lines += [
        "",
        "## Seen over predicted",
        "",
        f"Fleets whose law does not change, watched for {QUARTERS_BACK} quarters, each predicted by the law as fitted "
        "to what was known",
        "at its beginning. The interval at 95 % should hold 1 at every look in 95 of 100 fleets or more. Scatter: mean",
        "square of what was seen beyond what was predicted, over the variance that it should have; 1 where that is "
        "right. In",
        "brackets: as if the law were exact. In small fleets too many are predicted at first: a law is fitted as soon "
        "as five",
        "failures are known, which is soonest where by chance many came early.",
        "",
        "| hubs | fleets | predicted | seen | held at every look | scatter | median width at the end |",
        "|---|---|---|---|---|---|---|",
    ]
    alarms = []
    for hubs in SIZES:
        found = watched(hubs, REPLICATES[hubs])
        both = [
            f"{found[name]:.{digits}f} ({found[f'{name}_exact']:.{digits}f})"
            for name, digits in (("held", 3), ("scatter", 2), ("width", 2))
        ]
        lines.append(
            f"| {hubs} | {found['fleets']:.0f} | {found['expected']:.1f} | {found['seen']:.1f} | {' | '.join(both)} |"
        )
        came = [
            f"{found[f'{name}_{apart}']:.{digits}f} ({found[f'{name}_{apart}_exact']:.{digits}f})"
            for apart in FALSE_ALARM_QUARTERS
            for name, digits in (("stated", 1), ("alarms", 0))
        ]
        alarms.append(f"| {hubs} | {found['quarters']:.0f} | {' | '.join(came)} |")
    lines += [
        "",
        "## False alarms",
        "",
        "The same fleets and quarters: alarms that limits for one false alarm in 20 and in 40 quarters should give, as",
        "lumpy as counts are, and those that came. In brackets: as if the law were exact.",
        "",
        "| hubs | quarters | in 20: should come | came | in 40: should come | came |",
        "|---|---|---|---|---|---|",
        *alarms,
        "",
        "## Quarters between false alarms of an exact law",
        "",
        "Each quarter's limit is passed with a chance of one in 40 at most, given that no alarm went before. The run",
        "length should be what is stated, which is more than 40 where sums jump.",
        "",
        "| hubs | failures a quarter | stated | simulated |",
        "|---|---|---|---|",
    ]
    for hubs in SIZES:
        run = run_length(hubs, wanted=40.0)
        lines.append(f"| {hubs} | {run['expected']:.2f} | {run['stated']:.1f} | {run['true']:.1f} |")
    lines += noticed_lines()
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
