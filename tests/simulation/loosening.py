"""How well the chance of working loose against the gap is told, on fleets whose truth is known; writes loosening.md.

Run ``python -m tests.simulation.loosening`` to remake the tables (about half an hour on one core of its own).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from tests.simulation.loosening_fleet import (
    CELL_SD,
    HAND_OCCASION_SD,
    HAND_REPEATABILITY,
    HAND_SD,
    HOLLOW_SD,
    OWNER_MEAN,
    OWNER_OCCASION_SD,
    OWNER_REPEATABILITY,
    OWNER_SD,
    SPLINE_SD,
    SPLINES,
    STATION_UM,
    DrawnFleet,
    LooseningFleet,
    draw_widths,
)
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.draws import Bonds, draw_normals, maps_as_read
from wearstats.analysis.gaps.nodes import GapNodes, as_single_values, reduce_draws
from wearstats.analysis.gaps.posterior import hub_spaces
from wearstats.analysis.loosening.estimates import chance_estimate, gap_at_risk, shape_estimate, slope_estimate
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.numerics.covariance_roots import widest_last_root
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.analysis.widths.components import COMPONENTS, MAP_COMPONENTS
from wearstats.analysis.widths.data import CLASSES, PatternShape, WidthData, reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import MapPrediction, predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import mean_gap_left
from wearstats.errors import AnalysisError

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261127
DRAWS = 320
FAILED_SHARE = 0.2
RISK_LIMIT, RISK_MONTHS = 0.10, 12.0
RISK_GAPS_UM = (10.0, 25.0)
SHAPE = PatternShape(pattern="P", splines=SPLINES, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)
QUESTIONS = ("slope", "as read", "shape", "p", "risk 10", "risk 25", "gap")


@dataclass(frozen=True, kw_only=True)
class Case:
    """One row of the tables.

    Parameters
    ----------
    name : str
        What is particular about it.
    fittings : int
        About how many.
    replicates : int
        How many fleets.
    fleet : LooseningFleet
        Its truth, but for size and level.
    bias_factor : float
        What the biases' SDs are multiplied by where the fit takes them as known.
    estimated : bool
        Whether components and means come from the same readings, rather than being known.
    """

    name: str
    fittings: int
    replicates: int
    fleet: LooseningFleet = field(default_factory=LooseningFleet)
    bias_factor: float = 1.0
    estimated: bool = False

    @property
    def label(self) -> str:
        """Name in the tables."""
        return f"{self.name}, slope {self.fleet.slope:g}, {self.fittings}"


def cases() -> list[Case]:
    """List the grid."""
    fleet = LooseningFleet()
    main = [
        Case(name="on the reading", fittings=size, replicates=count, fleet=replace(fleet, slope=slope))
        for slope in (0.0, 0.3, 0.6)
        for size, count in ((60, 500), (200, 500), (600, 400 if slope == 0.6 else 200))
    ]
    steep = replace(fleet, slope=0.6)
    changed: dict[str, dict[str, Any]] = {
        "chosen at random": {"fleet": replace(steep, chosen_on="random")},
        "chosen on unstored knowledge": {"fleet": replace(steep, chosen_on="unstored")},
        "log-logistic": {"fleet": replace(steep, law="log-logistic")},
        "bias SD taken by half": {"fleet": steep, "bias_factor": 0.5},
        "bias SD taken half as large again": {"fleet": steep, "bias_factor": 1.5},
        "half of the shafts measured": {"fleet": replace(steep, half_measured=True)},
        "reports within three days": {"fleet": replace(steep, report_within=0.1)},
    }
    wrong = [
        Case(name=name, fittings=size, replicates=count, **what)
        for name, what in changed.items()
        for size, count in ((200, 150), (600, 60))
    ]
    no_effect = [
        Case(name=name, fittings=200, replicates=100, fleet=replace(changed[name]["fleet"], slope=0.0))
        for name in ("chosen at random", "chosen on unstored knowledge")
    ]
    estimated = [
        Case(
            name="components estimated",
            fittings=size,
            replicates=count,
            fleet=replace(fleet, slope=slope),
            estimated=True,
        )
        for slope, size, count in ((0.0, 200, 40), (0.6, 60, 40), (0.6, 200, 40), (0.6, 600, 20))
    ]
    return main + wrong + no_effect + estimated


def settled(case: Case) -> LooseningFleet:
    """Set size and level: a fifth of the fittings are known to have worked loose."""
    low, high = -5.0, 0.0
    for _ in range(7):
        middle = (low + high) / 2
        drawn = replace(case.fleet, shafts=3000, level=middle).draw(np.random.default_rng(SEED))
        failed = drawn.histories["outcome"].eq("failed")[drawn.measured].mean()
        low, high = (middle, high) if failed < FAILED_SHARE else (low, middle)
    shafts = case.fittings / (1 + 0.4 * FAILED_SHARE) * (2.0 if case.fleet.half_measured else 1.0)
    return replace(case.fleet, shafts=round(shafts), level=round((low + high) / 2, 2))


def known_components(fleet: LooseningFleet, bias_factor: float) -> WidthFit:
    """Make a width model of the true components; the law of wear is summed up by its mean and variance."""
    rng = np.random.default_rng(SEED)
    own = draw_widths(20000, rng).mean(axis=(1, 2))
    if fleet.half_measured:
        own = own[rng.random(own.size) < 1 / (1 + np.exp(-(-own - 28) / 12))]
    averaged = SPLINE_SD**2 / SPLINES + HOLLOW_SD**2 / STATION_UM.size + CELL_SD**2 / SPLINES / STATION_UM.size
    known = {
        "shaft": np.sqrt(own.var() - averaged),
        "spline": SPLINE_SD,
        "shaft_station": HOLLOW_SD,
        "cell": CELL_SD,
        "measurer_home": bias_factor * OWNER_SD,
        "measurer_workshop": HAND_SD,
        "inspection_home": bias_factor * OWNER_OCCASION_SD,
        "inspection_workshop": HAND_OCCASION_SD,
        "repeatability_home": OWNER_REPEATABILITY,
        "repeatability_workshop": HAND_REPEATABILITY,
    }
    names = [f"station:P:{station}" for station in SHAPE.stations] + ["class:home"]
    values = [*(own.mean() + STATION_UM - STATION_UM.mean()), OWNER_MEAN]
    # that the few second hubs stand on shafts that wore a little further is left as an error of the prior
    return WidthFit(
        components_um={},
        variances=np.array([float(known.get(name, 1.0)) ** 2 for name in COMPONENTS]),
        free=np.zeros(len(COMPONENTS), dtype=bool),
        means=pd.DataFrame({"name": names, "value_um": values, "se_um": 0.0}),
        mean_covariance=np.zeros((4, 4)),
        variance_covariance=np.zeros((len(COMPONENTS), len(COMPONENTS))),
        measurers=pd.DataFrame(),
        units=0,
        readings=0,
        criterion=0.0,
    )


def gaps_known(drawn: DrawnFleet, fit: WidthFit, *, rng: np.random.Generator) -> tuple[GapNodes, GapNodes]:
    """Tell what is known of the gaps of the measured fittings: nodes, and the gaps as read."""
    data = reduce_readings(drawn.moments, drawn.inspections, {"P": SHAPE})
    rows = np.flatnonzero(drawn.measured)
    names = drawn.histories["fitting"].to_numpy(dtype=object)[rows]
    if not np.array_equal(data.units["unit"].to_numpy(dtype=object), names):
        raise ValueError("units are not in the order of the fittings")
    gauged = drawn.gauged_um[rows]
    nothing = np.full(rows.size, np.nan)
    mean, sd, _ = hub_spaces(
        nominal_um=drawn.nominal_um[rows], gauged_um=gauged, gauged_u_um=nothing, go_um=nothing, no_go_um=nothing
    )
    bonds = _bonds(fit, data, drawn.histories["shaft"].to_numpy(dtype=str)[rows])
    draws = NamedDraws(int(rng.integers(2**32)))
    half = rng.standard_normal((rows.size, DRAWS // 2))
    hub = np.concatenate([half, -half], axis=1)
    gap, read = np.empty((rows.size, DRAWS)), np.empty(rows.size)
    for prediction, block in zip(predict_maps(fit, data), data.blocks, strict=True):
        at = prediction.unit
        normal = draw_normals(bonds.take(at), SHAPE.places, DRAWS, draws=draws)
        gap[at] = draw_gaps(prediction, normal, mean[at][:, None] + sd[at][:, None] * hub[at])
        read[at] = mean_gap_left(maps_as_read(block), mean[at][:, None, None])
    return reduce_draws(gap, bonds.shaft), as_single_values(read, bonds.shaft)


def draw_gaps(prediction: MapPrediction, normal: FloatArray, space_um: FloatArray) -> FloatArray:
    """Draw mean gaps as `fitting_gaps.draw_together` does, which draws much else and takes thrice as long."""
    root = widest_last_root(prediction.covariance_um2)
    flat = prediction.mean_um[:, None, :] + normal @ np.swapaxes(root, 1, 2)
    return mean_gap_left(flat.reshape(*normal.shape[:2], SPLINES, STATION_UM.size), space_um[..., None, None])


def _bonds(fit: WidthFit, data: WidthData, shaft: np.ndarray[tuple[int], np.dtype[np.str_]]) -> Bonds:
    """Tell what the fittings have in common, as a study joins them: every one has readings and a hub of its own."""
    last = data.inspections.sort_values("inspection").groupby("unit")[["measurer", "class"]].last()
    last = last.reindex(data.units["unit"])
    kind = len(MAP_COMPONENTS) + pd.Categorical(last["class"], categories=CLASSES).codes.astype(np.int64)
    lasting, all_biases = fit.variances[kind], fit.variances[kind] + fit.variances[kind + len(CLASSES)]
    own = np.arange(shaft.size)
    return Bonds(
        shaft=np.unique(shaft, return_inverse=True)[1].astype(np.int64),
        readings=own,
        hand=np.unique(last["measurer"].to_numpy(dtype=str), return_inverse=True)[1].astype(np.int64),
        hub=own,
        bias_share=np.where(all_biases > 0, lasting / np.maximum(all_biases, 1e-12), 0.0),
    )


def one_fleet(case: Case, fleet: LooseningFleet, known: WidthFit, *, rng: np.random.Generator) -> dict[str, float]:
    """Draw one fleet and fit it: for every question value, low, high; NaN where there is none."""
    drawn = fleet.draw(rng)
    fit = known
    if case.estimated:
        first = drawn.histories.drop_duplicates("shaft")["fitting"]
        chosen = drawn.inspections[drawn.inspections["unit"].isin(first)]
        fit = fit_widths(reduce_readings(drawn.moments, chosen, {"P": SHAPE}), intervals=False)
    nodes, read = gaps_known(drawn, fit, rng=rng)
    told = SilentHistories.from_frame(drawn.histories[drawn.measured])
    found = fit_loosening(told, nodes)
    as_read = fit_loosening(told, read)
    largest = float(nodes.mean_um.max())
    result: dict[str, float] = {"failures": float(told.failed.sum()), "largest": largest}
    result |= _ends("slope", slope_estimate(found))
    result |= _ends("as read", slope_estimate(as_read))
    result |= _ends("shape", shape_estimate(found))
    result |= _ends("p", chance_estimate(found))
    risks = found.risks(np.array(RISK_GAPS_UM), RISK_MONTHS)
    for k, gap in enumerate(RISK_GAPS_UM):
        value, low, high = (float(part[k]) for part in risks)
        result |= _ends(f"risk {gap:g}", Estimate(value=value, low=low, high=high))
    gap_told = gap_at_risk(found, months=RISK_MONTHS, limit=RISK_LIMIT, largest_um=largest)
    result |= _ends("gap", gap_told)
    result["gap: none"] = float(gap_told.status == "none")
    return result


def _ends(question: str, told: Estimate) -> dict[str, float]:
    ends = {"value": told.value, "low": told.low, "high": told.high}
    return {f"{question}: {end}": np.nan if value is None else value for end, value in ends.items()}


def run(case: Case, *, replicates: int | None = None) -> tuple[LooseningFleet, pd.DataFrame]:
    """Draw and fit all fleets of a case, one row a fleet."""
    fleet = settled(case)
    known = known_components(fleet, case.bias_factor)
    rows = []
    with threadpool_limits(limits=1, user_api="blas"):
        for number in range(case.replicates if replicates is None else replicates):
            rng = np.random.default_rng([SEED, number, case.fittings])
            try:
                rows.append(one_fleet(case, fleet, known, rng=rng))
            except AnalysisError:
                rows.append({"failures": 0.0})
    return fleet, pd.DataFrame(rows)


def truths(fleet: LooseningFleet) -> dict[str, float]:
    """Give what the intervals should hold."""
    risks = {f"risk {gap:g}": fleet.risk(gap, RISK_MONTHS) for gap in RISK_GAPS_UM}
    gap = fleet.gap_at(RISK_LIMIT)
    return (
        {"slope": fleet.slope, "as read": fleet.slope, "shape": fleet.shape, "p": fleet.reported} | risks | {"gap": gap}
    )


def held(found: pd.DataFrame, question: str, truth: float) -> FloatArray:
    """Tell in which fleets the interval held the truth: 1 or 0, NaN where none was given.

    The gap at the limit is held where it lies between the ends, an open one being no end; a gap beyond those on record
    where the upper end is open or at the largest; a limit that even no gap keeps where the lower end is 0.
    """
    low, high = (found[f"{question}: {end}"].to_numpy(dtype=float) for end in ("low", "high"))
    if question != "gap":
        return np.where(np.isnan(low), np.nan, (low <= truth) & (truth <= high))
    largest = found["largest"].to_numpy(dtype=float)
    none = found["gap: none"].to_numpy(dtype=float) == 1
    high = np.where(np.isnan(high), np.where(none, 0.0, np.inf), high)
    low = np.nan_to_num(low, nan=0.0)
    inside = (low <= max(truth, 0.0)) & (max(truth, 0.0) <= high)
    beyond = (truth > largest) & (high >= largest * 0.999)
    return np.where(np.isnan(largest), np.nan, inside | beyond)


def summary(fleet: LooseningFleet, found: pd.DataFrame) -> dict[str, dict[str, float]]:
    """Sum up one case: by question coverage, median width, mean error in standard deviations, share told."""
    result = {}
    for question, truth in truths(fleet).items():
        inside = held(found, question, truth)
        told = inside[~np.isnan(inside)]
        value = found[f"{question}: value"].to_numpy(dtype=float)
        width = (found[f"{question}: high"] - found[f"{question}: low"]).to_numpy(dtype=float)
        error = value[~np.isnan(value)] - truth
        cover = float(told.mean())
        result[question] = {
            "truth": truth,
            "cover": cover,
            "mc": float(np.sqrt(max(cover * (1 - cover), 0.01) / told.size)),
            "width": float(np.nanmedian(width)) if np.isfinite(width).any() else np.nan,
            "bias": float(error.mean() / error.std()) if error.size > 2 and np.isfinite(truth) else np.nan,
            "told": float(np.isfinite(width).mean()),
            "below": float(np.mean(found[f"{question}: high"].to_numpy(dtype=float) < truth)),
            "above": float(np.mean(found[f"{question}: low"].to_numpy(dtype=float) > truth)),
        }
    return result


HEAD = """# Working loose against the gap: how often the intervals hold the truth

Fleets from `tests/simulation/loosening_fleet.py`, which shares no code with the package; seed {seed}. A fifth of the
fittings are known to have worked loose ({failures}); shape {shape:g}, {reported:.0%} of failures reported unasked,
{silent:.0%} of owners never answer, a fifth of the places not read, gauges in steps of 1, 10 and 25.4 um, half of the
hubs gauged, half of the shafts whose first hub worked loose with a second. The hub is the loosest, in sizes 20 um
apart, whose clearance as read keeps a target of 18 um (SD 8), but for those chosen at random or on a reading not
on record. Components of the width model are known except where they are estimated from the same readings. Risks by
month 12 at gaps of 10 and 25 um; the gap at a risk of 10 % by then. Intervals are for 95 %, the Monte Carlo error of
their coverage {error:.3f} at 500 fleets, {rough:.3f} at 60.
"""


def table(results: Sequence[tuple[Case, LooseningFleet, pd.DataFrame]]) -> str:
    """Make the tables as Markdown."""
    size = {case.fittings: found["failures"].mean() for case, _, found in reversed(results)}
    told = ", ".join(f"{count:.0f} of {fittings}" for fittings, count in sorted(size.items()))
    fleet = results[0][1]
    lines = [
        HEAD.format(
            seed=SEED,
            failures=told,
            shape=fleet.shape,
            reported=fleet.reported,
            silent=fleet.silent_share,
            error=(0.95 * 0.05 / 500) ** 0.5,
            rough=(0.95 * 0.05 / 60) ** 0.5,
        )
    ]
    summaries = [(case, len(found), summary(fleet, found)) for case, fleet, found in results]
    for title, note, key in SECTIONS:
        heads = ["fleets of", "replicates", *QUESTIONS]
        lines += [f"## {title}", "", note, "", "| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
        for case, count, said in summaries:
            cells = [case.label, str(count), *(shown(said[question][key]) for question in QUESTIONS)]
            lines.append("| " + " | ".join(cells) + " |")
        lines.append("")
    return "\n".join(lines)


SECTIONS = (
    ("Coverage", "Share of the intervals given that hold the truth.", "cover"),
    (
        "Median width",
        "Of the intervals with two ends; the slope is per 10 um, risks from 0 to 1, the gap in um.",
        "width",
    ),
    ("Two ends", "Share of the fleets whose interval has two ends inside what is on record.", "told"),
    ("Mean error", "Over the standard deviation of the estimates.", "bias"),
    ("Whole interval below the truth", "Share of the fleets.", "below"),
    ("Whole interval above the truth", "Share of the fleets.", "above"),
    ("Truth", "The gap is infinite where no gap reaches the limit, and minus infinite where all exceed it.", "truth"),
)


def shown(number: float) -> str:
    """Write a number, a dash for none."""
    return "-" if np.isnan(number) else f"{number:.3f}"


def all_cases(work: Callable[[Case], tuple[LooseningFleet, pd.DataFrame]] = run) -> str:
    """Run the grid and make the tables."""
    results = []
    for case in cases():
        fleet, found = work(case)
        results.append((case, fleet, found))
        cover = " ".join(f"{name} {said['cover']:.3f}" for name, said in summary(fleet, found).items())
        print(f"{case.label}: {cover}", flush=True)  # noqa: T201 (it is run by hand, and long)
    return table(results)


if __name__ == "__main__":
    TABLE.write_text(all_cases(), encoding="utf-8")
