"""store check, backup, restore, export: exit codes, sentences, JSON, and what they refuse."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import duckdb
import pytest
from typer.testing import CliRunner, Result

from tests.store.support.small_store import make_store, small_rows
from wearstats.cli.main import app
from wearstats.store.checks import CHECKS


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_store(tmp_path_factory.mktemp("made") / "small.duckdb")


@pytest.fixture
def path(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made, tmp_path))


def _run(store: Path, *arguments: str | Path) -> Result:
    said = [str(argument) for argument in arguments]
    return CliRunner().invoke(app, ["--store", str(store), "--as-of", "2026-06-01", "store", *said])


def test_check_finds_nothing_where_nothing_is_wrong(path: Path) -> None:
    ran = _run(path, "check")
    assert ran.exit_code == 0
    # one more needs the fitted model, and one looks at the files of photos
    assert ran.stdout == f"{len(CHECKS) + 2} checks made, nothing found.\n"
    document = json.loads(_run(path, "check", "--json").stdout)
    assert document["answer"] == "store check"
    assert document["as_of"] == "2026-06-01"
    assert document["findings"] == []
    assert document["checks"] == [*CHECKS, "photo_files", "unlike_all_others"]


def test_check_lists_what_it_finds_and_ends_with_6(tmp_path: Path) -> None:
    rows = small_rows()
    rows["follow_ups"].append({"fitting": "F2", "seen_on": "2026-03-01", "state": "tight"})
    path = make_store(tmp_path / "small.duckdb", rows)
    ran = _run(path, "check")
    assert ran.exit_code == 6
    assert ran.stdout == "fitting F2: tight on 2026-03-01, but fitted on 2026-03-25; correct one of the dates\n"
    assert ran.stderr.endswith(f"1 finding of {len(CHECKS) + 2} checks\n")
    ran = _run(path, "check", "--json")
    assert ran.exit_code == 6
    assert json.loads(ran.stdout)["findings"] == [
        {
            "check": "follow_ups_before_fitting",
            "place": "fitting F2",
            "found": "tight on 2026-03-01, but fitted on 2026-03-25",
            "next_step": "correct one of the dates",
        }
    ]


def test_backup_and_restore(path: Path, tmp_path: Path) -> None:
    saved = tmp_path / "saved.duckdb"
    ran = _run(path, "backup", saved)
    assert ran.exit_code == 0
    assert ran.stdout.startswith(f"{path} is saved in {saved}: ")
    again = _run(path, "backup", saved)
    assert again.exit_code == 4
    assert "is there already" in again.stderr
    assert _run(path, "backup", saved, "--force").exit_code == 0
    path.unlink()
    ran = _run(path, "restore", saved, "--json")
    assert ran.exit_code == 0
    document = json.loads(ran.stdout)
    assert (document["answer"], document["to"]) == ("store restore", str(path))
    refused = _run(path, "restore", saved)
    assert refused.exit_code == 4
    assert "--force" in refused.stderr
    assert _run(path, "restore", saved, "--force").stdout.startswith(f"{path} is as {saved} was: ")
    assert _run(path, "check").exit_code == 0


def test_export(path: Path, tmp_path: Path) -> None:
    ran = _run(path, "export", tmp_path / "out")
    assert ran.exit_code == 0
    assert "readings: 16 rows\n" in ran.stdout
    assert ran.stdout.endswith(f"Written to {tmp_path / 'out'}.\n")
    assert _run(path, "export", tmp_path / "out").exit_code == 4
    document = json.loads(_run(path, "export", tmp_path / "out", "--xlsx", "--json").stdout)
    assert document["answer"] == "store export"
    assert document["to"] == str(tmp_path / "out.xlsx")
    assert document["rows"]["readings"] == 16


@pytest.mark.parametrize(
    "arguments", [["check"], ["backup", "saved.duckdb"], ["restore", "none.duckdb"], ["export", "out"]]
)
def test_without_a_store_they_say_so(tmp_path: Path, arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    ran = _run(tmp_path / "missing.duckdb", *arguments)
    assert ran.exit_code == 4
    assert "there is no s" in ran.stderr
    assert list(tmp_path.iterdir()) == []


def test_rows_kept_out_are_dismissed_by_number_or_all(tmp_path: Path) -> None:
    store = make_store(tmp_path / "bench.duckdb")
    (tmp_path / "hubs.csv").write_text("hub,pattern,undersize_um\nH7,D8,x\nH8,D8,y\nH9,D8,z\n")

    def ran(*arguments: str) -> Result:
        return CliRunner().invoke(app, ["store", *arguments, "--store", str(store)])

    assert ran("add", str(tmp_path / "hubs.csv")).exit_code == 3
    assert ran("rejects", "2").stdout.startswith("2 (hubs, rejected) hubs.csv, row 3, undersize_um: 'y'")
    dismissed = ran("rejects", "--dismiss", "2", "--because", "never made")
    assert dismissed.exit_code == 0
    assert "1 dismissed (never made); list them with: wearstats store rejects --settled" in dismissed.stderr
    assert [line.split()[0] for line in dismissed.stdout.splitlines()] == ["1", "3"]
    assert ran("rejects", "--dismiss", "2").exit_code == 2
    assert "dismissed: never made" in ran("rejects", "--settled").stdout
    document = json.loads(ran("rejects", "--settled", "--json").stdout)
    assert [row["dismissed_because"] for row in document["rejects"]] == [None, "never made", None]
    assert ran("rejects", "--dismiss").stdout == "No rows are kept out.\n"
    assert ran("check").exit_code == 0


def test_a_history_counts_by_its_own_dates_after_a_first_mail(tmp_path: Path) -> None:
    store = make_store(tmp_path / "bench.duckdb")
    (tmp_path / "hubs.csv").write_text("hub,pattern,undersize_um\nH7,D8,50\n")
    ran = CliRunner().invoke(app, ["store", "add", str(tmp_path / "hubs.csv"), "--history", "--store", str(store)])
    assert ran.exit_code == 0
    with duckdb.connect(str(store), read_only=True) as connection:
        assert connection.execute("select bulk from intakes order by intake desc limit 1").fetchall() == [(True,)]
