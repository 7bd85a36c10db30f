"""The commands that take back and put names right, as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.store.support.small_store import make_store
from wearstats.cli import store_taking_back
from wearstats.cli.main import app
from wearstats.store.database.connection import open_store

DAY = "2026-07-01"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return make_store(tmp_path / "small.duckdb")


def _run(path: Path, *words: str, text: str | None = None) -> Result:
    return CliRunner().invoke(app, ["store", words[0], *words[1:], "--store", str(path), "--as-of", DAY], input=text)


def test_an_intake_is_listed_taken_back_and_listed_so(path: Path) -> None:
    assert _run(path, "add", "-", text="hubs\nhub,pattern,undersize_um\nH9,D8,75\n").exit_code == 0
    ran = _run(path, "undo", "2", "--because", "another shop's hub")
    assert ran.exit_code == 0, ran.output
    assert ran.stdout.splitlines() == [
        "Intake 2 is taken back (intake 3): hubs 1 no longer as they stood.",
        "To take this back in turn: wearstats store undo 3",
    ]
    listed = _run(path, "info").stdout
    assert "intake 2, 2026-07-01: pasted text: 1 of 1 row accepted; taken back by intake 3" in listed
    assert "intake 3, 2026-07-01: takes back intake 2 (another shop's hub)" in listed
    assert _run(path, "undo", "2").exit_code == 2


def test_what_is_left_behind_is_told_and_in_the_document(path: Path) -> None:
    ran = _run(path, "retract", "inspections", "I2", "--json")
    assert ran.exit_code == 0, ran.output
    document = json.loads(ran.stdout)
    assert (document["answer"], document["intake"], document["out"]) == (
        "store retract",
        2,
        {"inspections": 1, "readings": 8},
    )
    assert document["left_behind"] == ["fitting F2 still names inspection I1;I2 that is gone"]
    assert "fitting F2 still names inspection I1;I2 that is gone" in ran.stderr


def test_what_others_rest_on_stays_and_ends_with_3(path: Path) -> None:
    ran = _run(path, "retract", "shafts", "S1")
    assert ran.exit_code == 3
    assert "2 inspections, 16 readings, 2 fittings, 2 follow-ups rest on it" in " ".join(ran.stderr.split())
    assert _run(path, "retract", "shafts", "S1", "--with-all").exit_code == 0


def test_a_wrong_day_is_put_right(path: Path) -> None:
    ran = _run(path, "retract", "follow_ups", "F1", "2026-02-20", "--instead", "seen_on=2026-02-21")
    assert ran.exit_code == 0, ran.output
    assert "In their place: follow_ups 1." in ran.stdout
    assert _run(path, "retract", "follow_ups", "F1", "2026-02-21", "--instead", "seen_on").exit_code == 2


def test_look_alike_names_are_told_with_what_to_type(path: Path) -> None:
    ran = _run(path, "add", "-", text="shafts\nshaft,pattern\ns1,D8\nS 1,D8\nSl,D8\n\uff331,D8\nS2,D8\n")
    told = " ".join(ran.stderr.split())
    for name in ("s1", "S 1", "Sl", "\uff331"):
        assert f"'{name}' looks like 'S1', which is known (shafts)" in told
    assert 'if they are the same: wearstats store merge shafts "s1" "S1"' in told
    assert "'S2' looks" not in told
    assert _run(path, "merge", "shafts", "s1", "S1").exit_code == 0
    listed = _run(path, "info", "--names").stdout
    assert "s1 stands for S1 since intake 3 (shaft)" in listed
    assert "Sl looks like S1 (shafts); if it is the same: wearstats store merge shafts" in listed


def test_at_a_terminal_one_key_says_that_they_are_the_same(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store_taking_back, "at_a_terminal", lambda: True)
    sheet = path.with_name("shafts.csv")
    sheet.write_text("shaft,pattern\ns1,D8\n")
    ran = _run(path, "add", str(sheet), text="y\n")
    assert "s1 stands for S1 now (intake 3)" in ran.stderr
    with open_store(path) as store:
        assert store.rows("select shaft from shafts") == [("S1",)]


@pytest.mark.parametrize(
    "words", [("add", "x.csv"), ("undo", "1"), ("retract", "hubs", "H1"), ("rename", "hubs", "H1", "H9")]
)
def test_nothing_is_written_of_a_day_to_come(path: Path, words: tuple[str, ...]) -> None:
    ran = CliRunner().invoke(app, ["store", *words, "--store", str(path), "--as-of", "2099-01-01"])
    assert ran.exit_code == 2
    assert "--as-of: 2099-01-01 is still to come" in " ".join(ran.output.split())
