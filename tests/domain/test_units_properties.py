from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearstats.domain import units
from wearstats.domain.units import Unit

any_unit = st.sampled_from(list(units.UM_PER_UNIT))
tenths = st.integers(min_value=1, max_value=2_000_000)


@given(value=st.floats(-1e6, 1e6, allow_subnormal=False), unit=any_unit)
def test_micrometres_round_trip(value: float, unit: Unit) -> None:
    assert units.from_um(units.to_um(value, unit), unit) == pytest.approx(value, rel=1e-15, abs=1e-300)
    assert units.um_to_mm(units.mm_to_um(value)) == pytest.approx(value, rel=1e-15, abs=1e-300)


@given(value=st.lists(st.floats(-1e6, 1e6), min_size=1), unit=any_unit)
def test_arrays_convert_as_numbers_do(value: list[float], unit: Unit) -> None:
    array = np.array(value)
    assert units.to_um(array, unit).tolist() == [units.to_um(one, unit) for one in value]
    assert units.from_um(array, unit).tolist() == [units.from_um(one, unit) for one in value]


@given(tenths=tenths)
def test_kept_widths_round_trip_through_millimetres(tenths: int) -> None:
    assert units.tenths_from_typed(units.tenths_to_mm(tenths), "mm") == tenths


@given(tenths=st.lists(tenths, min_size=1))
def test_kept_widths_round_trip_through_arrays(tenths: list[int]) -> None:
    kept = np.array(tenths, dtype=np.int32)
    np.testing.assert_array_equal(units.tenths_from_um(units.tenths_to_um(kept)), kept)


@given(
    unit_and_decimals=st.sampled_from([("mm", 4), ("mm", 2), ("in", 4), ("in", 3), ("thou", 2), ("tenth-thou", 1)]),
    digits=st.integers(min_value=1, max_value=70_000),
)
def test_a_typed_width_comes_back_as_typed(unit_and_decimals: tuple[Unit, int], digits: int) -> None:
    unit, decimals = unit_and_decimals
    value = Decimal(digits).scaleb(-decimals)
    kept = units.tenths_from_typed(value, unit)
    assert units.tenths_to_unit(kept, unit, decimals=decimals) == value
    assert abs(Decimal(kept) / 10 - units.um_exact(value, unit)) <= Decimal("0.05")


@given(months=st.floats(0, 1200))
def test_months_round_trip(months: float) -> None:
    assert units.months_from_days(units.days_from_months(months)) == pytest.approx(months, rel=1e-15)
