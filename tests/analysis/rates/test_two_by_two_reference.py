"""Intervals and tests of proportions against published tables."""

import numpy as np
import pytest
from scipy import stats

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.analysis.rates.two_by_two import (
    FourfoldTable,
    clopper_pearson,
    fisher_test,
    hybrid_difference,
    hybrid_ratio,
    newcombe_difference,
    upper_bound,
    wilson,
)


def table(a: int, b: int, c: int, d: int) -> FourfoldTable:
    return FourfoldTable(first_failed=a, first_tight=b, second_failed=c, second_tight=d)


@pytest.mark.parametrize("row", reference_frame("newcombe_proportions.csv").to_dict("records"))
def test_single_proportions(row: dict[str, float]) -> None:
    x, n = int(row["x"]), int(row["n"])
    score, exact = wilson(x, n), clopper_pearson(x, n)
    assert (score.low, score.high) == pytest.approx((row["wilson_lo"], row["wilson_hi"]), abs=5e-5)
    assert (exact.low, exact.high) == pytest.approx((row["exact_lo"], row["exact_hi"]), abs=5e-5)


@pytest.mark.parametrize("row", reference_frame("newcombe_differences.csv").to_dict("records"))
def test_differences(row: dict[str, int]) -> None:
    found = newcombe_difference(table(row["x1"], row["n1"] - row["x1"], row["x2"], row["n2"] - row["x2"]))
    assert (found.low, found.high) == pytest.approx((row["low"], row["high"]), abs=5e-5)


def test_bounds_where_little_or_nothing_failed() -> None:
    # closed form for no failure: 1 - 0.05 ** (1 / n); 3 of 40 from the beta distribution
    none_of_ten, none_of_25 = upper_bound(0, 10), upper_bound(0, 25)
    assert none_of_ten.high == pytest.approx(0.258866, abs=5e-7)
    assert none_of_25.high == pytest.approx(0.112928, abs=5e-7)
    assert none_of_ten.status == "bounded"
    three = clopper_pearson(3, 40)
    assert (three.low, three.high) == pytest.approx((0.015742, 0.203865), abs=5e-7)


def test_tea_tasting() -> None:
    # Fisher, The Design of Experiments (1935); one-sided p 0.243, mid-p 0.129 in Agresti (2013), section 3.5;
    # conditional odds ratio and its lower bound as the R function fisher.test prints them
    result = fisher_test(table(3, 1, 1, 3))
    assert result.p_greater == pytest.approx(0.24286, abs=5e-6)
    assert result.mid_p_greater == pytest.approx(0.129, abs=5e-4)
    assert result.odds_ratio.value == pytest.approx(6.40832, abs=5e-6)
    one_sided = fisher_test(table(3, 1, 1, 3), level=0.90)
    assert one_sided.odds_ratio.low == pytest.approx(0.31357, abs=5e-6)


def test_convictions_of_twins() -> None:
    # Fisher (1962), data of Lange: identical twins 10 of 13 convicted, others 2 of 17; exact limits to 1e-5
    result = fisher_test(table(2, 15, 10, 3))
    assert result.p_two_sided == pytest.approx(0.0005367, abs=5e-8)
    assert result.odds_ratio.value == pytest.approx(0.0469366, abs=5e-8)
    assert result.odds_ratio.low == pytest.approx(0.003317, abs=1e-5)
    assert result.odds_ratio.high == pytest.approx(0.363190, abs=1e-5)


def test_tables_that_cannot_speak() -> None:
    assert fisher_test(table(0, 5, 0, 3)).odds_ratio.status == "none"
    assert fisher_test(table(0, 5, 1, 3)).odds_ratio.low == 0
    assert fisher_test(table(2, 0, 0, 3)).odds_ratio.high is None
    assert wilson(0, 0).status == clopper_pearson(0, 0).status == upper_bound(0, 0).status == "none"
    assert newcombe_difference(table(0, 0, 1, 3)).status == "none"


def test_correlation_of_the_parts_narrows_the_difference() -> None:
    apart = hybrid_difference(wilson(8, 20), wilson(5, 20))
    together = hybrid_difference(wilson(8, 20), wilson(5, 20), correlation=0.6)
    assert apart.low is not None
    assert together.low is not None
    assert apart.low < together.low
    assert np.isclose(apart.value or 0, 0.15)


def test_ratio_of_two_proportions() -> None:
    # aspirin and heart attacks, 104 of 11037 against 189 of 11034: relative risk 0.55, 95 % 0.43 to 0.70 in Agresti,
    # An Introduction to Categorical Data Analysis, 2nd ed. (2007), section 2.2 (from memory)
    found = hybrid_ratio(wilson(104, 11037), wilson(189, 11034))
    assert found.value == pytest.approx(0.55, abs=5e-3)
    assert (found.low, found.high) == pytest.approx((0.43, 0.70), abs=6e-3)
    turned = hybrid_ratio(wilson(189, 11034), wilson(104, 11037))
    assert (1 / (turned.high or 1), 1 / (turned.low or 1)) == pytest.approx((found.low, found.high))


def test_ratio_where_nothing_failed() -> None:
    none = wilson(0, 20)
    assert hybrid_ratio(wilson(3, 20), none).status == "none"
    nothing_first = hybrid_ratio(none, wilson(5, 20))
    assert (nothing_first.value, nothing_first.low) == (0.0, 0.0)
    assert nothing_first.high == pytest.approx((none.high or 0) / (wilson(5, 20).low or 1))


def test_a_bound_is_told_beside_the_share_that_was_seen() -> None:
    # theory: of 20 without a failure the upper end is 1 - 0.05^(1/20); with three the share is their quotient
    none, three = upper_bound(0, 20), upper_bound(3, 20)
    assert (none.value, none.low, none.status) == (0.0, 0.0, "bounded")
    assert none.high == pytest.approx(1 - 0.05 ** (1 / 20))
    assert three.value == pytest.approx(3 / 20)
    assert three.high == pytest.approx(stats.beta.ppf(0.95, 4, 17))


def test_the_score_interval_of_one_trial_and_of_less_than_one() -> None:
    # where it failed the low end is 1 / (1 + 1.96^2), where not the high end the rest of it
    end = 1 / (1 + 1.959964**2)
    assert (wilson(1, 1).low, wilson(1, 1).high) == pytest.approx((end, 1.0), abs=1e-6)
    assert (wilson(0, 1).low, wilson(0, 1).high) == pytest.approx((0.0, 1 - end), abs=1e-6)
    # half a fitting tells less
    assert wilson(0, 0.5).high == pytest.approx(1 - 0.5 / (0.5 + 1.959964**2), abs=1e-6)
    assert wilson(0, 0).status == "none"


def test_a_ratio_with_a_part_that_is_not_known_is_not_told() -> None:
    known, unknown = wilson(3, 20), wilson(0, 0)
    for first, second in ((known, unknown), (unknown, known)):
        assert hybrid_ratio(first, second).code == RateRemark.NO_ESTIMATE
        assert hybrid_difference(first, second).code == RateRemark.NO_ESTIMATE
