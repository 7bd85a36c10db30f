"""When to make and how many: against every rule of a small case, against the lot of even demand, and run for years."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import poisson

from wearstats.analysis.stock.best_quantities import best_quantities
from wearstats.analysis.stock.lot_sizes import DAYS_A_YEAR, Restocking, StockCosts, best_restocking, lacking_cost
from wearstats.analysis.stock.quantities import Shelf, check_quantities, run_stage, size_rules
from wearstats.analysis.stock.substitution import one_way
from wearstats.domain.arrays import FloatArray, IntArray

COSTS = StockCosts(setup=90.0, made=52.0, held=7.0, lacking=127.0, batch_size=20)
LEAD, STAGE = 35.0, 91.3125


def pmf(mean: float) -> FloatArray:
    chance = poisson.pmf(np.arange(60), mean)
    return np.asarray(chance / chance.sum())


def rule(mean: float, costs: StockCosts = COSTS, *, most: int = 80) -> Restocking:
    return best_restocking(
        pmf(mean * LEAD / STAGE), pmf(mean * (1 - LEAD / STAGE)), costs, lead_days=LEAD, stage_days=STAGE, most=most
    )


def run_years(make: FloatArray, mean: float, costs: StockCosts, *, stages: int, seed: int) -> float:
    """Mean cost of a stage of a rule, run on and on: written apart from the programme, hub by hub."""
    rng = np.random.default_rng(seed)
    before = rng.poisson(mean * LEAD / STAGE, stages)
    after = rng.poisson(mean * (1 - LEAD / STAGE), stages)
    stock, cost = 10, 0.0
    for first, second in zip(before.tolist(), after.tolist(), strict=True):
        made = int(make[stock])
        cost += costs.made * made + costs.setup * -(-made // costs.batch_size)
        left = max(stock - first, 0)
        cost += costs.lacking * max(first - stock, 0) + costs.held * LEAD / DAYS_A_YEAR * (stock + left) / 2
        put = left + made
        end = max(put - second, 0)
        cost += costs.lacking * max(second - put, 0)
        cost += costs.held * (STAGE - LEAD) / DAYS_A_YEAR * (put + end) / 2
        stock = end
    return cost / stages


def test_the_best_rule_is_to_wait_until_stock_is_low_and_then_make_many() -> None:
    # Scarf 1959: with a set-up there is a level below which one makes, and above which one does not
    make = rule(10.0).make
    makes = make > 0
    assert makes[0]
    assert not makes[-1]
    assert np.all(np.diff(makes.astype(int)) <= 0)
    # and with what is there counted, one goes up to about the same number from any stock below that level
    low = int(makes.sum())
    assert np.all(np.abs(np.diff((np.arange(make.size) + make)[:low])) <= COSTS.batch_size)


def test_no_level_and_number_found_by_trial_costs_less_run_for_years() -> None:
    costs = StockCosts(setup=90.0, made=52.0, held=7.0, lacking=127.0, batch_size=200)
    best = run_years(rule(6.0, costs).make, 6.0, costs, stages=6000, seed=3)
    tried = {}
    stock = np.arange(81)
    for level, up_to in itertools.product(range(2, 16, 2), range(8, 40, 3)):
        make = np.where((stock < level) & (up_to > stock), up_to - stock, 0.0)
        tried[level, up_to] = run_years(make, 6.0, costs, stages=6000, seed=3)
    # the same needs for all; half a per cent of a stage's cost is well within what a coarse trial may gain by chance
    assert best <= min(tried.values()) * 1.005
    assert best < np.median(list(tried.values())) * 0.97


def test_the_lot_grows_with_the_set_up_as_the_square_root_formula_has_it() -> None:
    # Harris 1913: lot = sqrt(2 * set-up * demand a year / keeping a year); far from the bounds of the batch
    for setup, mean in ((90.0, 6.0), (360.0, 6.0)):
        costs = StockCosts(setup=setup, made=52.0, held=20.0, lacking=300.0, batch_size=500)
        make = rule(mean, costs, most=140).make
        lot = np.sqrt(2 * setup * mean * DAYS_A_YEAR / STAGE / 20.0)
        level = int((make > 0).sum()) - 1
        assert make[level] == pytest.approx(lot, rel=0.35)


def test_needs_that_nothing_serves_cost_the_lesser_of_special_and_lost_sale() -> None:
    assert lacking_cost(lost_sale=75.0, special=150.0, made=52.0) == 127.0
    assert lacking_cost(lost_sale=175.0, special=150.0, made=52.0) == 150.0


def shelf(on_hand: list[float], filing: float = np.inf, costs: StockCosts = COSTS) -> Shelf:
    sizes = np.arange(len(on_hand), dtype=np.float64) * 25.0
    step = np.maximum(sizes[None, :] - sizes[:, None], 0.0)
    cost = np.full(step.shape, np.inf) if np.isinf(filing) else filing * step
    return Shelf(
        on_hand=np.array(on_hand),
        may_make=np.ones(len(on_hand), dtype=bool),
        filing=one_way(cost, sizes),
        costs=costs,
        lead_days=LEAD,
        stage_days=STAGE,
    )


def drawn(means: list[float], part: float, seed: int, draws: int = 4000) -> np.ndarray:
    return np.random.default_rng(seed).poisson(np.array(means) * part, size=(draws, len(means)))


def choose(at: Shelf, before: IntArray, after: IntArray, rules: list[Restocking]) -> IntArray:
    return best_quantities(at, before, after, rules).make


def test_a_lone_size_is_made_as_its_own_rule_says() -> None:
    one = shelf([3.0])
    before, after = drawn([8.0], LEAD / STAGE, 1), drawn([8.0], 1 - LEAD / STAGE, 2)
    rules = size_rules(one, before, after)
    make = choose(one, before, after, rules)
    assert abs(int(make[0]) - rules[0].make[3]) <= 2


def test_a_hub_is_filed_out_where_that_and_another_made_for_it_cost_less_than_a_need_not_served() -> None:
    # a need not served costs 127 and the hub itself 52: up to 75 of filing is worth it
    needed = np.array([[1, 0]])
    for filing, filed in ((74.0, 1), (76.0, 0)):
        ran = run_stage(shelf([0.0, 2.0], filing / 25.0), np.zeros(2), needed, 0 * needed, [np.zeros(3)] * 2)
        assert ran.filed[0] == filed
        assert ran.lacking[0] == 1 - filed
        # two lie there until the lead time, half of the time with what is taken; then what is left
        kept = (LEAD * (2 - filed / 2) + (STAGE - LEAD) * (2 - filed)) / DAYS_A_YEAR
        assert ran.cost[0] == pytest.approx(7.0 * kept + (filing if filed else 127.0))


def test_many_hubs_counted_in_bundles_are_made_about_as_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    one = shelf([40.0])
    before, after = drawn([60.0], LEAD / STAGE, 1), drawn([60.0], 1 - LEAD / STAGE, 2)
    fine = size_rules(one, before, after)[0]
    monkeypatch.setattr("wearstats.analysis.stock.quantities._MOST_STEPS", fine.make.size // 4)
    rough = size_rules(one, before, after)[0]
    assert not np.array_equal(rough.make[:200], fine.make[:200])
    stock = np.arange(0, 200, 20)
    assert rough.make[stock] == pytest.approx(fine.make[stock], abs=12)
    # what a hub on hand spares, over twenty of them; bundles blur it by a few per cent
    assert np.diff(rough.value[stock]) == pytest.approx(np.diff(fine.value[stock]), rel=0.05, abs=20)


def test_no_other_pair_of_quantities_is_cheaper_on_the_same_needs() -> None:
    two = shelf([2.0, 4.0], filing=0.5)
    before, after = drawn([5.0, 3.0], LEAD / STAGE, 1, 800), drawn([5.0, 3.0], 1 - LEAD / STAGE, 2, 800)
    rules = size_rules(two, before, after)
    make = choose(two, before, after, rules)
    values = [own.value for own in rules]

    def cost(quantities: tuple[int, ...]) -> float:
        ran = run_stage(two, np.array(quantities, dtype=float), before, after, values)
        return float(np.mean(ran.cost + ran.later))

    every = [cost(q) for q in itertools.product(range(0, 29), repeat=2)]
    # size by size may stop where only both together would gain
    assert cost((int(make[0]), int(make[1]))) <= min(every) + 1.0


def test_where_tighter_hubs_may_be_filed_out_fewer_needs_go_unserved_and_it_costs_less() -> None:
    before, after = drawn([5.0, 3.0], LEAD / STAGE, 1), drawn([5.0, 3.0], 1 - LEAD / STAGE, 2)
    without, filing = shelf([0.0, 12.0]), shelf([0.0, 12.0], filing=0.4)
    rules = size_rules(without, before, after)
    none = np.zeros(2, dtype=np.int64)
    alone = check_quantities(without, none, before, after, rules)
    shared = check_quantities(filing, none, before, after, rules)
    assert shared.fill_rate.value is not None
    assert alone.fill_rate.value is not None
    assert shared.fill_rate.value > alone.fill_rate.value + 0.2
    assert shared.cost.value is not None
    assert alone.cost.value is not None
    assert shared.cost.value < alone.cost.value


def test_the_check_says_what_a_count_by_hand_says() -> None:
    one = shelf([4.0])
    before, after = np.array([[5], [1]]), np.array([[1], [6]])
    rules = size_rules(one, before, after)
    check = check_quantities(one, np.array([3]), before, after, rules)
    # first: one lacking, then 3 - 1 = 2 left; second: 4 - 1 + 3 = 6, none left
    assert check.fill_rate.value == pytest.approx(1 - 1 / 13)
    assert check.lacking.value == 0.5
    assert check.left.value == 1.0
    lead, rest = LEAD / DAYS_A_YEAR, (STAGE - LEAD) / DAYS_A_YEAR
    kept = [lead * (4 + 0) / 2 + rest * (3 + 2) / 2, lead * (4 + 3) / 2 + rest * (6 + 0) / 2]
    assert check.cost.value == pytest.approx(90 + 3 * 52 + 127 / 2 + 7 * float(np.mean(kept)))


def test_a_size_that_may_not_be_made_is_not_made() -> None:
    two = shelf([0.0, 0.0], filing=0.4, costs=StockCosts(setup=20.0, made=52.0, held=7.0, lacking=127.0, batch_size=99))
    closed = Shelf(
        on_hand=two.on_hand,
        may_make=np.array([False, True]),
        filing=two.filing,
        costs=two.costs,
        lead_days=LEAD,
        stage_days=STAGE,
    )
    before, after = drawn([5.0, 3.0], LEAD / STAGE, 1), drawn([5.0, 3.0], 1 - LEAD / STAGE, 2)
    make = choose(closed, before, after, size_rules(closed, before, after))
    assert make[0] == 0
    # its needs are served by the tighter one, so that more of that is made than for itself
    assert make[1] > choose(two, before, after, size_rules(two, before, after))[1]


def test_nothing_is_made_while_tighter_hubs_that_lie_there_will_do_for_nothing() -> None:
    lying = shelf([0.0, 30.0], filing=0.0)
    before, after = (drawn([5.0, 1.0], part, seed) for seed, part in enumerate((0.4, 0.6)))
    rules = size_rules(lying, before, after)
    assert choose(lying, before, after, rules).tolist() == [0, 0]
    # but where they are hardly worth filing out, the looser size is made
    dear = shelf([0.0, 30.0], filing=4.0)
    assert choose(dear, before, after, rules)[0] > 0


def test_counting_in_bundles_changes_little() -> None:
    before, after = drawn([700.0], LEAD / STAGE, 1), drawn([700.0], 1 - LEAD / STAGE, 2)
    one = shelf([100.0])
    bundled = size_rules(one, before, after)[0]
    exact = best_restocking(
        np.bincount(before[:, 0]) / len(before),
        np.bincount(after[:, 0]) / len(after),
        COSTS,
        lead_days=LEAD,
        stage_days=STAGE,
        most=1500,
    )
    assert bundled.make[100] == pytest.approx(exact.make[100], rel=0.05)
    spared = [rule.value[100] - rule.value[400] for rule in (bundled, exact)]
    assert spared[0] == pytest.approx(spared[1], rel=0.02)
