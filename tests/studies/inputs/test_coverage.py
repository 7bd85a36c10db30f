"""Up to which day anything is on record, and what is said of the days after it."""

import datetime
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from tests.studies.support.fitting_store import make_store, plain_frames, shelf_counted
from wearstats.analysis.histories.records_end import OutcomesEnd
from wearstats.cli.main import app
from wearstats.report.remarks.say import say
from wearstats.store.database.connection import create_store, open_store
from wearstats.studies.inputs.coverage import ends_early, outcomes_end, record_end
from wearstats.studies.snapshot import Snapshot


@pytest.mark.parametrize(
    ("as_of", "end"),
    [
        ("2023-12-19", None),
        ("2023-12-31", "2023-12-20"),
        ("2024-02-10", "2024-02-01"),
        ("2024-05-31", "2024-02-01"),
        ("2025-12-31", "2025-03-01"),
    ],
)
def test_the_last_day_of_which_anything_was_known(tmp_path: Path, as_of: str, end: str | None) -> None:
    path = make_store(tmp_path / "s.duckdb", plain_frames())
    with open_store(path) as store:
        found = record_end(Snapshot(store=store, known_on=datetime.date.fromisoformat(as_of)))
    assert (None if found is None else found.isoformat()) == end


def test_a_count_of_the_shelf_is_on_record_too(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb", plain_frames() | shelf_counted("2025-06-30"))
    with open_store(path) as store:
        assert record_end(Snapshot(store=store, known_on=datetime.date(2025, 12, 31))) == datetime.date(2025, 6, 30)


def test_of_an_empty_store_nothing_is_said(tmp_path: Path) -> None:
    create_store(tmp_path / "s.duckdb")
    with open_store(tmp_path / "s.duckdb") as store:
        assert record_end(Snapshot(store=store, known_on=datetime.date(2026, 1, 1))) is None
    assert ends_early(None, as_of=datetime.date(2026, 1, 1)) is None


def test_a_quiet_month_is_no_end() -> None:
    end = datetime.date(2026, 3, 1)
    assert ends_early(end, as_of=datetime.date(2026, 4, 1)) is None
    told = ends_early(end, as_of=datetime.date(2026, 4, 2))
    assert told is not None
    assert "of the 32 days from then to 2026-04-02 nothing is on record" in say(told)


def test_every_question_says_where_the_records_end(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb", plain_frames())
    asked = ["loosening", "--store", str(path), "--as-of"]
    # pauses of 31, 121 and 273 days: a stream has ended 106 days after its last outcome on average
    told = CliRunner().invoke(app, [*asked, "2025-12-31"])
    assert "on record up to about 2025-06-15 (last word 2025-03-01); the 199 days since then are not counted" in (
        " ".join(told.stderr.split())
    )
    assert "by about 2025-06-15, where the records end" in " ".join(told.stdout.split())
    early = CliRunner().invoke(app, [*asked, "2025-03-20"])
    assert "on record up to" not in early.stderr
    assert "where the records end" not in early.stdout


def _end(path: Path, as_of: str) -> OutcomesEnd:
    with open_store(path) as store:
        return outcomes_end(Snapshot(store=store, known_on=datetime.date.fromisoformat(as_of)))


def test_a_count_of_the_shelf_is_no_outcome(tmp_path: Path) -> None:
    months = [f"2025-{month:02d}-28" for month in range(1, 13)]
    path = make_store(tmp_path / "s.duckdb", plain_frames() | shelf_counted(*months))
    assert _end(path, "2025-12-31").day == datetime.date(2025, 6, 15)


def test_outcomes_reach_no_further_than_the_intake_that_brought_them(tmp_path: Path) -> None:
    # the shelf is counted every month, outcomes are entered twice a year: the last time on 5 March
    path = make_store(tmp_path / "s.duckdb", plain_frames() | shelf_counted("2025-07-28"))
    with open_store(path, write=True) as store:
        store.execute("update intakes set bulk = false, added_on = date '2025-03-05'")
        store.execute(
            "insert into intakes by name select * replace (2 as intake, date '2025-07-28' as added_on) from intakes"
        )
        store.execute("update stock_counts set intake = 2")
    assert _end(path, "2025-12-31") == OutcomesEnd(
        day=datetime.date(2025, 3, 5), last=datetime.date(2025, 3, 1), stated=False
    )
    assert _end(path, "2025-03-01").day == datetime.date(2025, 3, 1)


def test_a_stated_day_holds_until_outcomes_come_in_later(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb", plain_frames())
    add = ["store", "add", "--store", str(path), "--as-of"]
    said = CliRunner().invoke(app, [*add, "2025-10-05", "--complete-to", "2025-09-30"])
    assert said.exit_code == 0, said.stderr
    assert "complete up to 2025-09-30" in said.stdout
    info = CliRunner().invoke(app, ["store", "info", "--store", str(path), "--as-of", "2026-01-01"])
    assert "what became of hubs is complete up to 2025-09-30" in " ".join(info.stdout.split())
    assert _end(path, "2025-12-31").day == datetime.date(2025, 9, 30)
    assert _end(path, "2025-12-31").stated
    # not known before it was said, nor further than the day asked about
    assert _end(path, "2025-10-04").day == datetime.date(2025, 6, 15)
    assert "complete up to 2025-09-30, as stated" in " ".join(
        CliRunner().invoke(app, ["loosening", "--store", str(path), "--as-of", "2025-12-31"]).stderr.split()
    )
    news = tmp_path / "follow_ups.csv"
    news.write_text("fitting,seen_on,state,prompted\nF1,2025-11-20,tight,asked\n", encoding="utf-8")
    assert CliRunner().invoke(app, [*add, "2025-11-25", str(news)]).exit_code == 0
    assert _end(path, "2025-12-31") == OutcomesEnd(
        day=datetime.date(2025, 11, 25), last=datetime.date(2025, 11, 20), stated=False
    )


def test_a_day_to_come_and_nothing_at_all_are_refused(tmp_path: Path) -> None:
    create_store(tmp_path / "s.duckdb")
    add = ["store", "add", "--store", str(tmp_path / "s.duckdb"), "--as-of", "2025-10-05"]
    ahead = CliRunner().invoke(app, [*add, "--complete-to", "2025-10-06"])
    assert (ahead.exit_code, "still to come on 2025-10-05" in ahead.stderr) == (2, True)
    assert CliRunner().invoke(app, add).exit_code == 2
    # it would be the first intake, and the first load then no first load
    alone = CliRunner().invoke(app, [*add, "--complete-to", "2025-10-05"])
    assert (alone.exit_code, "the store is empty" in alone.stderr) == (2, True)


def test_a_region_that_went_silent_ends_by_itself(tmp_path: Path) -> None:
    frames = plain_frames()
    shafts = frames["shafts"].assign(region=["carr" if n < 20 else "upland" for n in range(42)])
    days = pd.date_range("2025-01-05", "2025-12-28", freq="7D").strftime("%Y-%m-%d")
    rows = [(f"F{n}", day, "tight", "asked", None) for day in days for n in (1, 21) if n == 1 or day < "2025-05-01"]
    told = pd.DataFrame(rows, columns=["fitting", "seen_on", "state", "prompted", "cause"])
    path = make_store(tmp_path / "s.duckdb", frames | {"shafts": shafts, "follow_ups": told})
    end = _end(path, "2025-12-31")
    # weeks of seven days: half of one after the last word
    assert end.day == datetime.date(2025, 12, 31)
    assert end.by_region == {"upland": datetime.date(2025, 5, 1)}
