"""Up to which day anything is on record, and what is said of the days after it."""

import datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.studies.support.fitting_store import make_store, plain_frames, shelf_counted
from wearstats.cli.main import app
from wearstats.report.remarks.say import say
from wearstats.store.database.connection import create_store, open_store
from wearstats.studies.inputs.coverage import ends_early, record_end
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
    assert say(told).endswith("--as-of 2026-03-01")


def test_every_question_says_where_the_records_end(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb", plain_frames())
    asked = ["loosening", "--store", str(path), "--as-of"]
    assert "the records end on 2025-03-01" in CliRunner().invoke(app, [*asked, "2025-12-31"]).stderr
    assert "the records end" not in CliRunner().invoke(app, [*asked, "2025-03-20"]).stderr
