"""Limits and fits against ISO 286-1:2010 and what ISO 14:1982 asks of it."""

import pytest

from tests.domain.reference_rows import reference_rows
from wearstats.domain.tolerances import limits_fits
from wearstats.domain.tolerances.limits_fits import (
    FACTORS,
    STEPS_MM,
    TOLERANCE_UM,
    Zone,
    fit,
    tolerance_factor_um,
    zone,
)
from wearstats.errors import InputError

TOLERANCES = reference_rows("iso_286_1_standard_tolerances.csv")
DEVIATIONS = reference_rows("iso_286_1_shaft_deviations.csv")


def test_tolerances_are_the_standard_s() -> None:
    for row in TOLERANCES:
        for grade in TOLERANCE_UM:
            for nominal_mm in (float(row["over_mm"]) + 0.001, float(row["to_mm"])):
                assert limits_fits.tolerance_um(nominal_mm, grade) == int(row[f"IT{grade}"])


def test_deviations_are_the_standard_s() -> None:
    for row in DEVIATIONS:
        for nominal_mm in (float(row["over_mm"]) + 0.001, float(row["to_mm"])):
            for letter in "dfg":
                assert zone(nominal_mm, f"{letter}7").high_um == int(row[letter])
            for letter in "knp":
                assert zone(nominal_mm, f"{letter}7").low_um == int(row[letter])


def test_six_millimetres_belongs_to_three_to_six() -> None:
    # ISO 286-1: steps are "over a, up to and including b"
    assert STEPS_MM[limits_fits.step_index(6.0)] == (3, 6)
    assert STEPS_MM[limits_fits.step_index(6.001)] == (6, 10)


def test_tolerance_factor() -> None:
    # ISO 286-1, derived for 30 to 50 mm: i = 1.5612 um and 16 i = 24.98, where the table has 25
    assert tolerance_factor_um(30, 50) == pytest.approx(1.5612, abs=5e-5)
    assert 16 * tolerance_factor_um(30, 50) == pytest.approx(24.98, abs=5e-3)
    # 3 to 6 mm: 40 i = 29.3, where the table has 30
    assert 40 * tolerance_factor_um(3, 6) == pytest.approx(29.3, abs=0.05)


@pytest.mark.parametrize("step", range(1, len(STEPS_MM)))
@pytest.mark.parametrize("grade", FACTORS)
def test_the_formula_agrees_with_the_table_to_a_tenth(step: int, grade: int) -> None:
    # not below 3 mm, where the standard rounded upwards by more
    assert FACTORS[grade] * tolerance_factor_um(*STEPS_MM[step]) == pytest.approx(TOLERANCE_UM[grade][step], rel=0.1)


@pytest.mark.parametrize(
    ("nominal_mm", "designation", "low_um", "high_um"),
    [
        # fits of the width of ISO 14:1982, 8x32x36 with B = 6
        (6, "H9/h10", 0, 78),
        (6, "H9/f9", 10, 70),
        (6, "H9/d10", 30, 108),
        (6, "H11/h10", 0, 123),
        # 32 mm pilot, ISO 286-1
        (32, "H7/h7", 0, 50),
        (32, "H7/k6", -18, 23),
        (32, "H7/p6", -42, -1),
    ],
)
def test_clearances_of_fits(nominal_mm: float, designation: str, low_um: float, high_um: float) -> None:
    limits = fit(nominal_mm, designation)
    assert (limits.low_um, limits.high_um) == (low_um, high_um)
    assert limits.mean_um == (low_um + high_um) / 2


def test_even_the_fixed_fit_allows_three_thousandths_of_an_inch() -> None:
    assert fit(6, "H9/h10").high_um > 3 * 25.4


def test_k_is_on_the_line_in_coarse_grades() -> None:
    # ISO 286-1, from memory: the deviation of k is nought above grade 7
    assert zone(6, "k9") == Zone(low_um=0, high_um=30)


@pytest.mark.parametrize("nominal_mm", [0.0, -6.0, 50.001, float("nan")])
def test_sizes_outside_the_table_are_refused(nominal_mm: float) -> None:
    with pytest.raises(InputError, match="over 0 up to and including 50 mm"):
        fit(nominal_mm, "H9/h10")


@pytest.mark.parametrize("designation", ["h10/H9", "H9", "H9h10", "H9/H9", "H9/js7", "H9/", "H/h", "H9/h", "K7/h6"])
def test_other_classes_are_refused(designation: str) -> None:
    with pytest.raises(InputError, match=r"hub class / shaft class|H for hubs"):
        fit(6, designation)


@pytest.mark.parametrize("designation", ["H4/h10", "H9/h12"])
def test_other_grades_are_refused(designation: str) -> None:
    with pytest.raises(InputError, match="IT5 to IT11"):
        fit(6, designation)


def test_every_grade_has_its_factor() -> None:
    # ISO 286-1, table of standard tolerances from IT5 on: 7i, 10i, 16i, 25i, 40i, 64i, 100i
    assert set(FACTORS) == set(TOLERANCE_UM)
    assert [FACTORS[grade] for grade in sorted(FACTORS)] == [7, 10, 16, 25, 40, 64, 100]
