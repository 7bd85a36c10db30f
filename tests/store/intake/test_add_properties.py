"""Whatever a file holds, every row of it is accounted for; and how it was read makes no difference."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.store.support.small_store import LOADED_ON, contents, make_store
from wearstats.errors import InputError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import FileReport
from wearstats.store.kept_out.files import list_rejects
from wearstats.store.parsing.blocks import text_blocks

# the store is the same file for all examples: each is an intake more
ON_ONE_STORE = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

ODD = ["", " ", "nan", "1e308", "-5", "5,98", "1,234", "'=1+1", "31/02/2026", "ten under", "=2+2", "\u00fc", "5.98 mm"]
PLACES = st.sampled_from(["I1", "I2", " I1", "I99", "", *ODD])
SPLINES = st.sampled_from(["1", "2", "8", "9", "64", "65", "1.0", "1.5", *ODD])
STATIONS = st.sampled_from(["shoulder", "middle", "nut-end", "Middle", "nowhere", *ODD])
WIDTHS = st.sampled_from(["5.981", "5.98", "5.9800", "5.973", "59.8", "0.2354", "201", "0", *ODD])
READINGS = st.lists(st.tuples(PLACES, SPLINES, STATIONS, WIDTHS), min_size=1, max_size=12)
HUBS = st.lists(
    st.tuples(
        st.sampled_from(["H1", "H2", "H3", "H4", *ODD]),
        st.sampled_from(["D8", "D9", ""]),
        st.sampled_from(["50", "50.0", "75", "5000", *ODD]),
        st.sampled_from(["", "12.5", *ODD]),
    ),
    min_size=1,
    max_size=12,
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def _written(header: str, rows: list[tuple[str, ...]], *, delimiter: str = ",") -> str:
    written = io.StringIO()
    csv.writer(written, delimiter=delimiter, lineterminator="\n").writerows([header.split(","), *rows])
    return written.getvalue()


def _accounted_for(store: Store, file: FileReport, rows: int, table: str, before: int) -> None:
    assert file.read == rows
    assert file.read == file.accepted + file.duplicate + file.conflict + file.rejected
    intake = store.value("select max(intake) from intakes")
    kept_out = list_rejects(store, settled=True)
    kept_out = kept_out[kept_out["intake"] == intake]
    assert sorted(kept_out["outcome"]) == ["conflict"] * file.conflict + ["rejected"] * file.rejected
    assert (kept_out["found"].str.len() > 0).all()
    assert store.value(f"select count(*) from {table}") - before == file.accepted


@ON_ONE_STORE
@given(rows=READINGS, delimiter=st.sampled_from([",", ";"]))
def test_every_row_of_readings_is_accounted_for(store: Store, rows: list[tuple[str, ...]], delimiter: str) -> None:
    filled = [row for row in rows if any(cell.strip() for cell in row)]
    before = store.value("select count(*) from readings")
    text = "readings\n" + _written("inspection,spline,station,width", rows, delimiter=delimiter)
    try:
        report = add_files(store, [], text=text, added_on=LOADED_ON)
    except InputError:
        # nothing but blank rows
        assert not filled
        return
    _accounted_for(store, report.files[0], len(filled), "readings", before)
    keys = "select count(*) - count(distinct (inspection, spline, station, trial)) from readings"
    assert store.value(keys) == 0
    assert store.value("select sum(n) from inspection_moments") == store.value("select count(*) from readings")


@ON_ONE_STORE
@given(rows=HUBS)
def test_every_row_of_a_table_with_a_key_is_accounted_for(store: Store, rows: list[tuple[str, ...]]) -> None:
    filled = [row for row in rows if any(cell.strip() for cell in row)]
    before = store.value("select count(*) from hubs")
    text = "hubs\n" + _written("hub,pattern,undersize_um,space_u_um", rows)
    try:
        report = add_files(store, [], text=text, added_on=LOADED_ON)
    except InputError:
        assert not filled
        return
    _accounted_for(store, report.files[0], len(filled), "hubs", before)


@ON_ONE_STORE
@given(rows=READINGS)
def test_the_same_file_again_brings_nothing(store: Store, rows: list[tuple[str, ...]]) -> None:
    text = "readings\n" + _written("inspection,spline,station,width", [("I1", "1", "middle", "5.981"), *rows])
    first = add_files(store, [], text=text, added_on=LOADED_ON).files[0]
    again = add_files(store, [], text=text, added_on=LOADED_ON).files[0]
    assert again.accepted == 0
    assert (again.rejected, again.read) == (first.rejected, first.read)
    assert again.duplicate >= first.accepted + first.duplicate


@ON_ONE_STORE
@given(text=st.text(max_size=200), name=st.sampled_from(["readings", "hubs", "letter"]))
def test_any_text_is_taken_or_refused_in_words(store: Store, text: str, name: str, tmp_path: Path) -> None:
    path = tmp_path / f"{name}.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        report = add_files(store, [path], added_on=LOADED_ON)
    except InputError as refused:
        problems, files = list(refused.problems), []
    else:
        problems, files = [], list(report.files)
    assert all(problem.place and problem.found for problem in problems)
    assert all(file.read >= 1 for file in files)


@given(
    rows=st.lists(st.lists(st.text(alphabet='ab,;"\n \t', max_size=4), min_size=3, max_size=3), min_size=1, max_size=5)
)
@settings(max_examples=100, deadline=None)
def test_cells_come_out_of_a_text_as_they_went_in(rows: list[list[str]]) -> None:
    text = _written("hub,pattern,undersize_um", [tuple(row) for row in rows])
    filled = [row for row in rows if any(cell.strip() for cell in row)]
    table = text_blocks("hubs\n" + text, place="x", table=None)[0]
    # a row that holds nothing but a table's name would begin a new block; none is drawn here
    assert [list(cells) for _, cells in table.rows] == filled


@pytest.mark.parametrize("name", ["readings", "hubs"])
def test_the_fast_reader_and_the_careful_one_bring_the_same(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = {
        "readings": _written(
            "inspection,spline,station,width,remark",
            [
                (place, spline, station, width, "dry, cold" if width == "5.98" else "")
                for place in ("I1", "I2", " I2 ", "I99")
                for spline in ("1", "2.0", "9")
                for station in ("shoulder", "nut-end", "nowhere")
                for width in ("5.98", "5.9800", "59.8", "5,98", "1,234", "", 'say "six"')
            ],
        ),
        "hubs": _written(
            "hub,pattern,undersize_um,shelf",
            [(f"H{n}", "D8", size, "top\nleft" if n % 2 else "'=1") for n in range(9) for size in ("50", "75,5", "x")],
        ),
    }
    path = tmp_path / f"{name}.csv"
    path.write_text(rows[name], encoding="utf-8")
    held = {}
    for reader, size in (("fast", 0), ("careful", 1 << 40)):
        for module in ("staging", "scan"):
            monkeypatch.setattr(f"wearstats.store.parsing.{module}.FAST_FROM_BYTES", size)
        with open_store(make_store(tmp_path / f"{reader}.duckdb"), write=True) as store:
            report = add_files(store, [path], added_on=LOADED_ON)
            kept_out = list_rejects(store).drop(columns="row_json").to_dict("records")
            held[reader] = (report.to_dict(), contents(store, intakes=True), kept_out)
    assert held["fast"] == held["careful"]
