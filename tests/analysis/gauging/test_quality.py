"""Spreads that are hardly known have no upper end, and say so without a library's warning."""

import pytest

from wearstats.analysis.gauging.quality import _root
from wearstats.analysis.numerics.remarks import RemlRemark
from wearstats.analysis.remark import remark


@pytest.mark.parametrize(("variance", "se"), [(1e-6, 10.0), (1e-300, 1.0)])
def test_a_variance_hardly_known_is_bounded_below_alone(variance: float, se: float) -> None:
    found = _root(variance, se, method=remark(RemlRemark.PLAIN), status="ok")
    assert found.value == pytest.approx(variance**0.5)
    assert found.low == 0.0
    assert found.high is None
