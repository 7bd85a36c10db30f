"""What reading the hub sent as a sign of its sender's belief is worth, on fleets whose truth is known.

Run ``python -m tests.simulation.unstored_choice`` to remake unstored_choice.md (about an hour on one core).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from tests.estimate_ends import three
from tests.simulation.loosening import (
    DRAWS,
    SHAPE,
    Case,
    _bonds,
    known_components,
    settled,
)
from tests.simulation.loosening_fleet import (
    LARGEST_SIZE,
    SIZE_STEP,
    STANDARD_SPACE,
    DrawnFleet,
    LooseningFleet,
    measure_again,
)
from wearstats.analysis.gaps.choice import MOST_NOTHING, Choices, learn_knowledge, sizes_between
from wearstats.analysis.gaps.draws import draw_normals, maps_as_read
from wearstats.analysis.gaps.indicators import choose_draws
from wearstats.analysis.gaps.nodes import reduce_draws
from wearstats.analysis.gaps.posterior import hub_spaces
from wearstats.analysis.loosening.estimates import slope_estimate
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.loosening.ignorability import check_choice, with_choice_doubt
from wearstats.analysis.numerics.covariance_roots import widest_last_root
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.analysis.widths.data import WidthData, reduce_readings
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import mean_gap_left

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261129
WORLDS = {"reading": "readings in hand", "unstored": "unstored knowledge", "both": "both, half and half"}
AGAIN = (0, 10, 30, 100)
FITTINGS, FLEETS = 600, 100
SLOPE, FAR_UM, MONTHS = 0.6, 25.0, 12.0
POWER_SIZES, POWER_FLEETS, AGAIN_SHARE = (400, 1500), 100, 1 / 6
SIZES = np.arange(0.0, LARGEST_SIZE + 1, SIZE_STEP)


def reduced(drawn: DrawnFleet) -> WidthData:
    """Stack the readings."""
    return reduce_readings(drawn.moments, drawn.inspections, {"P": SHAPE})


def below_new(fit: WidthFit, data: WidthData) -> pd.DataFrame:
    """Give by fitting the mean width below new, its variance, and as read."""
    names = data.units["unit"].to_numpy(dtype=object)
    parts = [
        pd.DataFrame(
            {
                "mean": -prediction.mean_um.mean(axis=1),
                "variance": prediction.covariance_um2.mean(axis=(1, 2)),
                "read": -maps_as_read(block).mean(axis=(1, 2)),
            },
            index=names[prediction.unit],
        )
        for prediction, block in zip(predict_maps(fit, data), data.blocks, strict=True)
    ]
    return pd.concat(parts).sort_index()


def choices_of(drawn: DrawnFleet, known: pd.DataFrame, again: pd.DataFrame) -> Choices:
    """Say what was known at each choice, and by those read again too; both as `below_new` gives them."""
    other = again.reindex(known.index)
    sent = STANDARD_SPACE - drawn.nominal_um
    low, high = sizes_between(sent, np.tile(SIZES, (sent.size, 1)))
    return Choices(
        low_um=low,
        high_um=high,
        expected_um=known["mean"].to_numpy(dtype=float),
        variance_um2=known["variance"].to_numpy(dtype=float),
        read_um=known["read"].to_numpy(dtype=float),
        again_um=other["mean"].to_numpy(dtype=float),
        again_variance_um2=other["variance"].to_numpy(dtype=float),
        groups=np.zeros((sent.size, 0)),
    )


def draw_known(drawn: DrawnFleet, fit: WidthFit, seed: int) -> tuple[FloatArray, FloatArray]:
    """Draw gaps and mean widths below new of all fittings, as the readings in hand have them."""
    data, n = reduced(drawn), drawn.nominal_um.size
    nothing = np.full(n, np.nan)
    mean, sd, _ = hub_spaces(
        nominal_um=drawn.nominal_um, gauged_um=drawn.gauged_um, gauged_u_um=nothing, go_um=nothing, no_go_um=nothing
    )
    bonds = _bonds(fit, data, drawn.histories["shaft"].to_numpy(dtype=str))
    half = np.random.default_rng(seed).standard_normal((n, DRAWS // 2))
    space = mean[:, None] + sd[:, None] * np.concatenate([half, -half], axis=1)
    gap, below = np.empty((n, DRAWS)), np.empty((n, DRAWS))
    for prediction in predict_maps(fit, data):
        at = prediction.unit
        normal = draw_normals(bonds.take(at), SHAPE.places, DRAWS, draws=NamedDraws(seed))
        root = widest_last_root(prediction.covariance_um2)
        flat = prediction.mean_um[:, None, :] + normal @ np.swapaxes(root, 1, 2)
        maps = flat.reshape(*normal.shape[:2], SHAPE.splines, len(SHAPE.stations))
        gap[at], below[at] = mean_gap_left(maps, space[at][..., None, None]), -flat.mean(axis=2)
    return gap, below


def one_fleet(fleet: LooseningFleet, known: WidthFit, number: int) -> list[dict[str, float]]:
    """Draw one fleet, and fit it with some of its shafts measured again; a row each."""
    rng = np.random.default_rng([SEED, number])
    drawn = fleet.draw(rng)
    gap, below = draw_known(drawn, known, int(rng.integers(2**32)))
    told = SilentHistories.from_frame(drawn.histories)
    plain = fit_loosening(told, reduce_draws(gap, told.shaft))
    order = rng.permutation(gap.shape[0])
    in_hand = below_new(known, reduced(drawn))
    rows = []
    for count in AGAIN:
        fit, worth, nothing = plain, 0.0, 1.0
        if count:
            again = measure_again(drawn, np.sort(order[:count]), rng)
            choices = choices_of(drawn, in_hand, below_new(known, reduced(again)))
            knowledge = learn_knowledge(choices)
            assert knowledge is not None
            worth, nothing = knowledge.expected, float(knowledge.share[0])
            if knowledge.used:
                chosen = choose_draws(knowledge.weigh(choices, below), told.shaft)
                nodes = reduce_draws(np.take_along_axis(gap, chosen, axis=1), told.shaft)
                fit = fit_loosening(told, nodes, term=plain.term, start=plain.parameters)
                fit = with_choice_doubt(fit, plain, worth=worth, variance=knowledge.variance)
        rows.append({"again": count, "worth": worth, "nothing": nothing, **told_by(fit)})
    return rows


def told_by(fit: LooseningFit) -> dict[str, float]:
    """Give the slope and the risk at a large gap with their ends."""
    low, found, high = three(slope_estimate(fit))
    risk = (float(part[0]) for part in fit.risks(np.array([FAR_UM]), MONTHS))
    names = ("slope", "slope low", "slope high", "risk", "risk low", "risk high")
    return dict(zip(names, (found, low, high, *risk), strict=True))


def run(world: str, fleets: int) -> tuple[LooseningFleet, pd.DataFrame]:
    """Draw and fit the fleets of a world."""
    case = Case(
        name=world,
        fittings=FITTINGS,
        replicates=fleets,
        fleet=LooseningFleet(slope=SLOPE, chosen_on=world),  # type: ignore[arg-type]
    )
    fleet = settled(case)
    known = known_components(fleet, 1.0)
    with threadpool_limits(limits=1, user_api="blas"):
        rows = [row for number in range(fleets) for row in one_fleet(fleet, known, number)]
    return fleet, pd.DataFrame(rows)


def summary(fleet: LooseningFleet, found: pd.DataFrame) -> pd.DataFrame:
    """Sum up by shafts measured again."""
    truth = {"slope": fleet.slope, "risk": fleet.risk(FAR_UM, MONTHS)}
    by = found.groupby("again")
    parts: dict[str, pd.Series] = {"fleets": by.size()}
    for name, true in truth.items():
        inside = found[f"{name} low"].le(true) & found[f"{name} high"].ge(true)
        parts[f"{name} true"] = by["again"].mean() * 0 + true
        parts[f"{name} mean"] = by[name].mean()
        parts[f"{name} cover"] = inside.groupby(found["again"]).mean()
        width = found[f"{name} high"] - found[f"{name} low"]
        parts[f"{name} width"] = width.groupby(found["again"]).median()
    parts["worth"] = by["worth"].mean()
    parts["nothing"] = by["nothing"].mean()
    return pd.DataFrame(parts)


def power(world: str, size: int, fleets: int) -> dict[str, float]:
    """Say on how many fittings measured again, and how often, the check finds that other readings predict the hub."""
    case = Case(name=world, fittings=size, replicates=1, fleet=LooseningFleet(slope=SLOPE, chosen_on=world))  # type: ignore[arg-type]
    fleet = settled(case)
    known = known_components(fleet, 1.0)
    seen, again = [], []
    with threadpool_limits(limits=1, user_api="blas"):
        for number in range(fleets):
            rng = np.random.default_rng([SEED, 1, number])
            drawn = fleet.draw(rng)
            n = drawn.nominal_um.size
            rows = np.sort(rng.permutation(n)[: round(AGAIN_SHARE * n)])
            inspections = measure_again(drawn, rows, rng)
            other = inspections.inspections["inspection"].str.endswith("-c")
            in_hand, read = (
                below_new(known, reduced(replace(inspections, inspections=inspections.inspections[part])))
                for part in (~other, other)
            )
            test = check_choice(
                STANDARD_SPACE - drawn.nominal_um[rows],
                in_hand["mean"].to_numpy(dtype=float),
                read["read"].to_numpy(dtype=float),
                np.zeros((rows.size, 0)),
            )
            seen.append(test.ignorable is False)
            again.append(rows.size)
    return {"again": float(np.mean(again)), "seen": float(np.mean(seen))}


HEAD = f"""# Hubs chosen on more than is on record

Made by `python -m tests.simulation.unstored_choice`. Fleets of `tests/simulation/loosening_fleet.py` of {FITTINGS}
fittings (Monte Carlo error of a coverage of 0.95 over {FLEETS}: {(0.95 * 0.05 / FLEETS) ** 0.5:.3f}); seed {SEED}.
The hub is chosen on the readings in hand; on a reading never written down, that of a good hand in the workshop; or on
the mean of both. A habit of SD 8 um and sizes 20 um apart hide what was believed. "Again" is how many fittings' shafts
were measured once more by the workshop before the hub ran; with 0 nothing is learnt, and the answer is that of the
readings in hand alone. "Worth" is the share of what the readings missed that senders are held to have known, "nothing"
the weight left on none: hubs are read as signs of the width where it is under {MOST_NOTHING:g}. That limit was set with
these fleets in sight: without it the slope's interval held the truth in 0.90 of the fleets, not 0.86, with ten shafts
measured again and hubs chosen on unstored knowledge, but in every shop what is thought beforehand moved the answers.
Ten shafts are too few. The slope is per 10 um, the risk that of {MONTHS:g} months at a gap of {FAR_UM:g} um.
"""


def main() -> None:
    """Write the table."""
    lines = [HEAD, "## Coverage", ""]
    heads = [
        "chosen on", "again", "fleets", "slope true", "mean", "cover", "width", "risk true", "mean", "cover", "width",
        "worth", "nothing",
    ]  # fmt: skip
    lines += ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    for world, words in list(WORLDS.items())[:2]:
        for again, row in summary(*run(world, FLEETS)).iterrows():
            cells = [words, str(again), f"{row.iloc[0]:.0f}", *(f"{number:.3f}" for number in row.iloc[1:])]
            lines.append("| " + " | ".join(cells) + " |")
            print(lines[-1], flush=True)  # noqa: T201 (it is run by hand, and long)
    heads = ["chosen on", "fittings", "again", "fleets", "other readings predict the hub (p < 0.05)"]
    lines += ["", "## Power of the check", "", "A sixth of the fittings measured again.", ""]
    lines += ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    for world, words in WORLDS.items():
        for size in POWER_SIZES:
            said = power(world, size, POWER_FLEETS)
            cells = [words, str(size), f"{said['again']:.0f}", str(POWER_FLEETS), f"{said['seen']:.2f}"]
            lines.append("| " + " | ".join(cells) + " |")
            print(lines[-1], flush=True)  # noqa: T201
    TABLE.write_text("\n".join([*lines, ""]), encoding="utf-8")


if __name__ == "__main__":
    main()
