"""Gauge studies against the worked example of the trade's manual and against its constants."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from wearstats.analysis.gauging.gauge_rr import range_constant, study_by_anova, study_by_ranges
from wearstats.errors import AnalysisError

_FILE = Path(__file__).parents[2] / "reference" / "gauge_study.csv"


def readings() -> np.ndarray:
    frame = pd.read_csv(_FILE, comment="#").sort_values(["part", "appraiser", "trial"])
    return frame["y"].to_numpy(dtype=float).reshape(10, 3, 3)


def test_anova_gives_the_published_components() -> None:
    # AIAG, Measurement Systems Analysis, 4th ed., ANOVA worked example (interaction pooled)
    study = study_by_anova(readings())
    variances = [
        (study.repeatability_um, 0.039973),
        (study.reproducibility_um, 0.051455),
        (study.part_um, 1.08645),
        (study.grr_um, 0.09143),
        (study.total_um, 1.17788),
    ]
    for found, published in variances:
        assert found.value is not None
        assert found.value**2 == pytest.approx(published, rel=1e-4)
    assert study.interaction_pooled
    assert study.grr_percent_of_contribution.value == pytest.approx(7.76, abs=5e-3)
    assert study.grr_percent_of_study.value == pytest.approx(27.86, abs=5e-3)
    assert study.ndc == 4


def test_anova_with_the_interaction_kept_is_that_of_a_general_library() -> None:
    # every person has his own way with every part: mean squares by a library, components by the rules of expected mean
    # squares (AIAG, the same example: part 10 with 3 people and 3 trials)
    rng = np.random.default_rng(5)
    made = readings() + rng.normal(0.0, 0.6, (10, 3, 1)) + rng.normal(0.0, 0.5, (3, 1))
    part, person, trial = (index.ravel() for index in np.indices(made.shape))
    long = pd.DataFrame({"y": made.ravel(), "part": part, "person": person, "trial": trial})
    table = anova_lm(ols("y ~ C(part) * C(person)", long).fit())
    square = dict(zip(("part", "person", "both", "rest"), table["mean_sq"], strict=False))
    study = study_by_anova(made)
    assert not study.interaction_pooled
    assert (study.parts, study.people, study.trials) == (10, 3, 3)
    assert study.interaction_p == pytest.approx(table["PR(>F)"].iloc[2])
    expected = [
        (study.repeatability_um, square["rest"]),
        (study.interaction_um, (square["both"] - square["rest"]) / 3),
        (study.reproducibility_um, (square["person"] - square["both"]) / 30),
        (study.part_um, (square["part"] - square["both"]) / 9),
    ]
    for found, variance in expected:
        assert found.value is not None
        assert found.value**2 == pytest.approx(variance, rel=1e-9)


def test_averages_and_ranges_give_the_published_figures() -> None:
    # AIAG, Measurement Systems Analysis, 4th ed., average and range example; values from memory
    study = study_by_ranges(readings())
    assert study.repeatability_um.value == pytest.approx(0.20188, rel=5e-4)
    assert study.reproducibility_um.value == pytest.approx(0.22963, rel=5e-4)
    assert study.grr_um.value == pytest.approx(0.30575, rel=5e-4)
    assert study.part_um.value == pytest.approx(1.10456, rel=5e-4)
    assert study.grr_percent_of_study.value == pytest.approx(26.68, abs=0.02)
    # the same data, another method, another number of classes
    assert study.ndc == 5


@pytest.mark.parametrize(
    ("size", "ranges", "constant"),
    [(2, 30, 0.8862), (3, 30, 0.5908), (2, 1, 0.7071), (3, 1, 0.5231), (10, 1, 0.3146)],
)
def test_constants_are_the_published_ones(size: int, ranges: int, constant: float) -> None:
    # AIAG, Measurement Systems Analysis, 4th ed.: K1 (2 and 3 trials), K2 (2 and 3 people), K3 (10 parts)
    assert 1 / range_constant(size, ranges) == pytest.approx(constant, abs=6e-5)


def test_range_of_two_is_known_exactly() -> None:
    # derived: the range of two normals is half normal, mean 2 / sqrt(pi), mean square 2
    assert range_constant(2, 100) == pytest.approx(2 / np.pi**0.5, abs=1e-7)
    assert range_constant(2, 1) == pytest.approx(2**0.5, abs=1e-7)


def test_decision_width_is_one_thou() -> None:
    study = study_by_anova(readings())
    assert study.grr_um.value is not None
    assert study.grr_percent_of_decision_width.value == pytest.approx(600 * study.grr_um.value / 25.4)


def test_without_repeated_trials_it_says_what_is_needed() -> None:
    with pytest.raises(AnalysisError, match="read at least twice"):
        study_by_anova(readings()[:, :, :1])
