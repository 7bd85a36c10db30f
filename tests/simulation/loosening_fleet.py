"""A second simulator of shafts, readings, hubs and what became of them; it knows nothing of the package.

The geometry is written anew from its three lines: a space takes the widest width met from the nut end on, and where
that is wider than the hub's own space it has been filed to it. Lengths are in um from the new spline width.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.domain.arrays import BoolArray, FloatArray

SPLINES, STATIONS = 8, 3
STATION_UM = np.array([-2.0, -5.0, 0.0])  # shoulder, middle, nut end: what they have lost beyond the rest
NEW_SD, SPLINE_SD, HOLLOW_SD, CELL_SD = 3.0, 4.0, 5.0, 3.0
WEAR_MEAN, WEAR_SHAPE = 30.0, 1.5
FURTHER_WEAR = 4.0  # under the first hub, by the time of the second
OWNER_MEAN, OWNER_SD, OWNER_OCCASION_SD, OWNER_REPEATABILITY = 3.0, 6.0, 3.0, 5.0
HAND_SD, HAND_OCCASION_SD, HAND_REPEATABILITY, HANDS = 2.0, 1.0, 2.0, 4
STEPS_UM, STEP_SHARES = (1.0, 10.0, 25.4), (0.5, 0.35, 0.15)
STANDARD_SPACE, SIZE_STEP, LARGEST_SIZE = 10.0, 20.0, 120.0
TARGET_MEAN, TARGET_SD = 18.0, 8.0
SPACE_SD, GAUGE_SD = 5.0, 2.0
REFERENCE_GAP_UM = 15.0


@dataclass(frozen=True, kw_only=True)
class DrawnFleet:
    """What becomes known, one row a fitting in `histories`, and beside it what is true."""

    histories: pd.DataFrame
    inspections: pd.DataFrame
    moments: pd.DataFrame
    nominal_um: FloatArray
    gauged_um: FloatArray
    measured: BoolArray
    true_gap_um: FloatArray
    width_um: FloatArray  # true maps when the hub was chosen, (fittings, splines, stations)


@dataclass(frozen=True, kw_only=True)
class LooseningFleet:
    """What is true of the fleet; months, um, chances from 0 to 1."""

    shafts: int = 180
    level: float = -2.2  # log of the cumulative hazard (log-logistic: of the odds) by month 12 at a gap of 15 um
    slope: float = 0.3  # a 10 um
    shape: float = 1.3
    law: Literal["weibull", "log-logistic"] = "weibull"
    chosen_on: Literal["reading", "unstored", "both", "random"] = "reading"
    half_measured: bool = False  # the worn ones rather than the others
    reported: float = 0.6
    silent_share: float = 0.3
    asked_every: float = 6.0
    report_within: float = 1.0  # months from working loose to the letter that tells of it unasked, evenly spread
    removed_a_month: float = 0.006
    span: float = 48.0
    second_share: float = 0.5
    workshop_share: float = 0.15
    missing: float = 0.2

    def risk(self, gap_um: float, months: float = 12.0) -> float:
        """Chance of having worked loose by then at a gap."""
        odds = np.exp(self.level + self.slope * (gap_um - REFERENCE_GAP_UM) / 10) * (months / 12) ** self.shape
        return float(-np.expm1(-odds) if self.law == "weibull" else odds / (1 + odds))

    def gap_at(self, limit: float) -> float:
        """Gap at which the risk by month 12 reaches a limit; infinite either way where the gap has no effect."""
        odds = -np.log1p(-limit) if self.law == "weibull" else limit / (1 - limit)
        short = float(np.log(odds)) - self.level
        return REFERENCE_GAP_UM + 10 * short / self.slope if self.slope else float(np.copysign(np.inf, short))

    def draw(self, rng: np.random.Generator) -> DrawnFleet:
        """Let the fleet happen: a hub to each shaft, and to some whose first worked loose a second."""
        n = self.shafts
        width = self._widths(rng)
        owner = rng.normal(OWNER_MEAN, OWNER_SD, n)
        step = rng.choice(STEPS_UM, n, p=STEP_SHARES)
        worn = -width.mean(axis=(1, 2))
        measured = rng.random(n) < (1 / (1 + np.exp(-(worn - 28) / 12)) if self.half_measured else 1.0)
        shaft = np.arange(n)
        first = self._fit(shaft, width, owner, step, rng.uniform(0, self.span, n), rng)
        seen = first["first_bad_months"]
        later = first["age_months"] - seen - 0.5
        again = np.flatnonzero((later > 1.0) & (rng.random(n) < self.second_share))
        further = rng.gamma(1.0, FURTHER_WEAR, (again.size, 1, 1))
        second = self._fit(again, width[again] - further, owner[again], step[again], later[again], rng)
        both = {key: np.concatenate([first[key], second[key]]) for key in first}
        return _tell(both, measured[both["shaft"]])

    def _widths(self, rng: np.random.Generator) -> FloatArray:
        """Draw true width maps of all shafts."""
        return draw_widths(self.shafts, rng)

    def _fit(
        self,
        shaft: NDArray[np.int64],
        width: FloatArray,
        owner: FloatArray,
        step: FloatArray,
        age: FloatArray,
        rng: np.random.Generator,
    ) -> dict[str, NDArray[Any]]:
        """Measure, choose, fit and follow one hub a shaft."""
        n = shaft.size
        shown = _read(width, owner, OWNER_OCCASION_SD, OWNER_REPEATABILITY, step, self.missing, rng)
        hand = rng.integers(HANDS, size=n)
        bias = np.random.default_rng(1).normal(0, HAND_SD, HANDS)[hand]  # the same people in every fleet
        visited = rng.random(n) < self.workshop_share
        precise = _read(width, bias, HAND_OCCASION_SD, HAND_REPEATABILITY, np.ones(n), self.missing, rng)
        precise[~visited] = np.nan
        in_hand = np.nanmean(np.concatenate([shown, precise], axis=1), axis=(1, 2))
        unrecorded = _read(width, rng.normal(0, HAND_SD, n), 1.0, HAND_REPEATABILITY, np.ones(n), 0.0, rng)
        private = {"unstored": 1.0, "both": 0.5}.get(self.chosen_on, 0.0)
        known = in_hand + private * (unrecorded.mean(axis=(1, 2)) - in_hand)
        target = rng.normal(TARGET_MEAN, TARGET_SD, n)
        size = np.clip(np.ceil((STANDARD_SPACE - known - target) / SIZE_STEP) * SIZE_STEP, 0.0, LARGEST_SIZE)
        if self.chosen_on == "random":
            size = rng.choice([20.0, 40.0, 60.0], n)
        nominal = STANDARD_SPACE - size
        space = nominal + rng.normal(0, SPACE_SD, n)
        gauged = np.where(rng.random(n) < 0.5, space + rng.normal(0, GAUGE_SD, n), np.nan)
        gap = mean_gap(width, space)
        told = self._follow(self._times(gap, rng), age, rng)
        return told | {
            "shaft": shaft, "shown": shown, "precise": precise, "visited": visited, "hand": hand, "step": step,
            "nominal": nominal, "gauged": gauged, "gap": gap, "width": width,
        }  # fmt: skip

    def _times(self, gap_um: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Months until it works loose."""
        line = np.exp(self.level + self.slope * (gap_um - REFERENCE_GAP_UM) / 10)
        tight = rng.random(gap_um.size)
        reach = -np.log(tight) if self.law == "weibull" else (1 - tight) / tight
        return np.asarray(12.0 * (reach / line) ** (1 / self.shape))

    def _follow(self, fails: FloatArray, age: FloatArray, rng: np.random.Generator) -> dict[str, NDArray[Any]]:
        """What owners say, asked and unasked, as the columns of the histories' frame."""
        n = age.size
        leaves = rng.standard_exponential(n) / self.removed_a_month
        rounds = 14
        asked = np.cumsum(self.asked_every * rng.uniform(0.6, 1.4, (n, rounds)), axis=1)
        answers = (rng.random(n) >= self.silent_share)[:, None] & (rng.random((n, rounds)) > 0.1)
        asked = np.where((asked <= age[:, None]) & answers, asked, np.inf)
        end, flanks = np.minimum(fails, leaves), fails < leaves
        tells = rng.random(n) < np.where(flanks, self.reported, 0.8)
        report = np.where(tells, end + rng.uniform(0, self.report_within, n), np.inf)
        report = np.where(report <= age, report, np.inf)
        # whoever is about to write does not wait to be asked: the chance of a report is then what it says it is
        found = np.where((asked >= end[:, None]) & ~tells[:, None], asked, np.inf).min(axis=1)
        seen, unasked = np.minimum(report, found), report <= found
        last = np.where(asked < np.minimum(end, seen)[:, None], asked, 0.0).max(axis=1)
        ended = np.isfinite(seen)
        failed, left = ended & flanks, ended & ~flanks
        after = np.where(unasked, np.maximum(last, seen - 1.0), last)
        stop = np.where(ended, np.where(unasked, seen, (last + np.where(ended, seen, 0.0)) / 2), last)
        middle = (after + np.where(failed, seen, 0.0)) / 2
        quiet = ~ended
        return {
            "age_months": age,
            "entry_months": np.zeros(n),
            "failed_after_months": np.where(failed, after, np.nan),
            "first_bad_months": np.where(failed, seen, np.inf),
            "observed_months": np.select([failed, left], [middle, stop], default=last),
            "silent_since_months": np.where(quiet, last, np.nan),
            "silent_until_months": np.where(quiet, age, np.nan),
            "outcome": np.select([failed, left, last > 0], ["failed", "removed", "running"], default="no-word"),
            "prompted": np.where(quiet, "", np.where(unasked, "unasked", "asked")),
        }


def draw_widths(shafts: int, rng: np.random.Generator) -> FloatArray:
    """Draw true width maps, shape (shafts, splines, stations)."""
    return np.asarray(
        rng.normal(0, NEW_SD, (shafts, 1, 1))
        - rng.gamma(WEAR_SHAPE, WEAR_MEAN / WEAR_SHAPE, (shafts, 1, 1))
        + STATION_UM
        + rng.normal(0, SPLINE_SD, (shafts, SPLINES, 1))
        + rng.normal(0, HOLLOW_SD, (shafts, 1, STATIONS))
        + rng.normal(0, CELL_SD, (shafts, SPLINES, STATIONS))
    )


def measure_again(drawn: DrawnFleet, rows: NDArray[np.int64], rng: np.random.Generator) -> DrawnFleet:
    """Measure the shafts of some fittings in the workshop, after the hub was chosen and before it ran."""
    name = drawn.histories["fitting"].to_numpy(dtype=object)[rows]
    hand = rng.integers(HANDS, size=rows.size)
    bias = np.random.default_rng(1).normal(0, HAND_SD, HANDS)[hand]
    value = _read(drawn.width_um[rows], bias, HAND_OCCASION_SD, HAND_REPEATABILITY, np.ones(rows.size), 0.2, rng)
    label = np.array([f"{text}-c" for text in name], dtype=object)
    head = pd.DataFrame(
        {
            "inspection": label,
            "unit": name,
            "shaft": drawn.histories["shaft"].to_numpy(dtype=object)[rows],
            "measurer": np.array([f"hand-{row}" for row in hand], dtype=object),
            "class": "workshop",
            "step_um": 1.0,
        }
    ).assign(pattern="P", group="", check_um=np.nan, marked=True)
    row, spline, station = np.nonzero(np.isfinite(value))
    seen = {"inspection": label[row], "spline": spline + 1, "station": station, "n": 1}
    moments = pd.DataFrame(seen | {"mean_um": value[row, spline, station], "within_um2": 0.0})
    own = drawn.inspections[drawn.inspections["unit"].isin(name)]
    return replace(
        drawn,
        inspections=pd.concat([own, head], ignore_index=True),
        moments=pd.concat(
            [drawn.moments[drawn.moments["inspection"].isin(own["inspection"])], moments], ignore_index=True
        ),
    )


def mean_gap(width: FloatArray, space: FloatArray) -> FloatArray:
    """Mean gap left over the places; the hub comes from the nut end, the last station."""
    widest = np.full(width.shape[:2], -np.inf)
    total = np.zeros(width.shape[0])
    for station in reversed(range(STATIONS)):
        widest = np.maximum(widest, width[:, :, station])
        opened = np.where(widest > space[:, None], widest, space[:, None])
        total += (opened - width[:, :, station]).sum(axis=1)
    return total / (SPLINES * STATIONS)


def _read(
    width: FloatArray,
    bias: FloatArray,
    occasion_sd: float,
    repeatability: float,
    step: FloatArray,
    missing: float,
    rng: np.random.Generator,
) -> FloatArray:
    """Read every place once, NaN where it was left out."""
    shift = bias + rng.normal(0, occasion_sd, bias.size)
    value = width + shift[:, None, None] + rng.normal(0, repeatability, width.shape)
    value = np.round(value / step[:, None, None]) * step[:, None, None]
    return np.where(rng.random(width.shape) < missing, np.nan, value)


def _tell(both: dict[str, NDArray[Any]], measured: BoolArray) -> DrawnFleet:
    """Write down what is known, as frames."""
    n = measured.size
    name = np.array([f"{row:06d}" for row in range(n)], dtype=object)
    shaft = np.array([f"{row:06d}" for row in both["shaft"]], dtype=object)
    columns = [key for key in both if key.endswith("_months") or key in ("outcome", "prompted")]
    histories = pd.DataFrame({"fitting": name, "shaft": shaft} | {key: both[key] for key in columns})
    heads, moments = [], []
    kinds = (
        ("home", "a", both["shown"], measured, np.array([f"owner-{row}" for row in both["shaft"]], dtype=object)),
        ("workshop", "b", both["precise"], measured & both["visited"].astype(bool),
         np.array([f"hand-{row}" for row in both["hand"]], dtype=object)),
    )  # fmt: skip
    for kind, letter, value, there, who in kinds:
        rows = np.flatnonzero(there)
        shown = value[rows].astype(float)
        label = np.array([f"{text}-{letter}" for text in name[rows]], dtype=object)
        head = {"inspection": label, "unit": name[rows], "shaft": shaft[rows], "measurer": who[rows], "class": kind}
        step = both["step"][rows].astype(float) if kind == "home" else 1.0
        heads.append(pd.DataFrame(head | {"step_um": step}))
        row, spline, station = np.nonzero(np.isfinite(shown))
        seen = {"inspection": label[row], "spline": spline + 1, "station": station, "n": 1}
        moments.append(pd.DataFrame(seen | {"mean_um": shown[row, spline, station], "within_um2": 0.0}))
    inspections = pd.concat(heads, ignore_index=True)
    return DrawnFleet(
        histories=histories,
        inspections=inspections.assign(pattern="P", group="", check_um=np.nan, marked=True),
        moments=pd.concat(moments, ignore_index=True),
        nominal_um=both["nominal"].astype(float),
        gauged_um=both["gauged"].astype(float),
        measured=measured,
        true_gap_um=both["gap"].astype(float),
        width_um=both["width"].astype(float),
    )
