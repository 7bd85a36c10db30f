"""How many sizes, and the verdict, at their edges."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.analysis.stock.sizes.choice import SizeChoice, choose_sizes, enough_sizes
from wearstats.analysis.stock.sizes.pair_costs import PairCosts
from wearstats.analysis.stock.sizes.verdict import SizesVerdict, judge_sizes
from wearstats.errors import AnalysisError


@pytest.mark.parametrize(
    ("totals", "today", "number"),
    [
        # 3 of 100: the third size saves exactly 3, which is not less; the fourth 2.9
        ([110.0, 95.0, 92.0, 89.1], 100.0, 3),
        ([110.0, 95.0, 92.1, 89.1], 100.0, 2),
        # nothing saves 3 of 100: today's stay; 3 exactly is enough to change
        ([110.0, 97.1], 100.0, None),
        ([110.0, 97.0], 100.0, 2),
        # fewer would do by what one more saves, but are dearer than today's, or hardly cheaper
        ([101.0, 99.0, 96.0, 95.9], 100.0, 3),
        ([110.0, 98.0, 95.5, 95.0], 100.0, 3),
        # without sizes on offer the least cost stands for today's
        ([110.0, 95.0, 92.1], None, 3),
        ([110.0, 95.0, 92.3], None, 2),
        ([50.0], None, 1),
        # as many as there are, where the last still saves enough
        ([300.0, 200.0, 100.0], 400.0, 3),
    ],
)
def test_the_fewest_sizes_from_which_one_more_saves_hardly_anything(
    totals: list[float], today: float | None, number: int | None
) -> None:
    assert enough_sizes(totals, today=today) == number


@pytest.mark.parametrize(
    ("low", "high", "keeps_today", "nearly_unknown", "verdict"),
    [
        (0.1, 5.0, False, False, SizesVerdict.SAVES),
        (0.0, 5.0, False, False, SizesVerdict.NOT_SURE),
        (-5.0, 0.0, False, False, SizesVerdict.NOT_SURE),
        (-5.0, -0.1, False, False, SizesVerdict.COSTS),
        (0.0, 0.0, True, False, SizesVerdict.KEEP_TODAY),
        (0.1, 5.0, False, True, SizesVerdict.TOO_EARLY),
    ],
)
def test_the_verdict_never_says_more_than_the_interval(
    low: float, high: float, keeps_today: bool, nearly_unknown: bool, verdict: SizesVerdict
) -> None:
    saving = Estimate(value=(low + high) / 2, low=low, high=high)
    assert judge_sizes(saving, keeps_today=keeps_today, nearly_unknown=nearly_unknown) is verdict


def test_without_sizes_on_offer_there_is_nothing_to_compare_with() -> None:
    assert judge_sizes(None, keeps_today=False, nearly_unknown=False) is SizesVerdict.NO_SIZES_TODAY


NEEDS = np.repeat([0.0, 2.0, 4.0, 40.0, 80.0], 8)
SIZES = np.arange(0.0, 101.0, 5.0)


def costs() -> PairCosts:
    """Costs of shafts that need what they need: two a micrometre too tight, five a micrometre too loose."""
    off = SIZES - NEEDS[:, None]
    cost = 50.0 + np.where(off > 0, 2.0 * off, -5.0 * off)
    return PairCosts(
        undersizes_um=SIZES,
        fixed=cost,
        risk=np.zeros((1, *cost.shape)),
        minutes=np.zeros(cost.shape),
        failure_price=0.0,
        unserved_price=1000.0,
        by_draw=cost[..., None],
    )


def choose(**options: object) -> SizeChoice:
    given: dict[str, object] = {
        "shafts_a_year": 100.0,
        "size_kept": 10.0,
        "offered_um": (0.0, 50.0, 90.0),
        "need_um": NEEDS,
        "made": 50.0,
        "held": 7.0,
        "rng": np.random.default_rng(1),
        "replicates": 10,
    }
    return choose_sizes(costs(), np.arange(NEEDS.size), **(given | options))  # type: ignore[arg-type]


def test_three_groups_of_shafts_have_three_sizes() -> None:
    found = choose()
    assert found.chosen.undersizes_um == (5.0, 40.0, 80.0)
    assert not found.asked
    assert found.saving is not None
    assert found.saving.low is not None
    assert found.saving.low > 0


def test_what_lies_there_draws_the_choice_and_what_is_left_is_used_up() -> None:
    # 0 costs 5 and 10 more than 5 on two of five shafts and 10 less on one; paid hubs tip the scales
    assert choose(on_shelf={0.0: 40.0}).chosen.undersizes_um[0] == 0.0
    left = choose(on_shelf={50.0: 4.0})
    assert left.chosen.undersizes_um == (5.0, 40.0, 80.0)
    assert left.chosen.used_up_a_shaft > 0
    assert left.now.undersizes_um.tolist() == [5.0, 40.0, 50.0, 80.0]


def test_as_many_as_asked_for_and_no_more_than_can_be_told_apart() -> None:
    found = choose(sizes=2)
    assert (len(found.chosen.undersizes_um), found.asked) == (2, True)
    apart = choose(apart_um=12.0)
    for plan in apart.plans:
        assert np.diff(plan.undersizes_um).min(initial=99.0) >= 12.0
    most = len(apart.plans)
    assert len(choose(sizes=most, apart_um=12.0).chosen.undersizes_um) == most
    with pytest.raises(AnalysisError, match=f"{most + 1} sizes cannot be told apart: .* at most {most} sizes"):
        choose(sizes=most + 1, apart_um=12.0)


def test_todays_sizes_stay_where_no_others_save_enough() -> None:
    # the fifth only costs what keeping it does
    found = choose(offered_um=(0.0, 5.0, 40.0, 80.0, 100.0))
    assert found.keeps_today
    assert found.chosen.undersizes_um == (0.0, 5.0, 40.0, 80.0, 100.0)
    assert found.falls_out == ()
    assert found.saving is not None
    assert found.saving.value == 0


def test_why_sizes_fall_out() -> None:
    found = choose(apart_um=12.0)
    assert {why.facts["undersize_um"]: why.code for why in found.falls_out} == {
        0.0: StockRemark.TOO_NEAR,
        50.0: StockRemark.TOO_NEAR,
        90.0: StockRemark.TOO_NEAR,
    }
    found = choose(apart_um=8.0)
    assert {why.facts["undersize_um"]: why.code for why in found.falls_out} == {
        0.0: StockRemark.TOO_NEAR,
        50.0: StockRemark.SAVES_LITTLE,
        90.0: StockRemark.SAVES_LITTLE,
    }


def test_an_empty_year_asks_for_nothing_and_breaks_nothing() -> None:
    found = choose(shafts_a_year=0.0, on_shelf={50.0: 4.0})
    assert len(found.chosen.undersizes_um) >= 1
