"""What it is worth to choose hubs by the rule, beside rivals, on fleets whose truth is known; writes policy.md.

Run ``python -m tests.simulation.policy`` to remake the tables (about six minutes on one core).

Every fleet's readings and histories are fitted as the program fits them. Then new shafts with one reading each are sent
a hub by every policy, and what becomes of it is worked out on the true map, by the true hazard.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from tests.simulation.loosening import SHAPE, gaps_known
from tests.simulation.loosening_fleet import LARGEST_SIZE, SIZE_STEP, STANDARD_SPACE
from tests.simulation.policy_fleet import BestReader, UnevenFleet, new_shafts
from tests.simulation.policy_tables import BEST, EARLIER, NEAREST, ORACLE, POLICIES, RULE, TIGHTER, sections
from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.options import HubOption, Weighed, candidates_of, weigh
from wearstats.analysis.advice.outcomes import AS_SUPPLIED, OWNER, WORKSHOP, FilingHand, FittingPrices
from wearstats.analysis.advice.remarks import Refusal
from wearstats.analysis.advice.rule import FAR_OVER, HARDLY_MORE, Candidate, decide
from wearstats.analysis.gaps.posterior import FitDraws, draw_maps, hub_space
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.remark import Remark
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.analysis.widths.data import reduce_readings
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.pattern import Pattern
from wearstats.studies.loosening.fit_from_store import model_of
from wearstats.studies.shaft.costs import DEFAULT_MINUTES
from wearstats.studies.shaft.options import _specials

TABLE = Path(__file__).with_suffix(".md")
SEED = 20261128
FLEETS, SHAFTS, HISTORY = 36, 60, 240
DRAWS, HUBS = 400, 60
MONTHS = 12.0
PRICES = FittingPrices(
    filing_minute=1.0,
    workshop_fit=DEFAULT_MINUTES["workshop_fit"],
    postage=DEFAULT_MINUTES["postage"],
    return_=DEFAULT_MINUTES["return"],
    failure=DEFAULT_MINUTES["failure"],
    special=DEFAULT_MINUTES["special"],
)
TIMES = (0.5, 1.0, 2.0)
HAND, LIMITS = FilingHand(), AdviceLimits()
SIZES = np.arange(0.0, LARGEST_SIZE + 1, SIZE_STEP)
PATTERN = Pattern(
    pattern="P",
    splines=SHAPE.splines,
    width_mm=SHAPE.new_width_mm,
    space_width_mm=SHAPE.new_width_mm + STANDARD_SPACE / 1000,
    minor_mm=26.0,
    major_mm=32.0,
    engaged_mm=30.0,
    stations=SHAPE.stations,
    grid_um=SIZE_STEP / 2,
)
Key = tuple[float, str, float | None]


@dataclass(frozen=True, kw_only=True)
class World:
    """How fast hubs work loose, and the limits that the shop might set."""

    name: str
    fleet: UnevenFleet
    limits: tuple[float, ...]


WORLDS = (
    World(name="mostly hold", fleet=UnevenFleet(shafts=HISTORY, tight=0.015, loose=0.14), limits=(0.05,)),
    World(name="many fail", fleet=UnevenFleet(shafts=HISTORY, tight=0.07, loose=0.5), limits=(0.05, 0.10)),
)


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One hub, or two, by one method, as whoever chooses sees it."""

    key: Key
    cost: float
    chance: float
    unsound: bool


def best_choice(choices: Sequence[Choice], limit: float) -> tuple[Choice, bool]:
    """Give the cheapest that meets all demands, and whether the rule would have sent it; else what harms least."""
    sound = [each for each in choices if not each.unsound]
    known = sound or list(choices)
    allowed = [each for each in known if each.chance <= limit]
    least = min(each.chance for each in known)
    take = allowed or [each for each in known if each.chance <= HARDLY_MORE * least]
    return min(take, key=lambda each: each.cost), bool(sound) and least <= FAR_OVER * limit


def earlier_rule(candidates: Sequence[Candidate], limit: float) -> Key:
    """Choose as before: what surely grips four splines in five, of these the loosest whose chance is surely small."""
    sizes = [each for each in candidates if each.method == OWNER and each.second_um is None and not each.special]
    grips = [each for each in sizes if each.gripped >= LIMITS.sure] or sizes[-1:]
    known = [each for each in grips if each.risk.value is not None]
    surely = [each for each in known if each.risk.high is not None and each.risk.high <= limit]
    likely = [each for each in known if each.risk.value is not None and each.risk.value <= limit]
    least = sorted(known, key=lambda each: each.risk.value or 0.0)
    return _key((surely or likely or least or grips)[0])


def size_to(reading_um: float, tighter: int) -> Key:
    """Give the size nearest to the mean reading, or so many tighter, filed by the owner."""
    size = np.round((STANDARD_SPACE - reading_um) / SIZE_STEP) + tighter
    return float(np.clip(size * SIZE_STEP, 0.0, LARGEST_SIZE)), OWNER, None


def _key(each: Candidate) -> Key:
    return each.undersize_um, each.method, each.second_um


def _key_weighed(each: Weighed) -> Key:
    return each.option.undersize_um, each.method, each.second_um


def choices_of(weighed: Sequence[Weighed], prices: FittingPrices) -> list[Choice]:
    """Sum up what was weighed by the true hazard."""
    costs = [each.costs(prices, follows=0.0).mean() for each in weighed]
    follows = min(cost for each, cost in zip(weighed, costs, strict=True) if _follows(each))
    return [
        Choice(
            key=_key_weighed(each),
            cost=float(each.costs(prices, follows=follows).mean()),
            chance=0.0 if each.risk is None else float(each.risk.mean()),
            unsound=any(bool(v) for k, v in each.refused(1.0, LIMITS).items() if k != Refusal.OVER_LIMIT),
        )
        for each in weighed
    ]


def _follows(each: Weighed) -> bool:
    return each.method != AS_SUPPLIED and each.second_um is None


@dataclass(frozen=True, kw_only=True)
class Realised:
    """What becomes of a hub on the true shaft."""

    cost: float
    chance: float
    minutes: float
    back: float
    kind: str


def realised(weighed: Sequence[Weighed], prices: FittingPrices) -> dict[Key, Realised]:
    """Follow every hub on the true map; one that comes back is followed by the cheapest that is filed to fit."""
    next_cost, next_chance = min(
        (
            float(each.costs(prices, follows=0.0).mean()),
            float(((1 - each.outcomes.comes_back) * np.asarray(each.risk)).mean()),
        )
        for each in weighed
        if _follows(each)
    )
    told = {}
    for each in weighed:
        back = each.outcomes.comes_back
        told[_key_weighed(each)] = Realised(
            cost=float(each.costs(prices, follows=next_cost).mean()),
            chance=float(((1 - back) * np.asarray(each.risk) + back * next_chance).mean()),
            minutes=float(each.outcomes.minutes.mean()),
            back=float(back.mean()),
            kind=_kind(each),
        )
    return told


def _kind(each: Weighed) -> str:
    if each.option.special:
        return "make-special"
    if each.method == WORKSHOP:
        return "send-shaft-here"
    if each.second_um is not None:
        return "send-two"
    return "send" if each.method == OWNER else AS_SUPPLIED


def _weigh(
    maps_um: FloatArray,
    options: Sequence[HubOption],
    risk: Callable[[FitDraws, str], tuple[FloatArray | None, Remark | None, bool]],
    seed: Sequence[int],
) -> list[Weighed]:
    rng = np.random.default_rng(seed)
    return weigh(maps_um, options, risk=risk, hand=HAND, limits=LIMITS, prices=PRICES, rng=rng)


@dataclass(frozen=True, kw_only=True)
class Shaft:
    """One new shaft: how its hubs look by the model, to the best reader, and in truth."""

    reading_um: float
    by_model: list[Weighed]
    by_best: list[Weighed]
    true: list[Weighed]


def rows_of(shaft: Shaft, limits: Sequence[float]) -> list[dict[str, object]]:
    """Let every policy choose at every limit and price of a failure; one row a choice."""
    rows: list[dict[str, object]] = []
    for times in TIMES:
        prices = replace(PRICES, failure=times * PRICES.failure)
        became = realised(shaft.true, prices)
        readable, truth = choices_of(shaft.by_best, prices), choices_of(shaft.true, prices)
        for limit in limits:
            candidates = candidates_of(shaft.by_model, prices=prices, limit=limit, limits=LIMITS, hand=HAND)
            decision = decide(candidates, limit=limit, limits=LIMITS)
            best, best_sends = best_choice(readable, limit)
            oracle, oracle_sends = best_choice(truth, limit)
            chosen: dict[str, tuple[Key, bool]] = {
                NEAREST: (size_to(shaft.reading_um, 0), True),
                TIGHTER: (size_to(shaft.reading_um, 1), True),
                EARLIER: (earlier_rule(candidates, limit), True),
                BEST: (best.key, best_sends),
                ORACLE: (oracle.key, oracle_sends),
            }
            if decision.chosen is not None:
                chosen[RULE] = (_key(decision.chosen), True)
            same = {"limit": limit, "times": times, "sent": decision.chosen is not None}
            for policy in POLICIES:
                if policy not in chosen:
                    rows.append({**same, "policy": policy, "do": "decline", "sends": False})
                    continue
                key, sends = chosen[policy]
                told = became[key]
                rows.append(
                    same
                    | {"policy": policy, "do": told.kind if sends else "decline", "sends": sends, "cost": told.cost}
                    | {"chance": told.chance, "minutes": told.minutes, "back": told.back, "size": key[0]}
                )
    return rows


def one_fleet(world: World, number: int, *, shafts: int = SHAFTS) -> pd.DataFrame:
    """Draw a fleet, fit it, and send hubs to new shafts."""
    rng = np.random.default_rng([SEED, WORLDS.index(world), number])
    drawn = world.fleet.draw(rng)
    first = drawn.histories.drop_duplicates("shaft")["fitting"]
    heads = drawn.inspections[drawn.inspections["unit"].isin(first)]
    fit = fit_widths(reduce_readings(drawn.moments, heads, {"P": SHAPE}), intervals=False)
    nodes, _ = gaps_known(drawn, fit, rng=rng)
    model = model_of(fit_loosening(SilentHistories.from_frame(drawn.histories[drawn.measured]), nodes))

    def risk(found: FitDraws, method: str) -> tuple[FloatArray | None, Remark | None, bool]:
        # the same drawn laws for every hub, as the program draws them
        laws = np.random.default_rng([SEED, number])
        return model.draws(found, method=method, duty=None, months=MONTHS, rng=laws)

    def true_risk(found: FitDraws, _: str) -> tuple[FloatArray | None, Remark | None, bool]:
        return world.fleet.chance(found.gap_left_um), None, False

    new, reader = new_shafts(shafts, rng), BestReader()
    data = reduce_readings(*new.frames(), {"P": SHAPE})
    offered = {float(um): hub_space(nominal_um=PATTERN.space_um(float(um))) for um in SIZES}
    rows = []
    for prediction in predict_maps(fit, data):
        drawn_maps = draw_maps(prediction, rng=rng, draws=DRAWS)
        names = data.units["unit"].to_numpy(dtype=str)[prediction.unit]
        for name, maps in zip(names, drawn_maps, strict=True):
            at = int(name.removeprefix("new-"))
            options = [HubOption(undersize_um=um, space=space) for um, space in offered.items()]
            options += _specials(PATTERN, maps, offered, LIMITS)
            readable = reader.draw(new.shown_um[at], float(new.step_um[at]), draws=DRAWS, rng=rng)
            seed = [SEED, number, at]
            shaft = Shaft(
                reading_um=float(np.nanmean(new.shown_um[at])),
                by_model=_weigh(maps, options, risk, seed),
                by_best=_weigh(readable, options, true_risk, seed),
                true=_weigh(np.repeat(new.true_um[at][None], HUBS, axis=0), options, true_risk, seed),
            )
            rows += [row | {"shaft": at} for row in rows_of(shaft, world.limits)]
    return pd.DataFrame(rows).assign(world=world.name, fleet=number, law=model.law is not None)


def run(world: World, *, fleets: int = FLEETS, shafts: int = SHAFTS) -> pd.DataFrame:
    """Draw all fleets of a world; one row a fleet, shaft, limit, price of a failure and policy."""
    with threadpool_limits(limits=1, user_api="blas"):
        return pd.concat([one_fleet(world, number, shafts=shafts) for number in range(fleets)], ignore_index=True)


HEAD = """# What the policy is worth

{fleets} fleets of {history} shafts in each world from `tests/simulation/policy_fleet.py`, seed {seed}; to each
{shafts} new shafts with one reading at home. The fit knows nothing of how they were made: wear is skewed and leaves
hollows and slack splines that grow with it, and the hazard against the gap is an S that levels off. Hubs cannot be told
by number: sizes {step:g} um apart up to {largest:g}, spaces with a spread of 5 um, specials in steps of half of that.

- the rule: width model and law of working loose fitted to the fleet, then `weigh`, `candidates_of` and `decide`
- nearest to the reading, one tighter: by the mean of the readings, filed by the owner
- the earlier rule: of the sizes of which at least four splines in five surely grip (9 in 10) the loosest with the upper
  end of its chance under the limit, else with its chance under it, else the least chance; filed by the owner
- best on the readings: the same demands and the least expected cost, by the true laws of wear, reading and hazard
- knows the map: the same on the true map, the hub's space within its spread

All are followed on the true map by the true hazard, over the hub's spread. A hub that comes back is followed by the
cheapest that is filed to fit, whose cost and chance count. Costs are minutes of filing: a failure {failure:g}, a return
{return_:g}, post {post:g}, the workshop {workshop:g}, a special {special:g}; chances are of 100 in a year. Time and
filing too far go by the program's own assumptions, so these favour nobody but are no finding. Compared are the shafts
that the rule sends a hub; where best or oracle would send nothing, their least bad hub counts. Errors are between
fleets.

In the world *mostly hold* a gap of 12 um works loose {hold:.1f} times in 100 a year and one of 30 um {hold_wide:.0f},
in *many fail* {fail:.1f} and {fail_wide:.0f}; without any gap {hold_none:.1f} and {fail_none:.1f}. Fleets with too few
failures for a law: {lawless}.
"""


def _head(lawless: int) -> str:
    gaps = np.array([0.0, 12.0, 30.0])
    hold, fail = (100 * world.fleet.chance(gaps) for world in WORLDS)
    return HEAD.format(
        fleets=FLEETS, history=HISTORY, seed=SEED, shafts=SHAFTS, step=SIZE_STEP, largest=LARGEST_SIZE,
        failure=PRICES.failure, return_=PRICES.return_, post=PRICES.postage, workshop=PRICES.workshop_fit,
        special=PRICES.special, hold=hold[1], hold_wide=hold[2], fail=fail[1], fail_wide=fail[2],
        hold_none=hold[0], fail_none=fail[0], lawless=lawless,
    )  # fmt: skip


def table(rows: pd.DataFrame) -> str:
    """Make the tables as Markdown."""
    lawless = rows[~rows["law"].astype(bool)].groupby(["world", "fleet"]).ngroups
    lines = [_head(lawless)]
    lines += sections(rows, failure=PRICES.failure)
    return "\n".join(lines)


if __name__ == "__main__":
    TABLE.write_text(table(pd.concat([run(world) for world in WORLDS], ignore_index=True)), encoding="utf-8")
