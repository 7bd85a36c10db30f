"""Straight-sided splines against ISO 14:1982 and the SAE proportions (J499; six splines read, the rest from memory)."""

import pytest

from tests.domain.reference_rows import reference_rows
from wearstats.domain.pattern import Pattern
from wearstats.domain.tolerances import standard_splines as splines
from wearstats.domain.tolerances.standard_splines import iso_14, sae_spline, torque_capacity
from wearstats.domain.units import to_um
from wearstats.errors import InputError

TOLERANCES = "iso_286_1_standard_tolerances.csv"


def test_iso_14_is_the_standard_s_table() -> None:
    rows = reference_rows("iso_14_splines.csv")
    assert len(rows) == len(splines.ISO_14) == 35
    for row in rows:
        found = iso_14(f"{row['splines']}x{row['minor_mm']}x{row['major_mm']}")
        assert found.series == row["series"]
        assert found.width_mm == float(row["width_mm"])
        assert found.designation == f"{row['splines']}x{row['minor_mm']}x{row['major_mm']}"


@pytest.mark.parametrize("text", ["8x32x36", " 8 X 32 X 36 ", "ISO 14 8x32x36", "8\u00d732\u00d736"])
def test_designations_as_they_are_written(text: str) -> None:
    assert iso_14(text).designation == "8x32x36"


def test_a_designation_that_disagrees_with_its_own_diameter_is_not_trusted() -> None:
    # one copy of the table labels the row with D = 65 as 8x56x66
    with pytest.raises(InputError, match=r"says a major diameter of 66 mm, but 65 mm stands beside it.*trust neither"):
        iso_14("8x56x66", major_mm=65)
    with pytest.raises(
        InputError, match=r"says a major diameter of 66 mm, ISO 14 has 62 or 65 for 8x56.*trust neither"
    ):
        iso_14("8x56x66")
    assert iso_14("8x56x65", major_mm=65).width_mm == 10


def test_unknown_designations_are_refused() -> None:
    with pytest.raises(InputError, match="is not in ISO 14:1982"):
        iso_14("12x32x36")
    with pytest.raises(InputError, match="such as 8x32x36"):
        iso_14("8 splines")


@pytest.mark.parametrize(
    ("width_fit", "treated", "limits"),
    [
        # ISO 14:1982, 8x32x36, B = 6: hub H9 or, treated, H11; shaft d10 sliding, f9 close, h10 fixed
        ("fixed", False, (0, 78)),
        ("close", False, (10, 70)),
        ("sliding", False, (30, 108)),
        ("fixed", True, (0, 123)),
    ],
)
def test_fits_of_the_width(width_fit: splines.WidthFit, treated: bool, limits: tuple[float, float]) -> None:
    found = splines.iso_14_width_fit(iso_14("8x32x36"), width_fit, treated=treated)
    assert (found.low_um, found.high_um) == limits


def test_fits_of_the_centring_diameter() -> None:
    # ISO 14:1982: hub H7, shaft h7 where fixed; 32 mm gives 0 to 50 um
    found = splines.iso_14_centring_fit(iso_14("8x32x36"), "fixed")
    assert (found.low_um, found.high_um) == (0, 50)


def test_every_size_has_its_fits() -> None:
    for spline in splines.ISO_14.values():
        assert splines.iso_14_width_fit(spline, "sliding").low_um >= 20


@pytest.mark.parametrize(("sae_fit", "torque"), [("A", 142.5), ("B", 208.125), ("C", 270.0)])
def test_torque_of_six_sae_splines(sae_fit: splines.SaeFit, torque: float) -> None:
    # SAE J499 family, six splines, D = 1 in: pound-inches per inch of length at 1000 psi
    width, minor, height = sae_spline(6, 1.0, sae_fit)
    assert width == 0.250
    found = torque_capacity(pressure=1000, splines=6, mean_radius=(1 + minor) / 4, height=height, length=1)
    assert found == pytest.approx(torque)


def test_ten_sae_splines() -> None:
    # SAE J499 family, from memory: D = 1.25 in, fit B
    width, minor, height = sae_spline(10, 1.25, "B")
    assert width == pytest.approx(0.195)
    assert to_um(width, "in") == pytest.approx(4953)
    assert minor == pytest.approx(1.075)
    assert height == pytest.approx(0.0875)
    found = torque_capacity(pressure=1000, splines=10, mean_radius=(1.25 + minor) / 4, height=height, length=1)
    assert found == pytest.approx(508.6, abs=0.05)


def test_sae_widths_and_minor_diameters() -> None:
    # SAE J499 family, from memory
    assert splines.SAE_WIDTH == {4: 0.241, 6: 0.250, 10: 0.156, 16: 0.098}
    minors = [sae_spline(10, 1.0, sae_fit)[1] for sae_fit in ("A", "B", "C")]
    assert minors == pytest.approx([0.910, 0.860, 0.810])


def test_the_hub_s_own_tolerance_in_the_sae_family() -> None:
    # SAE J499 family: six splines at D = 1 in are 0.248 to 0.250 in wide
    assert to_um(0.250 - 0.248, "in") == pytest.approx(50.8)


@pytest.mark.parametrize("number", [4, 8, 16])
def test_heights_that_are_not_known_are_refused(number: int) -> None:
    with pytest.raises(InputError, match="6 or 10 splines"):
        sae_spline(number, 1.0, "A")


def test_a_pattern_s_sizes_are_the_standard_s() -> None:
    """Sizes against ISO 14:1982 and the space against IT9 of ISO 286-1, for all 35 sizes."""
    it9 = [(float(row["over_mm"]), float(row["to_mm"]), float(row["IT9"])) for row in reference_rows(TOLERANCES)]
    for row in reference_rows("iso_14_splines.csv"):
        name = f"{row['splines']}x{row['minor_mm']}x{row['major_mm']}"
        sizes = splines.pattern_sizes(iso_14(name))
        width = float(row["width_mm"])
        (step,) = [um for over, to, um in it9 if over < width <= to]
        assert sizes == {
            "splines": int(row["splines"]),
            "width_mm": width,
            "space_width_mm": pytest.approx(width + step / 2000, abs=1e-9),
            "minor_mm": float(row["minor_mm"]),
            "major_mm": float(row["major_mm"]),
            "engaged_mm": float(row["minor_mm"]),
        }
        Pattern(pattern=name, splines=int(sizes.pop("splines")), **sizes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    ["6x26x32", "6 splines 26 x 32", "6-splines 26x32", "ISO 14-6x26x32", "DIN ISO 14 6 x 26 x 32 mm", "6*26*32"],
)
def test_designations_in_other_words(text: str) -> None:
    assert splines.designation_of(text) == "6x26x32"


@pytest.mark.parametrize("text", ["D8", "26x32", "6x26", "6x26x32x4", "0.6x26x32", ""])
def test_other_names_are_no_designations(text: str) -> None:
    assert splines.designation_of(text) is None
