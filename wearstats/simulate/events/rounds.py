"""One round of the trade for many shafts at once: measured, a hub chosen and sent."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.simulate.events.choice import (
    AS_SUPPLIED,
    HALF_YEAR_DAYS,
    choose_method,
    choose_size,
    day_number,
)
from wearstats.simulate.events.progress import NO_ROW, Progress
from wearstats.simulate.events.readings import Summary, inspect
from wearstats.simulate.events.shafts import mean_of_places


def measure(progress: Progress, *, rng: np.random.Generator) -> None:
    """Take orders from shafts that need measuring, and measure them; those not done by the end drop out."""
    scenario = progress.scenario
    progress.active &= progress.day <= progress.end
    fresh = np.flatnonzero(progress.active & progress.fresh)
    order = progress.orders.add(pd.DataFrame({"shaft": fresh, "day": progress.day[fresh], "outcome": ""}))
    progress.order[fresh] = order
    period = progress.periods.add(pd.DataFrame({"shaft": fresh, "hours": progress.hours[fresh]}))
    progress.period[fresh] = period
    progress.widths.append(progress.width_um[fresh])
    first = progress.day[fresh] + rng.integers(1, 10, size=fresh.size)
    twice = rng.random(fresh.size) < scenario.home_twice_share
    second = np.where(twice, first + rng.integers(1, 12, size=fresh.size), np.inf)
    both = rng.random(fresh.size) < scenario.workshop_share
    sooner = rng.random(fresh.size) < scenario.workshop_before_choice_share
    last = np.where(np.isfinite(second), second, first)
    in_workshop = both & sooner & (last + 12 <= progress.end)
    third = np.where(in_workshop, last + rng.integers(3, 12, size=fresh.size), np.inf)
    one = _inspect(progress, fresh, first, at_home=True, rng=rng)
    two = _inspect(progress, fresh, second, at_home=True, rng=rng)
    three = _inspect(progress, fresh, third, at_home=False, rng=rng)
    means = np.stack([one[0], two[0]])
    there = np.stack([one[2], two[2]]) >= 0
    home = np.where(there, means, 0.0).sum(axis=0) / np.maximum(there.sum(axis=0), 1)
    by_shop = three[2] >= 0
    progress.read_um[fresh] = np.where(by_shop, three[0], home)
    progress.hollow_um[fresh] = np.where(by_shop, three[1], one[1])
    hand = np.stack([one[2], two[2], three[2]], axis=1)
    hand = np.where(by_shop[:, None], hand[:, [2, 0, 1]], hand)
    progress.in_hand[fresh] = hand
    progress.in_workshop[fresh] = by_shop
    progress.workshop_later[fresh] = both & ~sooner
    done = np.maximum(np.where(np.isfinite(third), third, 0), np.where(second <= progress.end, second, first))
    progress.ready_day[fresh] = done
    progress.active[fresh] &= first <= progress.end


def _inspect(
    progress: Progress, shafts: IntArray, day: FloatArray, *, at_home: bool, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Inspect shafts whose day lies in the study; means, hollows and rows by shaft, row -1 where there was none."""
    mean, hollow = np.zeros(shafts.size), np.zeros(shafts.size)
    row = np.full(shafts.size, NO_ROW, dtype=np.int64)
    done = day <= progress.end
    summary = inspect_at(progress, shafts[done], day[done], at_home=at_home, rng=rng)
    mean[done], hollow[done], row[done] = summary.mean_um, summary.hollow_um, summary.row
    return mean, hollow, row


def inspect_at(
    progress: Progress, shafts: IntArray, day: FloatArray, *, at_home: bool, rng: np.random.Generator
) -> Summary:
    """Inspect shafts on given days."""
    owner = progress.shafts.owner[shafts]
    hand = rng.integers(progress.scenario.workshop_hands, size=shafts.size)
    told_hours = rng.random(shafts.size) < 0.85
    visits = pd.DataFrame(
        {
            "shaft": shafts,
            "period": progress.period[shafts],
            "day": day,
            "at_home": at_home,
            "person": owner if at_home else hand,
            "hours": np.where(told_hours, np.rint(progress.hours[shafts]), np.nan),
        }
    )
    return inspect(
        progress.inspections,
        visits,
        progress.width_um[shafts],
        progress.shafts.splines[shafts],
        progress.nominal_um[shafts],
        progress.owners,
        progress.scenario,
        rng=rng,
    )


def send(progress: Progress, *, rng: np.random.Generator) -> pd.DataFrame:
    """Choose and send a hub to every shaft that waits for one.

    Parameters
    ----------
    progress : Progress
        Those whose order ends without a hub drop out.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    DataFrame
        One row a hub sent to be tried: ``shaft``, ``sent_day``, ``sent_as``, ``space_um``, ``hub`` (row), and, for the
        comparison of methods, ``supplied_um`` and ``filed_um``: the spaces the same shop would have sent by method.
    """
    scenario, shelf = progress.scenario, progress.shelf
    shafts = np.flatnonzero(progress.active)
    n = shafts.size
    fresh = progress.fresh[shafts]
    day = np.maximum(progress.ready_day[shafts], progress.day[shafts]) + rng.integers(2, 14, size=n).astype(float)
    pattern = progress.shafts.pattern[shafts]
    read = progress.read_um[shafts]
    method = choose_method(read, day, progress.in_workshop[shafts], scenario, rng=rng)
    method = np.where(progress.forced[shafts] >= 0, progress.forced[shafts], method)
    habit = scenario.choice_sd_um * rng.standard_normal(n)
    swap = np.where(rng.random(n) < scenario.substitute_share, rng.choice([-1, 1], size=n), 0)
    lot = rng.random(n)
    basis = read
    if scenario.choice == "unstored":
        basis = mean_of_places(progress.width_um[shafts]) + 3.0 * rng.standard_normal(n)
    by_aim = [
        choose_size(shelf, pattern, day, basis, habit + aim, swap, lot, scenario)
        for aim in (scenario.target_as_supplied_um, scenario.target_hand_um)
    ]
    supplied = method == AS_SUPPLIED
    chosen = by_aim[0].where(pd.Series(supplied), by_aim[1], axis=0)
    outcome = _outcomes(progress, shafts, chosen, day, rng=rng)
    progress.orders.blocks[-1] = _settle(progress, shafts[fresh], outcome[fresh])
    special = outcome == "special"
    half = ((day - day_number(scenario.start)) // HALF_YEAR_DAYS).clip(0, shelf.batch_um.shape[2] - 1).astype(int)
    lane = rng.integers(shelf.batch_um.shape[3], size=n)
    own = scenario.hub_sd_um * rng.standard_normal(n)
    spaces = []
    for aim in by_aim:
        batch = shelf.batch_um[pattern, aim["size"].to_numpy(), half, lane]
        spaces.append(shelf.standard_um[pattern] - aim["undersize_um"].to_numpy() + batch + own)
    grid = np.array([spec.grid_um for spec in scenario.patterns])[pattern]
    made = np.rint(chosen["wanted_um"].to_numpy() / grid) * grid
    undersize = np.where(special, made, chosen["undersize_um"])
    space = np.where(special, shelf.standard_um[pattern] - made + own, np.where(supplied, *spaces))
    gauged = (rng.random(n) < scenario.gauged_share) | special
    dealer = fresh & (progress.refit_of[shafts] < 0) & (rng.random(n) < scenario.known_later_share)
    reading = np.round(space + scenario.gauging_sd_um * rng.standard_normal(n))
    job = pd.DataFrame(
        {
            "shaft": shafts,
            "pattern": pattern,
            "size": np.where(special, NO_ROW, chosen["size"]),
            "undersize_um": undersize,
            "half": half,
            "lane": lane,
            "space_um": space,
            "gauged_um": np.where(gauged, reading, np.nan),
            "sent_day": day,
            "sent_as": method,
            "order": progress.order[shafts],
            "inspection": progress.in_hand[shafts, 0],
            "told": rng.random(n) < 0.15,
            "dispatched": ~dealer,
        }
    )
    sent = np.isin(outcome, ["sent", "special"])
    progress.active[shafts[~sent]] = False
    job = job[sent].reset_index(drop=True)
    hub = progress.hubs.add(job)
    return job.assign(hub=hub, supplied_um=spaces[0][sent], filed_um=spaces[1][sent])


def _outcomes(
    progress: Progress, shafts: IntArray, chosen: pd.DataFrame, day: FloatArray, *, rng: np.random.Generator
) -> np.ndarray:
    """Decide what became of each order; empty where the study ended first."""
    scenario = progress.scenario
    n = shafts.size
    fresh = progress.fresh[shafts]
    lot = rng.random(n)
    outcome = np.full(n, "sent", dtype=object)
    lost = fresh & (lot < scenario.went_silent_share + scenario.cancelled_share)
    outcome[lost] = np.where(lot[lost] < scenario.went_silent_share, "went-silent", "cancelled")
    if scenario.choice != "random":
        beyond = fresh & ~lost & (chosen["wanted_um"] > chosen["largest_um"] + 15.0).to_numpy()
        outcome[beyond] = np.where(rng.random(n)[beyond] < scenario.special_share, "special", "no-size")
    hollow = fresh & ~lost & (progress.hollow_um[shafts] > scenario.decline_hollow_um)
    outcome[hollow & (rng.random(n) < 0.6)] = "declined"
    outcome[day > progress.end] = ""
    return outcome


def _settle(progress: Progress, shafts: IntArray, outcome: np.ndarray) -> pd.DataFrame:
    """Write the outcomes into the orders of this round."""
    block = progress.orders.blocks[-1].copy()
    place = pd.Series(np.arange(len(block)), index=block["shaft"])
    words = block["outcome"].to_numpy(dtype=object).copy()
    words[place.reindex(shafts).to_numpy(dtype=np.int64)] = outcome
    return block.assign(outcome=words)


def retry(progress: Progress, shafts: IntArray, day: FloatArray, *, forced: IntArray) -> None:
    """Let shafts whose hub came back before it ran wait for another, without measuring again."""
    progress.active[shafts] = True
    progress.fresh[shafts] = False
    progress.day[shafts] = day
    progress.forced[shafts] = forced


def renew(progress: Progress, shafts: IntArray, day: FloatArray, fitting: IntArray) -> None:
    """Let shafts whose hub came off send a new order, to be measured again."""
    progress.active[shafts] = True
    progress.fresh[shafts] = True
    progress.day[shafts] = day
    progress.forced[shafts] = NO_ROW
    progress.refit_of[shafts] = fitting


def drop(progress: Progress, shafts: IntArray | BoolArray) -> None:
    """Let shafts want nothing more."""
    progress.active[shafts] = False
