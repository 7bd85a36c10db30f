"""What becomes known of failures when owners differ in whether and how they are asked; writes answers.md.

Run ``python -m tests.simulation.answers`` to remake the table. The fleets are drawn here, by numpy alone.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import pandas as pd
from scipy import stats

from wearstats.analysis.answers.model import draw_last_answers
from wearstats.analysis.answers.records import AnswerRecords
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.loosening.forecast import count_estimate, predict
from wearstats.analysis.numerics.poisson_binomial import count_chances
from wearstats.analysis.survival.reporting import SilentHistories

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261130
MONTHS = np.array([3.0, 12.0])
TIMES = ("quarter", "year")
SPAN, SHAPE, SLOPE, LEVEL, REPORTED, GAP_SD, NODES, DRAWS = 36.0, 1.4, 0.6, -2.2, 0.5, 4.0, 8, 100


@dataclass(frozen=True, kw_only=True)
class Asking:
    """Who is asked how; months.

    Parameters
    ----------
    hubs : int
        Fitted evenly over three years, up to three of one owner.
    silent : float
        Share of owners who never answer, or are never asked.
    how : str
        ``regularly``: about every half year since the fitting, nine in ten answered; ``rounds``: all at once, every
        half year on a day; ``at random``: at a steady rate, each owner's own; ``never``.
    """

    hubs: int = 400
    silent: float = 0.0
    how: Literal["regularly", "rounds", "at random", "never"] = "regularly"

    def draw(self, rng: np.random.Generator) -> Fleet:
        """Let hubs fail, be reported and be asked about, up to now and for a year to come."""
        n = self.hubs
        owner = np.sort(rng.integers(0, int(n / 1.5), n))
        owner = np.unique(owner, return_inverse=True)[1]
        age = rng.uniform(0.3, SPAN, n)
        mean = rng.gamma(2.0, 8.0, n)
        gap = np.maximum(mean + GAP_SD * rng.standard_normal(n), 0.0)
        hazard = np.exp(LEVEL + SLOPE * (gap - 15.0) / 10.0)
        fails = 12.0 * (rng.standard_exponential(n) / hazard) ** (1.0 / SHAPE)
        tells = rng.random(n) < REPORTED
        answers = self._answers(age, owner, rng)
        found = np.where((answers >= fails[:, None]) & ~tells[:, None], answers, np.inf).min(axis=1)
        known = np.where(tells, fails, found)
        return Fleet(owner=owner, age=age, mean=mean, fails=fails, answers=answers, known=known, tells=tells)

    def _answers(self, age: np.ndarray, owner: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Months since the fitting at which each hub is answered for, shape (hubs, answers); infinite where not."""
        n, most = age.size, 16
        if self.how == "never":
            return np.full((n, 1), np.inf)
        if self.how == "regularly":
            asked = np.cumsum(6.0 * rng.uniform(0.6, 1.4, (n, most)), axis=1)
        elif self.how == "at random":
            rate = 0.15 * rng.gamma(1.5, 1 / 1.5, owner.max() + 1)[owner]
            asked = np.cumsum(rng.standard_exponential((n, 3 * most)) / rate[:, None], axis=1)
        else:
            days = np.arange(-40.0, 14.0, 6.0) + rng.uniform(0.0, 6.0)
            asked = days + age[:, None]
        heard = rng.random(asked.shape) < (0.7 if self.how == "rounds" else 0.9)
        never = rng.random(owner.max() + 1) < self.silent
        return np.where(heard & (asked > 0) & ~never[owner][:, None], asked, np.inf)


@dataclass(frozen=True, kw_only=True)
class Fleet:
    """What is true of the hubs; months since each was fitted."""

    owner: np.ndarray
    age: np.ndarray
    mean: np.ndarray
    fails: np.ndarray
    answers: np.ndarray
    known: np.ndarray
    tells: np.ndarray

    @property
    def running(self) -> np.ndarray:
        """Which are in use as far as is known."""
        return self.known > self.age

    def histories(self) -> SilentHistories:
        """Give what is known now; a report dates its failure."""
        failed = ~self.running
        word = np.where(self.answers < np.minimum(self.fails, self.age)[:, None], self.answers, 0.0).max(axis=1)
        unasked = failed & self.tells
        left = np.where(unasked, np.maximum(word, self.known - 0.1), word)
        return SilentHistories(
            left=np.where(failed, left, self.age), right=np.where(failed, self.known, np.inf),
            entry=np.zeros(self.age.size), silent_from=np.where(failed, np.nan, word),
            last_word=np.where(failed, self.known, word), failed=failed, unasked=unasked, asked=failed & ~unasked,
            shaft=np.arange(self.age.size),
        )  # fmt: skip

    def records(self) -> AnswerRecords:
        """Give the answers had so far."""
        stop = np.minimum(self.known, self.age)
        hub, which = np.nonzero(self.answers <= stop[:, None])
        return AnswerRecords(
            owner=self.owner, start=-self.age, stop=stop - self.age, hub=hub,
            month=self.answers[hub, which] - self.age[hub],
        )  # fmt: skip


def one_chance(records: AnswerRecords) -> float:
    """Give answers a month and hub in the last year: what was taken for everybody before."""
    watched = np.clip(records.stop + 12.0, 0.0, 12.0) - np.clip(records.start + 12.0, 0.0, 12.0)
    return float((records.month > -12.0).sum() / watched.sum())


def score(world: Asking, fleets: int, *, seed: int = SEED) -> pd.DataFrame:
    """Predict so many fleets: what was expected, what came, and where in the law it lies, a row a fleet and time."""
    nodes = stats.norm.ppf((np.arange(NODES) + 0.5) / NODES)
    rows = []
    named = [seed, world.hubs, round(100 * world.silent), *world.how.encode()]
    for number in range(fleets):
        rng = np.random.default_rng([*named, number])
        fleet = world.draw(rng)
        if (~fleet.running).sum() < 5:
            continue
        told, records = fleet.histories(), fleet.records()
        gaps = GapNodes(value_um=np.maximum(fleet.mean[:, None] + GAP_SD * nodes, 0.0), shaft=told.shaft)
        fit = fit_loosening(told, gaps)
        predicted = predict(fit, fleet.running, months=MONTHS, draws=DRAWS, rng=rng)
        last = draw_last_answers(records, fleet.running, ends=MONTHS, draws=DRAWS, rng=rng)
        rate = one_chance(records)
        for time, name in enumerate(TIMES):
            months = float(MONTHS[time])
            chance = predicted.known_by(time, last.answering(time), last.after(time, months))
            before = predicted.known_by(time, np.full(predicted.loose_now.shape, -np.expm1(-rate * months)))
            estimate = count_estimate(chance, told="x", rng=rng)
            came = int((fleet.running & (fleet.known <= fleet.age + months)).sum())
            law = np.append(count_chances(chance), np.zeros(max(came, 0) + 1))
            place = law[:came].sum() + rng.random() * law[came]
            old = count_estimate(before, told="x", rng=rng)
            rows.append((name, came, estimate.value, (estimate.low or 0) <= came <= (estimate.high or 0), place,
                         estimate.high, int(fleet.running.sum()), fit.data.asked.any(), old.value,
                         (old.low or 0) <= came <= (old.high or 0)))  # fmt: skip
    names = ["time", "came", "expected", "inside", "place", "high", "hubs", "found", "expected_before", "inside_before"]
    return pd.DataFrame(rows, columns=names)


WORLDS = {
    "all asked regularly": Asking(),
    "three owners in ten silent": Asking(silent=0.3),
    "seven owners in ten silent": Asking(silent=0.7),
    "asked only after failures": Asking(how="never"),
    "rounds twice a year": Asking(how="rounds"),
    "rounds, three in ten silent": Asking(how="rounds", silent=0.3),
    "at random, owners differ": Asking(how="at random"),
    "120 hubs, three in ten silent": Asking(hubs=120, silent=0.3),
}


def lines_of(name: str, scored: pd.DataFrame) -> list[str]:
    """Write a world's rows of the table."""
    lines = []
    for time in TIMES:
        part = scored[scored["time"] == time]
        expected, came = part["expected"].mean(), part["came"].mean()
        uniform = stats.kstest(part["place"], "uniform").pvalue
        lines.append(
            f"| {name} | {time} | {len(part)} | {expected:.2f} | {came:.2f} | {expected / came:.3f} | "
            f"{part['expected_before'].mean() / came:.3f} | {part['inside'].mean():.3f} | "
            f"{part['inside_before'].mean():.3f} | {uniform:.3f} |"
        )
    return lines


def write_table(fleets: int) -> None:
    """Score every world and write the table."""
    lines = [
        "# What becomes known, when owners are asked differently",
        "",
        f"400 hubs fitted over three years, a few of one owner; Weibull shape {SHAPE}, {REPORTED:.0%} of failures",
        "reported unasked. Predicted: failures of the hubs in use that become known in the next quarter and year.",
        "Before: one chance of being asked and of answering for everybody. Intervals of 90 %; PIT: p of Kolmogorov's",
        "test that what came lies evenly in the predicted law, randomised. Where nobody is asked but after failures,",
        "the chance of an unasked report is not identified, nor is the forecast: its status is `assumed`, and it is",
        "not scored on its numbers.",
        f"Remade by `python -m tests.simulation.answers`, seed {SEED}.",
        "",
        "| world | time | fleets | expected | came | ratio | before | inside | before | PIT |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for name, world in WORLDS.items():
        lines += lines_of(name, score(world, fleets))
        TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_table(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
