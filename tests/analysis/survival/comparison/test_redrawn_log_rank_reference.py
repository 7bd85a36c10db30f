"""The redrawn log-rank test against published values, exact tests and permutation."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import barnard_exact, boschloo_exact
from statsmodels.duration.survfunc import survdiff
from statsmodels.stats.multitest import multipletests

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.survival.comparison.redrawn_log_rank import compare_groups
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.errors import AnalysisError


def _watched(left: FloatArray, right: FloatArray, shaft: IntArray | None = None) -> SilentHistories:
    """Histories without silence, all failures found at a look; equal ends are exact times."""
    failed = np.isfinite(right)
    return SilentHistories(
        left=left,
        right=right,
        entry=np.zeros(left.size),
        silent_from=np.full(left.size, np.nan),
        last_word=np.where(failed, right, left),
        failed=failed,
        unasked=np.zeros(left.size, dtype=bool),
        asked=failed,
        shaft=np.arange(left.size) if shaft is None else shaft,
    )


def _counted(small: tuple[int, int], large: tuple[int, int]) -> tuple[SilentHistories, BoolArray]:
    """So many failed of so many, in two groups, all followed for 24 months."""
    group = np.repeat([True, False], [small[1], large[1]])
    failed = np.concatenate([np.arange(small[1]) < small[0], np.arange(large[1]) < large[0]])
    month = np.where(failed, np.random.default_rng(0).uniform(1, 24, failed.size), 24.0)
    return _watched(month, np.where(failed, month, np.inf)), group


def test_cosmesis_groups_differ() -> None:
    # Fay, Shaw, J. Stat. Softw. 36(2) (2010): p about .007 (Huang et al. 2008: .0075)
    data = reference_frame("breast_cosmesis.csv")
    told = _watched(data["after_months"].to_numpy(float), data["by_months"].to_numpy(float))
    result = compare_groups(told, np.full(94, 48.0), data["group"], redraws=4999, rng=np.random.default_rng(1))
    assert result.groups == ("Rad", "RadChem")
    assert result.observed.tolist() == pytest.approx([21, 35])
    assert result.p_value == pytest.approx(0.0075, abs=0.003)


def test_remissions() -> None:
    # Klein, Moeschberger, Survival Analysis (2nd ed. 2003): 9 and 21 seen, 19.25 and 10.75 expected, chi-squared
    # 16.79, p 4.2e-5; bands of time stand for single weeks here, and redraws go no lower than one in ten thousand
    data = reference_frame("leukaemia_remission.csv")
    weeks = data["weeks"].to_numpy(float)
    told = _watched(weeks, np.where(data["relapsed"], weeks, np.inf))
    result = compare_groups(told, np.full(42, 35.0), data["group"], rng=np.random.default_rng(1))
    assert result.observed.tolist() == pytest.approx([9, 21])
    assert result.expected.tolist() == pytest.approx([19.25, 10.75], abs=0.2)
    assert result.statistic == pytest.approx(16.79, rel=0.15)
    assert result.p_value < 1e-3


def test_none_of_twenty_is_no_difference() -> None:
    # the large-sample formula by shafts gave 0.0005; exact tests that do not hold the sum of failures fixed give 0.13
    # and 0.15 (SciPy), and the one that does 0.23
    told, group = _counted((0, 20), (22, 200))
    result = compare_groups(told, np.full(220, 24.0), group, redraws=9999, rng=np.random.default_rng(1))
    table = [[0, 22], [20, 178]]
    bounds = barnard_exact(table).pvalue, boschloo_exact(table).pvalue
    assert bounds[0] - 0.03 < result.p_value < bounds[1] + 0.03


def test_equal_follow_up_agrees_with_permuting() -> None:
    # where all are followed alike fittings can be dealt out anew; the statistic by another program
    told, group = _counted((8, 40), (15, 160))
    result = compare_groups(told, np.full(200, 24.0), group, redraws=4999, rng=np.random.default_rng(1))
    month, failed = told.left, told.failed.astype(int)
    seen = survdiff(month, failed, group)[0]
    rng = np.random.default_rng(2)
    dealt = [survdiff(month, failed, rng.permutation(group))[0] >= seen - 1e-9 for _ in range(800)]
    assert result.p_value == pytest.approx(np.mean(dealt), abs=0.03)


def test_same_seed_same_answer_whatever_the_labels() -> None:
    told, group = _counted((5, 30), (9, 90))
    one, two = (
        compare_groups(told, np.full(120, 24.0), labels, rng=np.random.default_rng(3))
        for labels in (group, np.where(group, "a", "b"))
    )
    assert one.statistic == pytest.approx(two.statistic, rel=0.1)
    again = compare_groups(told, np.full(120, 24.0), group, rng=np.random.default_rng(3))
    assert (again.statistic, again.p_value) == (one.statistic, one.p_value)


def test_pairs_that_fail_together_count_for_less() -> None:
    told, group = _counted((8, 40), (12, 160))
    apart = compare_groups(told, np.full(200, 24.0), group, rng=np.random.default_rng(3))
    pairs = _watched(told.left, told.right, np.arange(200) // 2)
    together = compare_groups(pairs, np.full(200, 24.0), group, rng=np.random.default_rng(3))
    assert apart.shaft_spread == 0 < together.shaft_spread
    assert together.p_value > 1.5 * apart.p_value


def test_failures_that_are_only_ever_reported_unasked() -> None:
    # no failure was found at a look, so that nothing tells how far looks lie apart
    told, group = _counted((5, 30), (9, 90))
    unasked = replace(told, unasked=told.failed, asked=np.zeros(120, dtype=bool))
    one, two = (
        compare_groups(given, np.full(120, 24.0), group, reported=share, rng=np.random.default_rng(3))
        for given, share in ((told, 0.0), (unasked, 0.9))
    )
    assert two.p_value == pytest.approx(one.p_value, abs=0.05)


def test_data_that_cannot_answer() -> None:
    told, group = _counted((0, 3), (0, 3))
    with pytest.raises(AnalysisError, match="one group"):
        compare_groups(told, np.full(6, 24.0), pd.Series(["a"] * 6), rng=np.random.default_rng(1))
    with pytest.raises(AnalysisError, match="0 failures"):
        compare_groups(told, np.full(6, 24.0), group, rng=np.random.default_rng(1))


def test_allowing_for_several_looks_as_another_program_does() -> None:
    p_values = [0.041, 0.003, 0.5, 0.012, 0.04]
    assert holm(p_values) == pytest.approx(multipletests(p_values, method="holm")[1].tolist())
    assert holm([]).size == 0
