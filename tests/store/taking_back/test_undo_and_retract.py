"""What is taken back is gone from its day on, stays on earlier days, and comes back whole when that is taken back."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import contents, make_store
from wearstats.errors import InputError, UsageError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.kept_out.files import list_rejects
from wearstats.store.taking_back.retract import retract
from wearstats.store.taking_back.undo import intake_named, undo

ADDED = datetime.date(2026, 6, 1)
TAKEN = datetime.date(2026, 7, 1)
SHEET = (
    "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
    "I7,S1,2026-05-01,owner-1,home,G1,mm\n\n"
    "readings\ninspection,spline,station,width\nI7,1,middle,5.975\nI7,2,middle,5.966\n"
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def _known(store: Store, table: str, on: datetime.date) -> list[tuple[object, ...]]:
    return store.rows(f"select * exclude (intake) from known_{table}($on) order by all", {"on": on})


def _moments(store: Store, on: datetime.date) -> list[tuple[object, ...]]:
    return store.rows("select * from known_inspection_moments($on) order by all", {"on": on})


def test_an_undone_file_leaves_the_store_as_it_was(store: Store) -> None:
    before = contents(store)
    add_files(store, [], text=SHEET, added_on=ADDED)
    after, moments = contents(store), _moments(store, ADDED)
    report = undo(store, 2, on=TAKEN, because="wrong shaft")
    assert (report.out, report.back) == ({"inspections": 1, "readings": 2}, {})
    assert contents(store) == before
    # the day before it was taken back is answered as it was
    assert _moments(store, ADDED) == moments
    assert len(_known(store, "readings", TAKEN - datetime.timedelta(days=1))) == 18
    assert len(_known(store, "readings", TAKEN)) == 16
    # and taken back in turn, it is all there again
    undo(store, report.intake, on=TAKEN)
    assert contents(store) == after
    assert _moments(store, TAKEN) == moments


def test_an_undone_correction_gives_the_old_row_back(store: Store) -> None:
    before = contents(store)
    text = "shafts\nshaft,pattern,region\nS1,D8,upland\n\nreadings\ninspection,spline,station,width\nI1,1,middle,5.99\n"
    add_files(store, [], text=text, added_on=ADDED, correct=True)
    report = undo(store, 2, on=TAKEN)
    assert report.back == {"shafts": 1, "readings": 1}
    assert contents(store) == before
    early = TAKEN - datetime.timedelta(days=1)
    assert store.rows("select region from known_shafts($on)", {"on": early}) == [("upland",)]
    assert store.rows("select region from known_shafts($on)", {"on": TAKEN}) == [("carr",)]
    assert (1, "middle", 59900) in [row[1:3] + row[4:5] for row in _moments(store, early)]


def test_what_later_intakes_rest_on_is_not_taken_from_them(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=ADDED)
    add_files(store, [], text="readings\ninspection,spline,station,width\nI7,3,middle,5.97\n", added_on=ADDED)
    before = contents(store, intakes=True)
    told = r"intake 2: 1 reading of other intakes rests on it: reading I7, 3, middle, 1; .*with --with-all"
    with pytest.raises(InputError, match=told):
        undo(store, 2, on=TAKEN)
    assert contents(store, intakes=True) == before
    assert undo(store, 2, on=TAKEN, with_all=True).out == {"inspections": 1, "readings": 3}


def test_a_row_that_was_corrected_since_is_named(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=ADDED)
    text = "readings\ninspection,spline,station,width\nI7,1,middle,5.99\n"
    add_files(store, [], text=text, added_on=ADDED, correct=True)
    with pytest.raises(
        InputError, match=r"intake 2, readings: 1 of its rows was corrected by intake 3; .*store undo 3"
    ):
        undo(store, 2, on=TAKEN)
    assert undo(store, 2, on=TAKEN, with_all=True).out == {"inspections": 1, "readings": 2}
    assert store.value("select count(*) from readings where inspection = 'I7'") == 0


def test_it_is_undone_once_and_by_the_name_of_its_file(store: Store, tmp_path: Path) -> None:
    (tmp_path / "sheet.txt").write_text(SHEET)
    add_files(store, [tmp_path / "sheet.txt"], added_on=ADDED)
    assert intake_named(store, "sheet.txt") == 2
    undo(store, 2, on=TAKEN)
    with pytest.raises(UsageError, match=r"intake 2 was taken back already, by intake 3; .*store undo 3"):
        undo(store, 2, on=TAKEN)
    with pytest.raises(UsageError, match="came in intake 2, which intake 3 has taken back already"):
        intake_named(store, "sheet.txt")
    with pytest.raises(UsageError, match="there is no intake 9; numbers 1 to 3"):
        intake_named(store, "9")
    with pytest.raises(UsageError, match="no intake brought a file"):
        intake_named(store, "other.txt")
    undo(store, 3, on=TAKEN)
    assert intake_named(store, "sheet.txt") == 2


def test_the_same_file_stays_out_and_a_mended_one_comes_in(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=ADDED)
    undo(store, 2, on=TAKEN)
    report = add_files(store, [], text=SHEET, added_on=TAKEN)
    assert [(file.accepted, file.duplicate) for file in report.files] == [(0, 1), (0, 2)]
    assert any("1 row was retracted on 2026-07-01 (intake 3)" in note for note in report.notes)
    assert any("2 rows were retracted on 2026-07-01 (intake 3)" in note for note in report.notes)
    mended = add_files(store, [], text=SHEET.replace("5.966", "5.967"), added_on=TAKEN)
    assert [(file.accepted, file.duplicate) for file in mended.files] == [(1, 0), (2, 0)]


def test_rejects_mended_by_what_is_undone_are_open_again(store: Store) -> None:
    head = "readings\ninspection,spline,station,width\n"
    add_files(store, [], text=head + "I1,1,nut-end,59.8\n", added_on=ADDED)
    assert add_files(store, [], text=head + "I1,1,nut-end,5.98\n", added_on=ADDED).settled == 1
    assert list_rejects(store).empty
    report = undo(store, 3, on=TAKEN)
    assert (report.reopened, list_rejects(store)["reject"].tolist()) == (1, [1])
    undo(store, report.intake, on=TAKEN)
    assert list_rejects(store).empty


def test_a_conflict_is_open_again_when_the_correction_that_mended_it_is_undone(store: Store) -> None:
    text = "hubs\nhub,pattern,undersize_um\nH1,D8,75\n"
    assert add_files(store, [], text=text, added_on=ADDED).files[0].conflict == 1
    assert add_files(store, [], text=text, added_on=ADDED, correct=True).settled == 1
    report = undo(store, 3, on=TAKEN)
    # the hub is as it was, and so is what contradicted it
    assert store.value("select undersize_um from hubs where hub = 'H1'") == 50
    assert (report.reopened, list_rejects(store)["reject"].tolist()) == (1, [1])
    undo(store, report.intake, on=TAKEN)
    assert list_rejects(store).empty


def test_rejects_of_what_is_undone_are_closed(store: Store) -> None:
    add_files(store, [], text="hubs\nhub,pattern,undersize_um\nH8,D8,50\nH9,D8,9999\n", added_on=ADDED)
    assert len(list_rejects(store)) == 1
    report = undo(store, 2, on=TAKEN)
    assert (report.closed, len(list_rejects(store))) == (1, 0)
    assert undo(store, report.intake, on=TAKEN).reopened == 1
    assert len(list_rejects(store)) == 1


def test_how_far_outcomes_are_complete_goes_with_its_intake(store: Store) -> None:
    add_files(store, [], added_on=ADDED, complete_to=ADDED)
    stated = "select max(complete_to) from known_complete_to($on)"
    report = undo(store, 2, on=TAKEN)
    assert store.value(stated, {"on": TAKEN - datetime.timedelta(days=1)}) == ADDED
    assert store.value(stated, {"on": TAKEN}) is None
    undo(store, report.intake, on=TAKEN)
    assert store.value(stated, {"on": TAKEN}) == ADDED


def test_an_inspection_goes_with_its_readings_and_what_mentions_it_is_told(store: Store) -> None:
    report = retract(store, "inspections", ["I1"], on=TAKEN)
    assert report.out == {"inspections": 1, "readings": 8}
    assert report.left_behind == (
        "dispatch H1, 2026-01-10 still names inspection I1 that is gone",
        "fitting F1 still names inspection I1 that is gone",
        "fitting F2 still names inspection I1;I2 that is gone",
    )
    assert store.value("select count(*) from inspection_moments where inspection = 'I1'") == 0
    undo(store, report.intake, on=TAKEN)
    assert store.value("select sum(n) from inspection_moments where inspection = 'I1'") == 8


def test_what_rests_on_a_row_is_counted_before_it_goes(store: Store) -> None:
    with pytest.raises(InputError, match=r"fitting F1: 2 follow-ups rest on it; .*--with-all"):
        retract(store, "fittings", ["F1"], on=TAKEN)
    report = retract(store, "fitting", ["F1"], on=TAKEN, with_all=True)
    assert report.out == {"fittings": 1, "follow_ups": 2}
    assert report.left_behind == ("return H1, 2026-03-30 still names fitting F1 that is gone",)


def test_a_retracted_row_does_not_come_back_by_itself(store: Store) -> None:
    retract(store, "follow_ups", ["F1", "2026-03-18"], on=TAKEN)
    row = "follow_ups\nfitting,seen_on,state,cause\nF1,2026-03-18,loose,flanks\n"
    report = add_files(store, [], text=row, added_on=TAKEN)
    assert (report.files[0].duplicate, report.files[0].accepted) == (1, 0)
    assert "1 row was retracted on 2026-07-01 (intake 2) and counted as duplicate" in report.notes[-1]
    # with other values it is another statement, and with --again the same one counts
    other = add_files(store, [], text=row.replace("loose,flanks", "tight,"), added_on=TAKEN)
    assert other.files[0].accepted == 1
    undo(store, other.intake, on=TAKEN)
    assert add_files(store, [], text=row, added_on=TAKEN, again=True).files[0].accepted == 1


def test_retracted_readings_do_not_come_back_by_themselves(store: Store) -> None:
    retract(store, "readings", ["I1", "2", "middle"], on=TAKEN)
    text = "readings\ninspection,spline,station,width\nI1,2,middle,5.973\nI1,1,middle,5.981\nI1,2,shoulder,5.97\n"
    report = add_files(store, [], text=text, added_on=TAKEN)
    assert (report.files[0].duplicate, report.files[0].accepted) == (2, 1)
    assert any("1 row was retracted" in note for note in report.notes)
    assert add_files(store, [], text=text, added_on=TAKEN, again=True).files[0].accepted == 1


def test_readings_of_a_retracted_inspection_stay_out(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=ADDED)
    retract(store, "inspections", ["I7"], on=TAKEN)
    report = add_files(store, [], text=SHEET + "I7,3,middle,5.97\n", added_on=TAKEN)
    counts = [(file.duplicate, file.accepted, file.conflict) for file in report.files]
    assert counts == [(1, 0, 0), (2, 0, 1)]
    assert "'5.97' of inspection I7, which was retracted" in report.files[1].problems[0]
    again = add_files(store, [], text=SHEET + "I7,3,middle,5.97\n", added_on=TAKEN, again=True)
    assert [file.accepted for file in again.files] == [1, 3]


def test_a_wrong_day_in_a_key_is_put_right_by_one_intake(store: Store) -> None:
    report = retract(store, "follow_ups", ["F1", "2026-02-20"], on=TAKEN, instead={"seen_on": "2026-02-21"})
    assert (report.out, report.back) == ({"follow_ups": 1}, {"follow_ups": 1})
    assert store.rows("select seen_on::varchar, state, intake from follow_ups where state = 'tight'") == [
        ("2026-02-21", "tight", report.intake)
    ]
    with pytest.raises(InputError, match=r"--instead: .*seen_on: '2026-02-30'"):
        retract(store, "follow_ups", ["F1", "2026-03-18"], on=TAKEN, instead={"seen_on": "2026-02-30"})
    assert store.value("select count(*) from follow_ups") == 2


@pytest.mark.parametrize(
    ("table", "key", "told"),
    [
        ("follow_ups", ["F1"], "KEY: F1 names no row of follow_ups; allowed: its fitting, seen_on, in this order"),
        ("follow_ups", ["F1", "2026-02-02"], "no follow-up F1, 2026-02-02; of that name there are: F1 2026-02-20; "),
        ("follow_ups", ["F1", "yesterday"], "no follow-up F1, yesterday; of that name"),
        ("hubs", ["H77"], "KEY: there is no hub H77; its key is hub"),
        ("screws", ["1"], "TABLE: there is no table 'screws'; allowed: patterns, "),
    ],
)
def test_a_row_that_is_not_there_is_told(store: Store, table: str, key: list[str], told: str) -> None:
    with pytest.raises(UsageError) as refused:
        retract(store, table, key, on=TAKEN)
    assert told in str(refused.value)


def test_what_is_out_already_is_told(store: Store) -> None:
    retract(store, "returns", ["H1", "2026-03-30"], on=TAKEN)
    with pytest.raises(UsageError, match="no return H1, 2026-03-30 any more: intake 2 took it out on 2026-07-01"):
        retract(store, "returns", ["H1", "2026-03-30"], on=TAKEN)


def test_nothing_is_taken_back_of_a_day_before_the_last(store: Store) -> None:
    add_files(store, [], text=SHEET, added_on=ADDED)
    with pytest.raises(UsageError, match="lies before 2026-06-01"):
        undo(store, 2, on=ADDED - datetime.timedelta(days=1))
