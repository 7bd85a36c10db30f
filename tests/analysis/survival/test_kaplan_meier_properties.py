"""What every curve must obey, and Kaplan-Meier as a product over risk sets counted one by one."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier

FITTINGS = st.lists(st.tuples(st.integers(0, 10), st.integers(1, 10), st.booleans()), min_size=1, max_size=40)


@given(FITTINGS)
def test_product_over_risk_sets(fittings: list[tuple[int, int, bool]]) -> None:
    start = np.array([s for s, _, _ in fittings], dtype=float)
    stop = start + np.array([length for _, length, _ in fittings])
    failed = np.array([f for _, _, f in fittings])
    curve = fit_kaplan_meier(stop, failed, start=start)
    expected = 1.0
    for step, month in enumerate(curve.months):
        at_risk = sum(s < month <= e for s, e in zip(start, stop, strict=True))
        deaths = sum(f and e == month for e, f in zip(stop, failed, strict=True))
        expected *= 1 - deaths / at_risk
        assert abs(curve.still_tight[step] - expected) < 1e-12


@given(FITTINGS)
def test_curve_falls_between_one_and_nothing_inside_its_band(fittings: list[tuple[int, int, bool]]) -> None:
    stop = np.array([length for _, length, _ in fittings], dtype=float)
    curve = fit_kaplan_meier(stop, [f for _, _, f in fittings])
    assert np.all((curve.still_tight >= 0) & (curve.still_tight <= 1))
    assert np.all(np.diff(curve.still_tight) <= 0)
    assert np.all((curve.low >= 0) & (curve.low <= curve.still_tight))
    assert np.all((curve.high >= curve.still_tight) & (curve.high <= 1))
    assert curve.at(0.5).item() == 1.0
    assert len(curve.to_frame()) == curve.months.size + 1
