"""Check pieces by name: their own size counts, slips are told, and who has one is known."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, make_store
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import IntakeReport
from wearstats.store.taking_back.rename import rename
from wearstats.store.taking_back.retract import retract
from wearstats.store.taking_back.undo import undo

ADDED = datetime.date(2026, 6, 1)
PIECES = "check_pieces\npiece,size_mm,size_u_um,checked_on\nCP-1,6.012,0.5,2026-01-10\nCP-2,5.448,0.5,2026-01-10\n"
HEAD = "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit,check_piece,check_reading,piece\n"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        assert add_files(opened, [], text=PIECES, added_on=ADDED).kept_out == 0
        yield opened


def _measured(store: Store, *cells: str) -> IntakeReport:
    rows = "".join(f"J{at},S1,2026-05-0{at},owner-1,home,G1,mm,{each}\n" for at, each in enumerate(cells, start=1))
    return add_files(store, [], text=HEAD + rows, added_on=ADDED)


def _check_um(store: Store, as_of: datetime.date = LATE) -> dict[str, tuple[float, float, str]]:
    rows = store.query("widths/inspections", as_of=as_of, pattern=None, shafts=None)
    mine = rows[rows["inspection"].str.startswith("J")]
    return {
        str(row["inspection"]): (round(row["check_um"], 3), row["piece_u_um"], row["piece"])
        for row in mine.to_dict("records")
    }


def test_a_reading_is_held_against_the_pieces_own_size(store: Store) -> None:
    report = _measured(store, "6.000,6.015,CP-1", ",6.011,CP-1")
    assert (report.kept_out, report.notes) == (0, ())
    assert _check_um(store) == {"J1": (3.0, 0.5, "CP-1"), "J2": (-1.0, 0.5, "CP-1")}


def test_the_size_is_that_known_on_the_day_asked_about(store: Store) -> None:
    _measured(store, "6.000,6.015,CP-1")
    text = PIECES.replace("6.012,0.5", "6.010,0.3")
    add_files(store, [], text=text, added_on=datetime.date(2026, 7, 1), correct=True)
    assert _check_um(store, datetime.date(2026, 6, 30)) == {"J1": (3.0, 0.5, "CP-1")}
    assert _check_um(store) == {"J1": (5.0, 0.3, "CP-1")}


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        (",6.130,CP-1", "check piece CP-1 of 6.012 mm read 6.130 mm, +118 µm"),
        ("5.448,6.013,CP-1", "check piece of 5.448 mm, where CP-1 is 6.0120 mm"),
        ("6.000,6.002,CP-9", "names check piece CP-9, which has no row of its own"),
    ],
)
def test_a_slip_is_kept_and_told(store: Store, cells: str, told: str) -> None:
    report = _measured(store, cells)
    assert report.kept_out == 0
    assert any(note.startswith("kept, but inspection J1") and told in note for note in report.notes), report.notes


def test_an_unknown_piece_leaves_the_size_that_was_written(store: Store) -> None:
    _measured(store, "6.000,6.002,CP-9")
    assert _check_um(store)["J1"][0] == 2.0


def test_a_reading_with_the_size_of_another_piece(store: Store) -> None:
    add_files(store, [], text="check_pieces\npiece,size_mm\nCP-3,6.300\n", added_on=ADDED)
    report = _measured(store, ",5.450,CP-1", ",6.302,CP-1")
    # nearer ones are kept and asked about; what is far off is kept out
    assert report.kept_out == 0
    assert any("as check piece CP-2 would be" in note for note in report.notes), report.notes
    assert any("as check piece CP-3 would be" in note for note in report.notes), report.notes
    add_files(store, [], text="check_pieces\npiece,size_mm\nCP-4,8.000\n", added_on=ADDED)
    other = add_files(store, [], text=HEAD + "K1,S1,2026-05-09,owner-1,home,G1,mm,,8.001,CP-1\n", added_on=ADDED)
    assert other.kept_out == 1
    (problem,) = [problem for file in other.files for problem in file.problems]
    assert "far from check piece CP-1's 6.012 mm" in problem
    assert "is it check piece CP-4? name that one" in problem


def test_an_owners_sheet_brings_name_and_size_back(store: Store) -> None:
    sheet = (
        "shaft: S1\nmeasured_on: 2026-05-20\nmeasured_by: owner-1\nmeasured_at: home\nkind: micrometer-flat\nunit: mm\n"
        "resolution: 0.001\ncheck_piece: 6.0120\ncheck_reading: 6.016\npiece: CP-1\n\n"
        "spline,shoulder,middle,nut-end\n1,5.981,5.979,5.980\n2,5.975,5.973,5.974\n"
    )
    report = add_files(store, [], text=f"readings\n{sheet}", added_on=ADDED)
    assert report.kept_out == 0, report.files
    found = "select piece, check_piece_mm, check_reading_mm from inspections where measured_on = '2026-05-20'"
    assert store.rows(found) == [("CP-1", 6.012, 6.016)]


LOANS = "check_piece_loans\npiece,sent_on,shaft,owner,back_by,back_on\n"


def test_who_has_a_piece_and_who_is_overdue(store: Store) -> None:
    text = (
        LOANS
        + "CP-1,2026-03-01,S1,,2026-04-01,2026-03-28\nCP-1,2026-04-10,S1,,2026-05-01,\nCP-2,2026-05-20,,owner-7,,\n"
    )
    assert add_files(store, [], text=text, added_on=ADDED).notes == ()
    out = store.query("gauging/pieces_out", as_of=ADDED)
    assert list(out[["piece", "overdue"]].itertuples(index=False, name=None)) == [("CP-1", True), ("CP-2", False)]
    assert store.query("gauging/pieces_out", as_of=datetime.date(2026, 4, 30)).empty  # added in June


def test_loans_that_cannot_be_are_refused_and_odd_ones_told(store: Store) -> None:
    text = LOANS + "CP-1,2026-03-01,S1,,2026-02-01,\nCP-1,2026-03-02,S1,,,2026-03-01\n"
    report = add_files(store, [], text=text, added_on=ADDED)
    assert report.kept_out == 2
    assert (
        add_files(store, [], text=LOANS + "CP-1,2026-04-01,,,,\nCP-1,2026-05-01,S1,,,\n", added_on=ADDED).kept_out == 0
    )
    found = {finding.found for finding in run_checks(store, as_of=ADDED, checks=("check_pieces_odd",))}
    assert found == {"lent to nobody: no shaft and no owner", "not back, and sent out again on 2026-05-01"}
    # what was sent on is with whom it was sent to last
    assert store.query("gauging/pieces_out", as_of=ADDED)["sent_on"].astype(str).tolist() == ["2026-05-01"]
    add_files(store, [], text="check_pieces\npiece,size_mm,size_u_um\nCP-8,6.000,12\n", added_on=ADDED)
    assert "known to 12.0 µm" in {f.found for f in run_checks(store, as_of=ADDED, checks=("check_pieces_odd",))}


def test_a_loan_for_another_shaft_or_to_another_owner_is_told(store: Store) -> None:
    text = "shafts\nshaft,pattern,owner\nS2,D8,owner-2\n"
    assert add_files(store, [], text=text, added_on=ADDED).kept_out == 0
    report = add_files(store, [], text=LOANS + "CP-1,2026-05-01,S2,owner-3,,\n", added_on=ADDED)
    assert "lent to owner-3, but the owner of shaft S2 is owner-2" in report.notes[0]
    (note,) = _measured(store, ",6.014,CP-1").notes
    assert "inspection J1, shaft S1: reads check piece CP-1 on 2026-05-01, lent for shaft S2 then" in note


def test_a_piece_on_which_loans_rest_is_taken_out_with_them_and_put_back(store: Store) -> None:
    add_files(store, [], text=LOANS + "CP-1,2026-03-01,S1,,,\n", added_on=ADDED)
    _measured(store, "6.000,6.015,CP-1")
    report = retract(store, "check_pieces", ["CP-1"], on=LATE, with_all=True)
    assert report.out == {"check_pieces": 1, "check_piece_loans": 1}
    # the inspection only mentions it: what was written there counts again
    assert _check_um(store)["J1"][0] == 15.0
    undo(store, report.intake, on=LATE)
    assert _check_um(store)["J1"][0] == 3.0
    assert store.value("select count(*) from check_piece_loans") == 1


def test_a_loan_goes_along_with_the_shafts_new_name(store: Store) -> None:
    add_files(store, [], text=LOANS + "CP-1,2026-03-01,S1,,,\n", added_on=ADDED)
    rename(store, "shafts", "S1", "P-17", on=LATE)
    assert store.rows("select piece, shaft from check_piece_loans") == [("CP-1", "P-17")]
