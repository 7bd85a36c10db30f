"""Nested variance components against published estimates."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.nested_variance_components import NestedFit, NestedMoments, fit_nested
from tests.analysis.support.reference_frames import reference_frame
from wearstats.errors import AnalysisError


def fit(name: str, value: str, group: str, subgroup: str | None = None) -> NestedFit:
    frame = reference_frame(f"{name}.csv")
    inner = None if subgroup is None else pd.factorize(frame[subgroup])[0]
    moments = NestedMoments.from_readings(
        frame[value].to_numpy(dtype=float), pd.factorize(frame[group])[0].astype(np.int64), inner
    )
    return fit_nested(moments, subgroups=subgroup is not None)


def test_dyestuff_as_published() -> None:
    # Bates, lme4: Mixed-effects modeling with R (2010 draft), chapter 1: REML
    found = fit("dyestuff", "Yield", "Batch")
    assert found.group == pytest.approx(1764.05, abs=0.05)
    assert found.residual == pytest.approx(2451.25, abs=0.05)
    assert found.mean == pytest.approx(1527.5, abs=1e-9)
    assert found.mean_se == pytest.approx(19.383, abs=5e-4)
    assert found.reml.point.criterion == pytest.approx(319.6543, abs=1e-4)


def test_dyestuff2_has_a_batch_variance_of_exactly_zero() -> None:
    # Bates 2010, chapter 1; data of Box & Tiao 1973, Table 5.1.4
    found = fit("dyestuff2", "Yield", "Batch")
    assert found.group == 0.0
    assert found.residual == pytest.approx(13.8063, abs=1e-3)
    assert found.reml.point.criterion == pytest.approx(161.8283, abs=1e-4)


def test_pastes_as_published() -> None:
    # Bates 2010, chapter 2; Bates et al., J. Stat. Softw. 67(1), 2015: REML
    found = fit("pastes", "strength", "batch", "cask")
    assert found.group == pytest.approx(1.6573, abs=1e-4)
    assert found.subgroup == pytest.approx(8.4337, abs=1e-4)
    assert found.residual == pytest.approx(0.6780, abs=1e-4)
    assert found.mean == pytest.approx(60.0533, abs=1e-4)
    assert found.mean_se == pytest.approx(0.6769, abs=1e-4)
    assert found.reml.point.criterion == pytest.approx(246.9907, abs=1e-4)


def test_rail_as_published() -> None:
    # Pinheiro & Bates, Mixed-Effects Models in S and S-PLUS, 2000, chapter 1: REML
    found = fit("rail", "travel", "Rail")
    assert found.group**0.5 == pytest.approx(24.80547, abs=1e-4)
    assert found.residual**0.5 == pytest.approx(4.020779, abs=1e-5)
    assert found.mean_se == pytest.approx(10.1710, abs=1e-4)
    assert -found.reml.point.criterion / 2 == pytest.approx(-61.0885, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "between", "within", "readings", "tolerance"),
    [
        # NIST StRD, one-way ANOVA, certified mean squares
        ("nist_sirstv", 1.27865654e-02, 1.0831828e-02, 5, 1e-6),
        ("nist_smls04", 2.1e-01, 1.0e-02, 21, 1e-6),
        # the decimal data 1e12 + 0.x cannot be held in a double: about four digits are left
        ("nist_smls07", 2.1e-01, 1.0e-02, 21, 1e-3),
    ],
)
def test_balanced_components_follow_from_certified_mean_squares(
    name: str, between: float, within: float, readings: int, tolerance: float
) -> None:
    found = fit(name, "y", "group")
    assert found.residual == pytest.approx(within, rel=tolerance)
    assert found.group == pytest.approx((between - within) / readings, rel=10 * tolerance)


def test_one_group_is_refused_with_what_would_do() -> None:
    moments = NestedMoments.from_readings(np.array([1.0, 2.0]), np.zeros(2, dtype=np.int64))
    with pytest.raises(AnalysisError, match="at least two groups"):
        fit_nested(moments, subgroups=False)
