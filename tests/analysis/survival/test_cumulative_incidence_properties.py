"""All causes together are one minus the curve of any loss."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wearstats.analysis.survival.cumulative_incidence import fit_incidence
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier

FITTINGS = st.lists(
    st.tuples(st.integers(0, 6), st.integers(1, 10), st.integers(0, 3)), min_size=1, max_size=40
).filter(lambda rows: any(cause for _, _, cause in rows))


@given(FITTINGS)
def test_causes_add_up(fittings: list[tuple[int, int, int]]) -> None:
    start = np.array([s for s, _, _ in fittings], dtype=float)
    stop = start + np.array([length for _, length, _ in fittings])
    cause = np.array([c for _, _, c in fittings])
    curves = fit_incidence(stop, cause, start=start)
    plain = fit_kaplan_meier(stop, cause > 0, start=start)
    np.testing.assert_allclose(sum(curve.share for curve in curves.values()), 1 - plain.still_tight, atol=1e-12)
    for curve in curves.values():
        assert np.all(np.diff(curve.share) >= 0)
        assert np.all((curve.low >= 0) & (curve.low <= curve.share + 1e-12))
        assert np.all((curve.high >= curve.share - 1e-12) & (curve.high <= 1))
        assert list(curve.to_frame()) == ["months", "share", "low", "high"]


@given(st.integers(1, 100))
def test_where_all_are_lost_the_band_closes(lost: int) -> None:
    # a share that sums to one less rounding bears no curve's interval
    curve = fit_incidence(np.arange(1.0, lost + 1), np.ones(lost, dtype=int))[1]
    np.testing.assert_allclose([curve.low[-1], curve.high[-1]], 1.0)
