"""Sheets as they come back from phones and kitchens: each row is taken or kept out with its reason, none is lost."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from tests.store.parsing.test_xlsx import SHEET
from tests.store.support.small_store import LATE, make_store
from wearstats.errors import InputError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import IntakeReport
from wearstats.store.parsing.phone_text import plain_text

ROWS = "1;5.98;5.96;5.98\n2;5.97;;5.98\n"
NAME = "S7 2026-04-01 owner 9"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def added(store: Store, text: str) -> IntakeReport:
    return add_files(store, [], text=text, added_on=LATE)


def readings(report: IntakeReport) -> tuple[int, int, int]:
    """Count readings taken, there already, and kept out."""
    files = [file for file in report.files if file.table == "readings"]
    kept_out = sum(file.conflict + file.rejected for file in files)
    return sum(file.accepted for file in files), sum(file.duplicate for file in files), kept_out


def problems(report: IntakeReport) -> list[str]:
    return [problem for file in report.files for problem in file.problems]


def test_readings_of_the_sheet_as_it_should_be(store: Store) -> None:
    assert readings(added(store, SHEET)) == (5, 0, 0)


# what was done to it, and where it ends as though nothing had been done
HARMLESS = {
    "tabs": (";", "\t"),
    "decimal commas": ("5.9", "5,9"),
    "typographic quotes round a cell": ("5.96", "\u201c5.96\u201d"),
    "single quotes round a cell": ("5.96", "\u20185.96\u2019"),
    "German quotes round a name": ("shaft: S7", "shaft: \u201eS7\u201c"),
    "quotes round a name": ("shaft: S7", 'shaft: "S7"'),
    "typographic quotes round a name": ("shaft: S7", "shaft: \u2018S7\u2019"),
    "unseen signs in a number": ("1;5.98;", "1;\u200b5.98\u2060;"),
    "marks of the writing direction": ("shaft: S7", "shaft: \u200eS7\u202c"),
    "unseen signs in a name": ("shaft: S7", "shaft: S7\u200b"),
    "unseen signs in a pattern": ("pattern: D8", "pattern:\u200b D8\ufeff"),
    "a unit in a cell": ("5.96", "5.96\u202fmm"),
    "narrow spaces in a name": ("owner 9", "owner\u202f9"),
    "narrow spaces round numbers": ("5.96", "\u20095.96\u202f"),
    "blank lines between": ("\n2;", "\n\n \n2;"),
    "splines that were not measured": (ROWS, ROWS + "3;;;\n4;;;\n5;;;\n"),
    "stations in another order": (f"middle;nut-end\n{ROWS}", "nut-end;middle\n1;5.98;5.98;5.96\n2;5.97;5.98;\n"),
    "stations in capitals": ("shoulder;middle;nut-end", "SHOULDER;Middle;Nut End"),
    "a column more": (f"nut-end\n{ROWS}", "nut-end;seen by\n1;5.98;5.96;5.98;Tom\n2;5.97;;5.98;Tom\n"),
}  # fmt: skip


@pytest.mark.parametrize("done", HARMLESS)
def test_what_does_no_harm(done: str, store: Store) -> None:
    old, new = HARMLESS[done]
    assert old in SHEET
    report = added(store, SHEET.replace(old, new))
    assert readings(report) == (5, 0, 0), problems(report)
    assert problems(report) == []
    assert store.rows("select shaft, pattern from shafts order by 1") == [("S1", "D8"), ("S7", "D8")]
    # so the sheet as it should be is the same one
    again = added(store, SHEET)
    assert readings(again) == (0, 5, 0), problems(again)


# what was done; readings taken, there already, kept out; words of a reason
KEPT_OUT = {
    "a dash for nothing": ("2;5.97;;", "2;5.97;\u2013;", (5, 0, 1), "leave the cell empty if not known"),
    "no reading, in words": ("2;5.97;;", "2;5.97;n/a;", (5, 0, 1), "leave the cell empty if not known"),
    "inch marks in a cell": ("5.96", "0.2346\u2033", (4, 0, 1), "write 5.95884, or correct the unit"),
    "inches from the second row on": ("2;5.97;;5.98", "2;0.2350;;0.2354", (3, 0, 2), "read in in? write the unit in"),
    "stars round a number": ("5.96", "*5.96*", (4, 0, 1), "'*5.96*' is no number"),
    "wide digits": ("5.96", "\uff15.\uff19\uff16", (4, 0, 1), "is no number"),
    "a space within a number": ("5.96", "5. 96", (4, 0, 1), "is no number"),
    "a slipped point": ("5.96", "59.6", (4, 0, 1), "is far from D8's 6.000 mm"),
    "more splines than the pattern has": (ROWS, ROWS + "9;5.98;5.96;5.98\n", (5, 0, 3), "spline 9 of 8; 1 to 8"),
    "a spline twice, alike": (ROWS, ROWS + "2;5.97;;5.98\n", (5, 2, 0), ""),
    "a spline twice, otherwise": (ROWS, ROWS + "2;5.99;;5.98\n", (5, 1, 1), "where an earlier row of this intake has"),
    "a day with two meanings": ("2026-04-01", "4/1/26", (0, 0, 5), "may be 4 January 2026 (2026-01-04), day first"),
    "a day in words": ("2026-04-01", "1 April 2026", (0, 0, 5), "is no date; a date written YYYY-MM-DD"),
    "a unit that is none": ("unit: mm", "unit: metric", (0, 0, 5), "'metric' is no unit known here"),
    "a heading taken away": ("middle;nut-end", "middle", (0, 0, 2), "has 4 cells where there are 3 columns"),
    "a cell too many": ("1;5.98;", "1;5.98;5.98;", (2, 0, 1), "has 5 cells where there are 4 columns"),
}


@pytest.mark.parametrize("done", KEPT_OUT)
def test_what_is_kept_out_says_why_and_is_not_lost(done: str, store: Store) -> None:
    old, new, counts, words = KEPT_OUT[done]
    assert old in SHEET
    before = store.value("select count(*) from readings")
    report = added(store, SHEET.replace(old, new))
    assert readings(report) == counts, problems(report)
    assert not words or any(words in problem for problem in problems(report)), problems(report)
    assert store.value("select count(*) from readings") == before + counts[0]
    # every row kept out waits in the store with its reason
    assert store.value("select count(*) from rejects") == sum(file.conflict + file.rejected for file in report.files)
    assert store.value("select count(*) from rejects where coalesce(found, '') = ''") == 0


REFUSED = {
    "no rows": (ROWS, "", "has column names but no rows"),
    "no headings": ("spline;shoulder;middle;nut-end\n", "", "column spline missing"),
    "the first column renamed": ("spline;", "No.;", "column spline missing; there are no., shoulder"),
    "a station twice": ("middle;nut-end", "middle;middle", "column 'middle' stands twice; each column once"),
    "the top cut off": ("shaft: S7\nmeasured_on: 2026-04-01\n", "", "columns shaft, measured_on missing"),
    "a line above renamed": ("measured_by:", "mesured_by:", "is 'mesured_by' meant for measured_by?"),
    "another shaft below the rows": (ROWS, ROWS + "shaft: S8\n3;5.98;5.96;5.98\n", "'S8' below the rows, where 'S7'"),
    "another unit below a row": ("2;5.97;;5.98", "unit: in\n2;0.2350;;0.2354", "row 15, unit: 'in' below the rows"),
    "two shafts in one sheet": ("shaft: S7\n", "shaft: S7\nshaft: S8\n", "'S8' where 'S7' was said above"),
    "columns set apart by blanks": (";", " ", "columns set apart by comma, semicolon, tab"),
}


@pytest.mark.parametrize("done", REFUSED)
def test_what_is_refused_adds_nothing_and_says_why(done: str, store: Store) -> None:
    old, new, words = REFUSED[done]
    assert old in SHEET
    with pytest.raises(InputError) as refused:
        added(store, SHEET.replace(old, new))
    assert words in str(refused.value)
    assert store.value("select count(*) from readings where inspection not in ('I1', 'I2')") == 0


@pytest.mark.parametrize("again", [SHEET.partition("\n")[2], SHEET[SHEET.index("spline;") :]])
def test_a_sheet_pasted_twice_without_its_first_lines_counts_once(again: str, store: Store) -> None:
    report = added(store, SHEET + again)
    assert readings(report)[:2] == (5, 5)
    # of the lines above only the remark, which names no column, may be told
    assert all("remark" in problem for problem in problems(report))


@pytest.mark.parametrize(
    ("old", "new", "step"),
    [
        ("unit: mm\n", "", "write unit: above the rows"),
        ("kind: micrometer-flat\n", "", "write kind: above the rows"),
        ("2026-04-01", "1.4.2026", "mend measured_on, then add all of it again"),
    ],
)
def test_what_keeps_all_readings_of_a_sheet_out_is_told_once_with_what_to_do(
    old: str, new: str, step: str, store: Store
) -> None:
    report = added(store, SHEET.replace(old, new))
    assert readings(report) == (0, 0, 5)
    (told,) = [problem for problem in problems(report) if "is not in the store" in problem]
    assert step in told
    assert told.endswith("so it is with 5 of its readings")


def test_a_signature_is_told_and_no_row(store: Store) -> None:
    report = added(store, SHEET + "\n--\nTom\nSent from my telephone\n4 5.98 5.96 5.98\n")
    assert readings(report) == (5, 0, 1)
    assert report.notes == tuple(
        f"pasted text, row {row}: '{line}' is no row of the sheet, so it was not read"
        for row, line in ((17, "--"), (18, "Tom"), (19, "Sent from my telephone"))
    )
    assert "row 20: has 1 cell where there are 4 columns" in problems(report)[0]


def test_a_sheet_of_another_pattern_known_by_its_sizes(store: Store) -> None:
    """A 10-spline form of 5.448 mm filled in for a D8: names agree, sizes cannot."""
    rows = "".join(f"{spline};5.05;5.04;5.05\n" for spline in range(1, 11))
    report = added(store, SHEET.replace(ROWS, rows))
    taken, _, kept_out = readings(report)
    assert (taken, kept_out) == (0, 30)
    told = problems(report)
    assert any("far from D8's 6.000 mm" in problem for problem in told)
    assert any("spline 10 of 8" in problem for problem in told)


def test_a_reply_with_the_sheet_quoted_below_counts_once(store: Store) -> None:
    quoted = "".join(f"> {line}\n" for line in SHEET.splitlines())
    report = added(store, f"{SHEET}\nOn Monday Tom wrote:\n{quoted}")
    assert readings(report)[:2] == (5, 5)
    assert "row 17: 'On Monday Tom wrote:' is no row of the sheet, so it was not read" in report.notes[0]
    forwarded = added(store, "".join(f">> {line}\n" for line in SHEET.replace("S7", "S8").splitlines()))
    assert readings(forwarded) == (5, 0, 0)


def test_a_known_shaft_in_other_capitals_is_no_new_one(store: Store) -> None:
    added(store, SHEET)
    again = added(store, SHEET.replace("shaft: S7", "shaft: s 7"))
    assert readings(again) == (0, 5, 0), problems(again)
    assert "pasted text, shaft: 's 7' was taken for S7, which is known" in again.notes
    # where the store knows two that differ in nothing else, none is taken for the other
    add_files(store, [], text="shafts\nshaft,pattern\ns7,D8\n", added_on=LATE)
    other = added(store, SHEET.replace("shaft: S7", "shaft: s 7"))
    assert not any("was taken for" in note for note in other.notes)


def test_a_day_yet_to_come_is_told(store: Store) -> None:
    ahead = LATE.replace(year=LATE.year + 1).isoformat()
    told = added(store, SHEET.replace("2026-04-01", ahead)).notes
    assert len(told) == 1
    assert told[0].startswith(f"kept, but inspection S7 {ahead} owner 9: dated {ahead}, after the day of adding")
    assert not added(store, SHEET.replace("2026-04-01", LATE.isoformat())).notes[1:]


def test_two_sheets_of_two_units_in_one_message_keep_apart(store: Store) -> None:
    inches = SHEET.replace("S7", "S8").replace("unit: mm", "unit: in").replace("resolution: 0.01", "resolution: 0.0005")
    for mm, inch in (("5.98", "0.2355"), ("5.97", "0.2350"), ("5.96", "0.2345")):
        inches = inches.replace(mm, inch)
    assert readings(added(store, f"{SHEET}\n{inches}")) == (10, 0, 0)
    units = store.rows("select shaft, unit from inspections where shaft <> 'S1' order by 1")
    assert units == [("S7", "mm"), ("S8", "in")]


def test_apostrophes_and_quotes_inside_names_stay(store: Store) -> None:
    name = "Tom\u2019s \u201cold\u201d man"
    added(store, SHEET.replace("owner 9", name))
    assert store.rows("select distinct measured_by from inspections where shaft = 'S7'") == [(name,)]


def test_an_edited_workbook(store: Store, tmp_path: Path) -> None:
    """A remark beside the readings, a column put in between, a row half filled: what is clear is taken."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "readings"
    for line in SHEET.splitlines()[1:-3]:
        name, _, value = line.partition(":")
        sheet.append([f"{name}:", value.strip()])
    sheet.append(["spline", "shoulder", "looks", "middle", "nut-end"])
    sheet.append([1, 5.98, "worn", 5.96, 5.98])
    sheet.append([2, 5.97, None, None, "about 5.98"])
    sheet.append([3, None, None, None, None])
    file = tmp_path / "from Tom.xlsx"
    book.save(file)
    report = add_files(store, [file], added_on=LATE)
    assert readings(report) == (4, 0, 1), problems(report)
    (told,) = problems(report)
    assert "'about 5.98' is no number" in told


@pytest.mark.parametrize(
    ("pasted", "plain"),
    [
        ("a\u00a0b", "a b"),
        ("5\u202f980", "5\u202f980"),
        ('1;"a;b";\u201cc\u201d', '1;"a;b";c'),
        ("remark: \u201ca; b\u201d", "remark: \u201ca; b\u201d"),
        ('remark: say "a" and "b"', 'remark: say "a" and "b"'),
        ("> > 1;2\r\n", "1;2\r\n"),
        ("a > b", "a > b"),
    ],
)
def test_pasted_text_is_read_as_it_was_meant(pasted: str, plain: str) -> None:
    assert plain_text(pasted) == plain
    assert plain_text(plain) == plain
