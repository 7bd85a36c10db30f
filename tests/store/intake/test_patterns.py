"""Patterns nobody typed: those of the standard by their designation, and the only one on record."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, PATTERN, make_store
from wearstats.errors import InputError
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import IntakeReport

SIZES = "select splines, width_mm, space_width_mm, minor_mm, major_mm, engaged_mm from patterns where pattern = "


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Store]:
    create_store(tmp_path / "empty.duckdb")
    with open_store(tmp_path / "empty.duckdb", write=True) as opened:
        yield opened


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def added(store: Store, text: str) -> IntakeReport:
    return add_files(store, [], text=text, added_on=LATE)


@pytest.mark.parametrize(
    "written", ["8x36x40", "ISO 14 8 x 36 x 40", "8\u00d736\u00d740", "iso 14 - 8X36X40", "DIN ISO 14 8x36x40"]
)
def test_a_standard_size_makes_its_row(written: str, empty: Store) -> None:
    report = added(empty, f"shafts\nshaft,pattern\nP-17,{written}\nP-18,8x36x40\n")
    assert empty.rows("select shaft, pattern from shafts order by 1") == [("P-17", "8x36x40"), ("P-18", "8x36x40")]
    # ISO 14:1982: B = 7, H9 of 7 mm is +36 um (ISO 286-1), of which the space is the middle
    assert empty.rows(f"{SIZES} '8x36x40'") == [(8, 7.0, 7.018, 36.0, 40.0, 36.0)]
    made = report.files[0]
    assert (made.file, made.table, made.accepted) == ("ISO 14", "patterns", 1)
    assert "engaged over 36 mm (assumed, as long as the minor diameter)" in " ".join(report.notes)


def test_a_row_of_patterns_needs_no_sizes_where_the_standard_has_them(empty: Store) -> None:
    report = added(empty, "patterns\npattern,grid_um,engaged_mm\n8x36x40,5,50\n6x26x32,10,\n")
    assert report.kept_out == 0, report.to_dict()
    assert empty.rows(f"{SIZES} '8x36x40'") == [(8, 7.0, 7.018, 36.0, 40.0, 50.0)]
    # B = 6: H9 is +30 um
    assert empty.rows(f"{SIZES} '6x26x32'") == [(6, 6.0, 6.015, 26.0, 32.0, 26.0)]


def test_a_row_of_patterns_of_no_standard_needs_its_sizes(empty: Store) -> None:
    with pytest.raises(InputError, match=r"columns splines, width_mm, .* missing; there are pattern, grid_um"):
        added(empty, "patterns\npattern,grid_um\nD8,5\n")
    report = added(empty, "patterns\npattern,grid_um\nD8,5\n8x36x40,5\n")
    assert "row 3, splines: nothing is written" in report.files[0].problems[0]
    assert empty.rows("select pattern from patterns") == [("8x36x40",)]


def test_a_standard_size_of_one_s_own_row_is_left_as_it_is(empty: Store) -> None:
    names, values = ",".join(PATTERN), ",".join(str(value) for value in PATTERN.values())
    own = f"patterns\n{names}\n{values.replace('D8', '8x36x40')}\n\nshafts\nshaft,pattern\nP-17,ISO 14 8x36x40\n"
    added(empty, own)
    assert empty.rows(f"{SIZES} '8x36x40'") == [(8, 6.0, 6.01, 32.0, 36.0, 28.0)]
    assert empty.value("select pattern from shafts") == "8x36x40"


def test_a_file_that_carries_its_pattern_s_own_sizes_keeps_them(empty: Store) -> None:
    columns = "shaft,pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm"
    report = added(empty, f"shafts\n{columns}\nP-17,8x36x40,8,7,7.01,36,40,44\n")
    assert report.kept_out == 0, report.to_dict()
    assert empty.rows(f"{SIZES} '8x36x40'") == [(8, 7.0, 7.01, 36.0, 40.0, 44.0)]


def test_a_pattern_on_record_with_a_standard_s_sizes_is_the_same(store: Store) -> None:
    # D8 of the small store has the sizes of 8x32x36
    report = added(store, "shafts\nshaft,pattern\nP-17,8x32x36\n")
    assert store.value("select pattern from shafts where shaft = 'P-17'") == "D8"
    assert store.value("select count(*) from patterns") == 1
    assert "pasted text, pattern: '8x32x36' was taken for D8, which has these sizes" in report.notes


def test_a_size_that_the_standard_does_not_have_is_told(store: Store) -> None:
    report = added(store, "shafts\nshaft,pattern\nP-17,8x36x41\n")
    note, kept = report.notes
    assert kept.startswith("kept, but shaft P-17: names pattern 8x36x41, which has no row of its own")
    assert "'8x36x41' is not on record and ISO 14 has no such size (8x36x40, 8x36x42)" in note
    assert store.value("select count(*) from patterns") == 1


def test_an_engaged_length_that_is_said_is_taken(empty: Store) -> None:
    added(
        empty,
        "readings\nshaft: P-17\npattern: 8x36x40\nengaged_mm: 45\nmeasured_on: 2026-11-20\nmeasured_by: Jan\n"
        "measured_at: home\nkind: caliper\nresolution: 0.01\nunit: mm\nspline,middle\n1,6.98\n",
    )
    assert empty.value("select engaged_mm from patterns") == 45
    assert empty.value("select count(*) from notes") == 0


@pytest.mark.parametrize(
    ("table", "columns", "row"),
    [
        ("shafts", "shaft", "P-17"),
        ("hubs", "hub,undersize_um", "H-9,50"),
        ("batches", "batch,undersize_um,made_on,quantity", "B-9,50,2026-01-01,10"),
        ("orders", "order,ordered_on", "O-9,2026-01-01"),
        ("stock_counts", "undersize_um,counted_on,on_hand", "50,2026-01-01,3"),
        ("undersizes_offered", "undersize_um,from_on", "55,2026-01-01"),
        ("costs", "item,from_on,amount,currency", "failure,2026-01-02,300,EUR"),
    ],
)
def test_the_only_pattern_need_not_be_named(table: str, columns: str, row: str, store: Store) -> None:
    before = store.value(f"select count(*) from {table}")
    report = added(store, f"{table}\n{columns}\n{row}\n")
    assert report.kept_out == 0, report.to_dict()
    assert store.value(f"select count(*) from {table} where pattern = 'D8'") == before + 1
    assert "pasted text: 1 row without a pattern taken for D8, the only one on record" in report.notes


def test_a_blank_cell_is_filled_and_a_blank_row_is_not(store: Store, tmp_path: Path) -> None:
    (tmp_path / "hubs.csv").write_text("hub,pattern,undersize_um\nH8,,50\nH9,D8,50\n,,\n")
    report = add_files(store, [tmp_path / "hubs.csv"], added_on=LATE)
    assert (report.files[0].read, report.files[0].accepted) == (2, 2)


def test_a_sheet_of_an_unknown_shaft_without_its_pattern(store: Store) -> None:
    sheet = (
        "readings\nshaft: P-17\nmeasured_on: 2026-11-20\nmeasured_by: Jan\nmeasured_at: home\nkind: caliper\n"
        "resolution: 0.01\nunit: mm\nspline,middle\n1,5.98\n"
    )
    added(store, sheet)
    assert store.value("select pattern from shafts where shaft = 'P-17'") == "D8"
    report = added(store, sheet.replace("P-17", "S1"))
    assert "shafts" not in {file.table for file in report.files}


def test_with_two_patterns_a_missing_one_is_asked_for(store: Store) -> None:
    added(store, "shafts\nshaft,pattern\nP-17,8x36x40\n")
    with pytest.raises(InputError) as refused:
        added(store, "hubs\nhub,undersize_um\nH9,50\n")
    told = str(refused.value)
    assert "column pattern missing; there are hub, undersize_um; one of 8x36x40, D8" in told
    assert told.endswith("for example: hub,pattern,undersize_um / H-204,8x36x40,50")
    report = added(store, "hubs\nhub,pattern,undersize_um\nH9,,50\n")
    assert "row 3, pattern: nothing is written" in report.files[0].problems[0]


def test_without_any_pattern_a_missing_one_is_asked_for(empty: Store) -> None:
    with pytest.raises(InputError, match="a size of ISO 14, such as 8x36x40"):
        added(empty, "shafts\nshaft\nP-17\n")
