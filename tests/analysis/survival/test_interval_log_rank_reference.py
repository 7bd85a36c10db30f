"""The log-rank test from intervals against published values."""

import numpy as np
import pytest
from statsmodels.stats.multitest import multipletests

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.survival.interval_log_rank import (
    fitting_scores,
    interval_log_rank,
)
from wearstats.analysis.survival.kaplan_meier import log_rank
from wearstats.analysis.survival.turnbull import find_cells, fit_cells
from wearstats.errors import AnalysisError


def test_cosmesis_groups_differ() -> None:
    # Fay, Shaw, J. Stat. Softw. 36(2) (2010): p about .007 (Huang et al. 2008: .0075); four digits from memory of the
    # package's printed example
    data = reference_frame("breast_cosmesis.csv")
    cells = find_cells(data["after_months"], data["by_months"])
    curve = fit_cells(cells, np.ones(len(data)), tolerance=1e-10)
    result = interval_log_rank(cells, curve, data["group"])
    assert result.groups == ("Rad", "RadChem")
    assert result.score[1] > 0 > result.score[0]
    assert result.p_value == pytest.approx(0.0076, abs=5e-5)
    alone = interval_log_rank(cells, curve, data["group"], cluster=np.arange(len(data)))
    assert alone.p_value == pytest.approx(result.p_value, rel=0.05)


def test_exact_times_give_the_log_rank_numbers() -> None:
    data = reference_frame("leukaemia_remission.csv")
    weeks = data["weeks"].astype(float)
    cells = find_cells(weeks, weeks.where(data["relapsed"].eq(1), np.inf))
    curve = fit_cells(cells, np.ones(len(data)), tolerance=1e-12)
    result = interval_log_rank(cells, curve, data["group"])
    plain = log_rank(weeks, data["relapsed"], data["group"])
    np.testing.assert_allclose(result.score, plain.observed - plain.expected, atol=1e-5)


def test_scores_add_up_to_nothing() -> None:
    rng = np.random.default_rng(3)
    left = rng.integers(0, 12, 60).astype(float)
    failed = rng.random(60) < 0.5
    right = np.where(failed, left + rng.integers(1, 6, 60), np.inf)
    silent = ~failed & (rng.random(60) < 0.5)
    cells = find_cells(np.where(silent, left + 4, left), right, silent_from=np.where(silent, left, np.nan))
    curve = fit_cells(cells, np.ones(60), unreported=0.3, tolerance=1e-10)
    # the derivative of the log likelihood along any change of the curve is zero at its maximum
    assert abs(fitting_scores(cells, curve, unreported=0.3).sum()) < 1e-5


def test_data_that_cannot_answer() -> None:
    cells = find_cells([1.0, 2.0, 3.0], [np.inf] * 3)
    curve = fit_cells(cells, np.ones(3))
    with pytest.raises(AnalysisError, match="one group"):
        interval_log_rank(cells, curve, ["a", "a", "a"])
    with pytest.raises(AnalysisError, match="nothing tells"):
        interval_log_rank(cells, curve, ["a", "a", "b"])


def test_allowing_for_several_looks_as_another_program_does() -> None:
    p_values = [0.041, 0.003, 0.5, 0.012, 0.04]
    assert holm(p_values) == pytest.approx(multipletests(p_values, method="holm")[1].tolist())
    assert holm([]).size == 0
