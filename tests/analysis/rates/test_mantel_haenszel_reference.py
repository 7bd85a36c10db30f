"""Comparisons inside strata against published examples."""

import numpy as np
import pytest

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.rates.mantel_haenszel import mantel_haenszel
from wearstats.analysis.rates.remarks import RateRemark
from wearstats.analysis.rates.two_by_two import FourfoldTable, newcombe_difference


def table(a: int, b: int, c: int, d: int) -> FourfoldTable:
    return FourfoldTable(first_failed=a, first_tight=b, second_failed=c, second_tight=d)


def test_admissions_by_department() -> None:
    # the worked example of the R function mantelhaen.test; Breslow-Day 18.826
    data = reference_frame("berkeley_admissions.csv").pivot(index="dept", columns=["gender", "admit"], values="freq")
    strata = [
        table(*(int(row[pair]) for pair in (("Male", "Admitted"), ("Male", "Rejected"), ("Female", "Admitted"),
                                            ("Female", "Rejected"))))
        for _, row in data.iterrows()
    ]  # fmt: skip
    result = mantel_haenszel(strata)
    assert result.strata == 6
    assert result.odds_ratio.value == pytest.approx(0.9046968, abs=5e-8)
    assert (result.odds_ratio.low, result.odds_ratio.high) == pytest.approx((0.7719074, 1.0603298), abs=5e-8)
    assert result.statistic == pytest.approx(1.4269, abs=5e-5)
    assert result.p_value == pytest.approx(0.2323, abs=5e-5)
    assert result.homogeneity_p == pytest.approx(0.0021, abs=5e-5)


def test_deaths_on_tolbutamide_by_age() -> None:
    # University Group Diabetes Program, under 55 and older: deaths 8 of 106 against 5 of 120, 22 of 98 against 16 of
    # 85; pooled odds ratio 1.40 and risk difference 0.035 in Rothman, Greenland and Lash, Modern Epidemiology, 3rd ed.,
    # chapter 15 (from memory)
    result = mantel_haenszel([table(8, 98, 5, 115), table(22, 76, 16, 69)])
    assert result.odds_ratio.value == pytest.approx(1.40, abs=5e-3)
    assert result.difference.value == pytest.approx(0.035, abs=5e-4)
    assert result.fittings == 409
    assert result.difference.low is not None
    assert result.difference.low < 0 < (result.difference.high or 0)


def test_difference_of_one_stratum_is_the_plain_one() -> None:
    # 56 of 70 against 48 of 80, Wald interval 0.0575 to 0.3425 in Newcombe, Stat. Med. 17 (1998) 873-890, Table II
    found = mantel_haenszel([table(56, 14, 48, 32)]).difference
    assert found.value == pytest.approx(0.2)
    assert (found.low, found.high) == pytest.approx((0.0575, 0.3425), abs=2e-3)


@pytest.mark.parametrize(
    ("times", "low", "high"), [(300, 0.91, 0.985), pytest.param(2000, 0.93, 0.97, marks=pytest.mark.slow)]
)
def test_intervals_of_the_difference_hold_the_truth_in_many_small_strata(times: int, low: float, high: float) -> None:
    # risks of 5 to 30 in 100 that differ by 8 in every stratum; Monte Carlo error 0.013 of 300, 0.005 of 2000
    rng = np.random.default_rng(20261125)
    held = 0
    for _ in range(times):
        base = rng.uniform(0.05, 0.30, 24)
        first, second = rng.integers(1, 9, 24), rng.integers(1, 9, 24)
        a, b = rng.binomial(first, base + 0.08), rng.binomial(second, base)
        rows = np.stack([a, first - a, b, second - b], axis=1)
        found = mantel_haenszel([table(*(int(n) for n in row)) for row in rows]).difference
        held += (found.low or 0.0) <= 0.08 <= (found.high or 0.0)
    assert low <= held / times <= high


def test_strata_that_cannot_speak() -> None:
    empty = mantel_haenszel([table(1, 2, 0, 0), table(0, 3, 0, 4)])
    assert (empty.strata, empty.odds_ratio.status, empty.p_value) == (0, "none", None)
    assert empty.difference.status == "none"
    one_sided = mantel_haenszel([table(3, 2, 0, 5)])
    assert one_sided.odds_ratio.status == "none"
    assert one_sided.p_value is not None
    assert one_sided.difference.value == pytest.approx(newcombe_difference(table(3, 2, 0, 5)).value)
    assert mantel_haenszel([]).difference.code == RateRemark.NO_STRATUM_HOLDS_BOTH
