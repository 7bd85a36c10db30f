"""The same key again: counted, kept out, or, when asked, put in place with the old row kept."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import contents, make_store
from wearstats.errors import InputError, UsageError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import FileReport, IntakeReport
from wearstats.store.kept_out.files import list_rejects

LATER = datetime.date(2026, 6, 1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def _add(store: Store, text: str, *, correct: bool = False, added_on: datetime.date = LATER) -> IntakeReport:
    return add_files(store, [], text=text, added_on=added_on, correct=correct)


def _counts(file: FileReport) -> tuple[int, int, int, int, int]:
    return file.read, file.accepted, file.duplicate, file.conflict, file.rejected


def _sums_hold(store: Store) -> None:
    """Moments and counts kept beside the readings are those of the readings."""
    moments = "select inspection, spline, station, count(*), sum(width_tenth_um), sum(width_tenth_um::bigint ** 2) "
    held = store.rows("select * from inspection_moments order by all")
    assert held == store.rows(f"{moments} from readings group by all order by all")
    counted = "select inspection, width_tenth_um, count(*) from readings join inspections using (inspection) "
    coarse = "join gauges using (gauge) where resolution_um >= 5 group by all order by all"
    assert store.rows("select * from reading_counts order by all") == store.rows(counted + coarse)


def test_the_same_content_again_is_recognised_and_counted(store: Store) -> None:
    text = "hubs\nhub,pattern,undersize_um\nH8,D8,75\nH9,D8,75\n"
    assert _counts(_add(store, text).files[0]) == (2, 2, 0, 0, 0)
    before = contents(store, intakes=True)
    again = _add(store, text)
    assert _counts(again.files[0]) == (2, 0, 2, 0, 0)
    assert again.notes == ("pasted text: the same content was added as pasted text on 2026-06-01 (intake 2)",)
    assert contents(store, intakes=True) == before


def test_numbers_written_in_another_way_are_the_same_row(store: Store) -> None:
    text = 'hubs\nhub,pattern,undersize_um,batch\nH1,D8,"50,0",B1\nH1,D8,+50.00,B1\n'
    assert _counts(_add(store, text).files[0]) == (2, 0, 2, 0, 0)


def test_a_file_without_a_column_says_nothing_about_it(store: Store) -> None:
    assert _counts(_add(store, "hubs\nhub,pattern,undersize_um\nH1,D8,50\n").files[0]) == (1, 0, 1, 0, 0)
    assert _counts(_add(store, "hubs\nhub,pattern,undersize_um,batch\nH1,D8,50,\n").files[0]) == (1, 0, 0, 1, 0)


def test_other_values_of_a_key_are_kept_out_and_told(store: Store) -> None:
    report = _add(store, "shafts\nshaft,pattern,region\nS1,D8,upland\n")
    assert _counts(report.files[0]) == (1, 0, 0, 1, 0)
    assert report.files[0].problems == (
        "pasted text, row 3, region: 'upland' where the store, from intake 1, has 'carr'; one row for each key; "
        "if this one is right, add it again with --correct",
    )
    assert store.rows("select region, intake from shafts") == [("carr", 1)]
    assert list_rejects(store)["outcome"].tolist() == ["conflict"]


def test_a_correction_keeps_the_old_row_in_the_history(store: Store) -> None:
    _add(store, "shafts\nshaft,pattern,region\nS1,D8,upland\n")
    report = _add(store, "shafts\nshaft,pattern,region\nS1,D8,upland\n", correct=True)
    assert _counts(report.files[0]) == (1, 1, 0, 0, 0)
    assert report.settled == 1
    assert store.rows("select engine, region, intake from shafts") == [("carr pump 1", "upland", 3)]
    assert store.rows("select engine, region, intake, replaced_by from history_shafts") == [
        ("carr pump 1", "carr", 1, 3)
    ]
    assert list_rejects(store).empty
    assert list_rejects(store, settled=True)["settled_by"].tolist() == [3]


def test_an_intake_of_a_day_before_the_last_is_refused(store: Store) -> None:
    text = "shafts\nshaft,pattern,region\nS1,D8,%s\n"
    _add(store, text % "upland", correct=True)
    early = LATER - datetime.timedelta(days=30)
    with pytest.raises(
        UsageError, match=rf"--as-of: {early} lies before {LATER}, the day of an earlier intake; .*later"
    ):
        _add(store, text % "saltings", correct=True, added_on=early)
    assert store.value("select region from shafts where shaft = 'S1'") == "upland"


def test_a_history_that_corrects_is_known_once_on_every_day(store: Store) -> None:
    text = "shafts\nshaft,pattern,region\nS1,D8,%s\n"
    _add(store, text % "upland", correct=True)
    add_files(store, [], text=text % "saltings", added_on=LATER, correct=True, bulk=True)
    add_files(store, [], text=READINGS + "I1,2,middle,5.975\n", added_on=LATER, correct=True, bulk=True)
    for days in (-31, -1, 0):
        on = {"on": LATER + datetime.timedelta(days=days)}
        assert store.rows("select region from known_shafts($on) where shaft = 'S1'", on) == [("saltings",)], days
        known = "select typed from known_readings($on) where inspection = 'I1' and spline = 2"
        assert store.rows(known, on) == [("5.975",)], days
    _sums_hold(store)


@pytest.mark.parametrize("correct", [False, True])
def test_the_first_row_of_a_key_speaks_for_the_file(store: Store, correct: bool) -> None:
    rows = "H9,D8,75\nH9,D8,75\nH9,D8,80\nH9,D8,75.0\n"
    report = _add(store, f"hubs\nhub,pattern,undersize_um\n{rows}", correct=correct)
    assert _counts(report.files[0]) == (4, 1, 2, 1, 0)
    assert "row 5, undersize_um: '80.0' where an earlier row of this intake has '75.0'" in report.files[0].problems[0]


READINGS = "readings\ninspection,spline,station,width\n"


def test_readings_again_are_duplicates_or_conflicts(store: Store) -> None:
    text = READINGS + "I1,1,middle,5.9810\nI1,2,middle,5.974\nI1,3,shoulder,5.970\nI1,3,shoulder,5.971\n"
    report = _add(store, text)
    assert _counts(report.files[0]) == (4, 1, 1, 2, 0)
    assert report.files[0].problems == (
        "pasted text, row 4, width: '5.974' where the store, from intake 1, has '5.973'; one width for each "
        "inspection, spline, station and trial; if this one is right, add it again with --correct",
        "pasted text, row 6, width: '5.971' where an earlier row of this intake has '5.970'; one width for each "
        "inspection, spline, station and trial; keep the right one",
    )
    _sums_hold(store)


def test_corrected_readings_replace_and_the_sums_follow(store: Store) -> None:
    report = _add(store, READINGS + "I1,2,middle,5.974\nI1,3,middle,5.968\n", correct=True)
    assert _counts(report.files[0]) == (2, 1, 1, 0, 0)
    assert store.rows("select width_tenth_um, typed, intake from readings where inspection = 'I1' and spline = 2") == [
        (59740, "5.974", 2)
    ]
    assert store.rows("select width_tenth_um, typed, intake, replaced_by from history_readings") == [
        (59730, "5.973", 1, 2)
    ]
    _sums_hold(store)


def test_trials_are_readings_of_their_own(store: Store) -> None:
    rows = "I1,1,middle,1,5.981\nI1,1,middle,2,5.979\nI1,1,middle,3,5.98\n"
    text = f"readings\ninspection,spline,station,trial,width\n{rows}"
    assert _counts(_add(store, text).files[0]) == (3, 2, 1, 0, 0)
    assert store.rows("select n, sum_tenth_um from inspection_moments where inspection = 'I1' and spline = 1") == [
        (3, 59810 + 59790 + 59800)
    ]
    _sums_hold(store)


def test_several_trials_of_new_inspections_are_summed(store: Store) -> None:
    head = "inspection,shaft,measured_on,measured_by,measured_at,gauge,unit\nI7,S1,2026-05-01,w,workshop,G7,mm\n"
    gauge = "gauges\ngauge,kind,unit,resolution\nG7,caliper,mm,0.01\n"
    readings = "".join(f"I7,{spline},middle,{trial},5.9{trial}\n" for spline in (1, 2, 3) for trial in (7, 8))
    text = f"{gauge}\ninspections\n{head}\nreadings\ninspection,spline,station,trial,width\n{readings}"
    assert _add(store, text).kept_out == 0
    assert store.rows("select width_tenth_um, n from reading_counts order by all") == [(59700, 3), (59800, 3)]
    _sums_hold(store)


def test_a_corrected_unit_reads_the_sizes_anew(store: Store) -> None:
    inches = "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit,major\n"
    text = f"{inches}I7,S1,2026-05-01,w,workshop,G1,thou,1416\n\n{READINGS}I7,1,middle,235.5\nI7,2,middle,235\n"
    assert _add(store, text).kept_out == 0
    report = _add(
        store,
        "inspections\n" + inches.splitlines()[1].removesuffix(",major") + "\n"
        "I7,S1,2026-05-01,w,workshop,G1,tenth-thou\n",
        correct=True,
    )
    # 1416 tenths of a thou are no major diameter of D8: the correction itself is refused
    assert _counts(report.files[0]) == (1, 0, 0, 0, 1)
    assert "row 3, major: '1416' is far from D8's 36.000 mm" in report.files[0].problems[0]
    assert store.rows("select unit, major_mm from inspections where inspection = 'I7'") == [("thou", 35.9664)]


def test_readings_follow_a_corrected_unit(store: Store) -> None:
    head = "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
    text = f"{head}I7,S9,2026-05-01,w,workshop,G1,mm\n\n{READINGS}I7,1,middle,0.2355\nI7,2,middle,0.2350\n"
    assert _add(store, text).kept_out == 0
    assert _add(store, f"{head}I7,S9,2026-05-01,w,workshop,G1,in\n", correct=True).kept_out == 0
    assert store.rows("select width_tenth_um, typed, intake from readings where inspection = 'I7' order by all") == [
        (59690, "0.2350", 3),
        (59817, "0.2355", 3),
    ]
    assert store.rows("select count(*) from history_readings where replaced_by = 3") == [(2,)]
    early, late = "date '2026-06-01'", "date '2026-06-02'"
    assert store.rows(f"select count(*) from known_readings({early}) where inspection = 'I7'") == [(2,)]
    assert store.rows(
        f"select sum_tenth_um from known_inspection_moments({late}) where inspection = 'I7' order by 1"
    ) == [
        (59690,),
        (59817,),
    ]
    _sums_hold(store)


def test_a_unit_that_the_readings_cannot_have_stops_the_intake(store: Store) -> None:
    head = "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
    text = f"{head}I7,S9,2026-05-01,w,workshop,G1,thou\n\n{READINGS}I7,1,middle,235.5\n"
    assert _add(store, text).kept_out == 0
    before = contents(store, intakes=True)
    told = r"inspection I7, unit: its readings stand in in now, and '235\.5' in is no size of a shaft"
    with pytest.raises(InputError, match=told):
        _add(store, f"{head}I7,S9,2026-05-01,w,workshop,G1,in\n", correct=True)
    assert contents(store, intakes=True) == before


def test_a_unit_beside_readings_must_be_the_inspections(store: Store) -> None:
    text = "readings\ninspection,spline,station,width,unit\nI1,1,nut-end,5.98,mm\nI1,2,nut-end,5.98,in\n"
    report = _add(store, text)
    assert _counts(report.files[0]) == (2, 1, 0, 0, 1)
    assert "row 4, unit: 'in' where inspection I1 is in mm; mm; correct the unit" in report.files[0].problems[0]


def test_mended_rejects_are_settled_by_number_or_by_key(store: Store) -> None:
    _add(store, READINGS + "I1,1,nut-end,59.8\nI1,2,nutend,5.98\n")
    assert list_rejects(store)["reject"].tolist() == [1, 2]
    by_number = "readings\nreject,inspection,spline,station,width,reject_found\n2,I1,2,nut-end,5.98,whatever\n"
    assert _add(store, by_number).settled == 1
    assert list_rejects(store)["reject"].tolist() == [1]
    assert _add(store, READINGS + "I1,1,nut-end,5.98\n").settled == 1
    assert list_rejects(store).empty
    assert store.rows("select * from notes") == []
