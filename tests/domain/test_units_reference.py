"""Units against the definition of the inch (25.4 mm exactly, 1959) and figures of the trade."""

import datetime
from decimal import Decimal

import numpy as np
import pytest

from wearstats.domain import units
from wearstats.domain.tables import UNITS
from wearstats.domain.units import Unit


@pytest.mark.parametrize(
    ("value", "unit", "micrometres"),
    [
        # the inch is 25.4 mm exactly: international yard and pound agreement, 1959
        ("0.001", "in", "25.4"),
        ("1", "thou", "25.4"),
        ("1", "tenth-thou", "2.54"),
        ("10", "thou", "254"),
        ("0.1", "mm", "100"),
        # common practice, no source: 1.25 in is 31.75 mm
        ("1.25", "in", "31750"),
        # 0.156 times 1.375 in, derived from the SAE proportions (from memory)
        ("0.2145", "in", "5448.3"),
    ],
)
def test_conversion_is_exact(value: str, unit: Unit, micrometres: str) -> None:
    assert units.um_exact(Decimal(value), unit) == Decimal(micrometres)
    assert units.to_um(float(value), unit) == pytest.approx(float(micrometres), rel=1e-15)


def test_a_spline_that_lost_forty_micrometres() -> None:
    # common practice, no source: 4.41 mm when new, reads 4.37, has worn 40 um
    new, now = (units.tenths_from_typed(Decimal(text), "mm") for text in ("4.41", "4.37"))
    assert new - now == 400


def test_units_are_those_of_the_tables() -> None:
    assert tuple(units.UM_PER_UNIT) == UNITS


@pytest.mark.parametrize(
    ("value_um", "printed"),
    [
        (100.0, "0.10 mm (0.0039 in)"),
        (254.0, "0.254 mm (0.0100 in)"),
        (25.4, "0.025 mm (0.0010 in)"),
        (125.0, "0.125 mm (0.0049 in)"),
        (0.0, "0.00 mm (0.0000 in)"),
        (-100.0, "-0.10 mm (-0.0039 in)"),
        (-0.001, "0.000 mm (0.0000 in)"),
        (0.1 * 1000 + 1e-12, "0.10 mm (0.0039 in)"),
    ],
)
def test_differences_are_printed_in_both_systems(value_um: float, printed: str) -> None:
    assert units.print_um(value_um) == printed


def test_sizes_are_printed_in_both_systems() -> None:
    assert units.print_mm(5.98) == "5.980 mm (0.2354 in)"
    assert units.print_mm(31.75, decimals=2) == "31.75 mm (1.2500 in)"


def test_finer_widths_are_rounded_half_away_from_zero() -> None:
    assert units.tenths_from_typed(Decimal("0.00025"), "in") == 64  # 6.35 um
    assert units.tenths_from_typed(Decimal("5.98004"), "mm") == 59800


def test_months_days_and_hours() -> None:
    assert 12 * units.MEAN_MONTH_DAYS == 365.25
    assert units.days_from_months(12.0) == 365.25
    assert units.months_between(datetime.date(2025, 3, 4), datetime.date(2026, 3, 4)) == pytest.approx(365 / 30.4375)
    assert units.hours_from_days(30.0, hours_a_day=8.0) == 240
    assert units.days_from_hours(240.0, hours_a_day=8.0) == 30


def test_angle() -> None:
    # pi radians are 180 degrees of 60 minutes
    assert units.arcmin_from_mrad(1000 * np.pi) == pytest.approx(10800)


def test_unit_names() -> None:
    assert units.unit_or_none(" Thou ") == "thou"
    assert units.unit_or_none("mil") is None
