"""Sizes far from what they should be near: what they may have been meant as, and where the line is."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.store.support.small_store import LOADED_ON, make_store
from wearstats.domain.tables import UNITS
from wearstats.domain.units import UM_PER_UNIT, Unit
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.plausibility.sizes import far_size, plausible

SIX_MM = Decimal("6.000")
MEANINGS: dict[tuple[str, Unit], str] = {
    ("59.8", "mm"): "a slipped decimal? write 5.98, or correct the unit",
    ("0.598", "mm"): "a slipped decimal? write 5.98, or correct the unit",
    ("598", "mm"): "a slipped decimal? write 5.98, or correct the unit",
    ("0.2354", "mm"): "read in in? write the unit in, or 5.9792 mm",
    ("235.4", "mm"): "read in thou? write the unit thou, or 5.9792 mm",
    ("2354", "mm"): "read in tenth-thou? write the unit tenth-thou, or 5.9792 mm",
    ("5.98", "in"): "read in mm? write the unit mm, or 0.23543 in",
    ("5.98", "thou"): "read in mm? write the unit mm, or 235.43 thou",
    (
        "235.4",
        "in",
    ): "read in thou? write the unit thou, or 0.2354 in; or a slipped decimal? write 0.2354, or correct the unit",
    ("4.98", "mm"): "measure again, or correct the unit or the pattern",
}


@pytest.mark.parametrize(("text", "unit"), MEANINGS)
def test_the_likely_meaning_is_told(text: str, unit: Unit) -> None:
    problem = far_size("width", text, unit, nominal_mm=SIX_MM, of="D8's")
    assert problem.found == f"'{text}' is far from D8's 6.000 mm"
    assert problem.next_step == MEANINGS[text, unit]


@given(share=st.decimals("0.86", "1.14", places=4), read=st.sampled_from(UNITS), said=st.sampled_from(UNITS))
def test_a_size_said_in_another_unit_is_told_the_unit_it_was_read_in(share: Decimal, read: Unit, said: Unit) -> None:
    value = (SIX_MM * 1000 * share / UM_PER_UNIT[read]).quantize(Decimal("0.0001"))
    if plausible(value * UM_PER_UNIT[said], SIX_MM * 1000):
        return
    problem = far_size("width", f"{value:f}", said, nominal_mm=SIX_MM, of="D8's")
    assert f"read in {read}? write the unit {read}" in problem.next_step


@pytest.mark.parametrize(("text", "unit"), [("38.42", "mm"), ("36", "mm"), ("1.5126", "in"), ("18.01", "mm")])
def test_a_size_over_pins_is_called_one(text: str, unit: Unit) -> None:
    problem = far_size("width", text, unit, nominal_mm=SIX_MM, of="D8's")
    assert "it can only be a size over pins or wires, or a diameter" in problem.found
    assert problem.allowed.startswith("the width of one straight-sided spline")
    assert "involute" in problem.next_step


def test_a_register_of_many_widths_is_no_size_over_pins() -> None:
    assert "pins" not in far_size("register", "100", "mm", nominal_mm=Decimal(30), of="D8's").found


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


@pytest.mark.parametrize(("width", "taken"), [("5.100", 1), ("5.0999", 0), ("6.900", 1), ("6.9001", 0)])
def test_fifteen_hundredths_of_the_new_width_is_the_line(store: Store, width: str, taken: int) -> None:
    text = f"readings\ninspection,spline,station,width\nI1,1,nut-end,{width}\n"
    assert add_files(store, [], text=text, added_on=LOADED_ON).files[0].accepted == taken


def test_a_size_over_pins_is_kept_out_with_its_words(store: Store) -> None:
    text = "readings\ninspection,spline,station,width\nI1,1,nut-end,38.42\n"
    file = add_files(store, [], text=text, added_on=LOADED_ON).files[0]
    assert (file.accepted, file.rejected) == (0, 1)
    assert "row 3, width: '38.42' is over 3 times D8's 6.000 mm: it can only be a size over pins" in file.problems[0]


def test_without_a_pattern_nothing_can_be_far(store: Store) -> None:
    text = (
        "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
        "I7,S9,2026-05-01,w,workshop,G1,mm\n\n"
        "readings\ninspection,spline,station,width\nI7,11,nut-end,59.8\nI7,12,nut-end,0.2\nI7,13,nut-end,201\n"
    )
    report = add_files(store, [], text=text, added_on=LOADED_ON)
    assert (report.files[1].accepted, report.files[1].rejected) == (2, 1)
    assert "'201' mm is no size of a shaft; a size over 0 and up to 200 mm" in report.files[1].problems[0]


def test_sizes_on_the_inspection_are_checked_too(store: Store) -> None:
    head = "inspection,shaft,measured_on,measured_by,measured_at,gauge,unit,major,check_piece,check_reading\n"
    text = (
        f"inspections\n{head}I7,S1,2026-05-01,w,home,G1,mm,35.96,6,6.004\n"
        "I8,S1,2026-05-01,w,home,G1,mm,1.416,6,6.004\nI9,S1,2026-05-01,w,home,G1,mm,35.96,6,60.04\n"
        "I10,S1,2026-05-01,w,home,G1,in,1.416,6,0.2364\n"
    )
    report = add_files(store, [], text=text, added_on=LOADED_ON)
    assert [problem.partition("; ")[0] for problem in report.files[0].problems] == [
        "pasted text, row 4, major: '1.416' is far from D8's 36.000 mm",
        "pasted text, row 5, check_reading: '60.04' is far from the check piece's 6.000 mm",
    ]
    taken = (
        "select inspection, major_mm, check_piece_mm, check_reading_mm, major from inspections where major is not null"
    )
    assert store.rows(taken) == [("I7", 35.96, 6.0, 6.004, "35.96"), ("I10", 35.9664, 6.0, 6.0046, "1.416")]


@pytest.mark.parametrize("width", ["55555.97", "555555555.97", "99999999999.5"])
def test_a_width_however_large_is_kept_out_and_told(store: Store, tmp_path: Path, width: str) -> None:
    # found by the spoiled files: too large a product ended in an error of the database
    (tmp_path / "readings.csv").write_text(
        f"inspection,spline,station,width,trial\nI1,2,shoulder,{width},7\n", encoding="utf-8"
    )
    report = add_files(store, [tmp_path / "readings.csv"], added_on=LOADED_ON)
    assert report.kept_out == 1
    assert f"'{width}' is far from D8's 6.000 mm" in report.files[0].problems[0]


HEAD = "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit,condition\n"


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("bruised", ["bruised"]),
        ("Bruised; CRACKED", ["bruised", "cracked"]),
        ("bruised and twisted", ["bruised", "twisted"]),
        ("", None),
    ],
)
def test_what_was_seen_and_felt_is_kept_in_words(store: Store, typed: str, kept: list[str] | None) -> None:
    add_files(store, [], text=f"{HEAD}I7,S1,2026-05-01,w,home,G1,mm,{typed}\n", added_on=LOADED_ON)
    assert store.rows("select condition from inspections where inspection = 'I7'") == [(kept,)]


@pytest.mark.parametrize("typed", ["scratched", "sound; rusty", "cracket"])
def test_a_word_that_is_not_known_is_told_with_those_that_are(store: Store, typed: str) -> None:
    file = add_files(store, [], text=f"{HEAD}I7,S1,2026-05-01,w,home,G1,mm,{typed}\n", added_on=LOADED_ON).files[0]
    assert (file.accepted, file.rejected) == (0, 1)
    assert f"condition: '{typed.split('; ')[-1]}' is not known here" in file.problems[0]
    assert "sound, bruised, chipped, cracked, twisted" in file.problems[0]


def test_a_pattern_may_say_how_deep_its_hubs_are_filed(store: Store) -> None:
    head = "patterns\npattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm,deepest_um\n"
    add_files(store, [], text=f"{head}D9,8,6,6.01,32,36,28,90\n", added_on=LOADED_ON)
    assert store.rows("select pattern, deepest_um from patterns order by all") == [("D8", None), ("D9", 90.0)]
