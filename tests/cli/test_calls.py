"""The command calls: lists and files, and what it records."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from tests.studies.support.small_shops import no_prices, twelve_unheard
from wearstats.cli.main import app


@pytest.fixture(scope="module")
def unheard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("twelve")
    return twelve_unheard(folder / "shop.duckdb", folder)


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("thirty")
    return no_prices(folder / "shop.duckdb", folder)


def run(store: Path, *words: str) -> tuple[int, str, str]:
    ran = CliRunner().invoke(app, ["calls", "--store", str(store), "--as-of", "2026-02-01", *words])
    return ran.exit_code, ran.stdout, ran.stderr


def test_all_to_be_warned_are_named_and_a_warning_takes_one_off(known: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(known, tmp_path / "shop.duckdb"))
    code, said, _ = run(path, "--warn", "--json")
    before = json.loads(said)
    assert code == 0
    assert before["verdict_code"] == "calls-warn"
    assert before["figures"]["to_warn"] == len(before["calls"]) > 8
    first = before["calls"][0]
    code, said, noted = run(path, "--warned", first["shaft"], "--warn", "--json")
    assert code == 0
    assert "recorded: the owners of 1 hub were warned" in noted
    after = json.loads(said)
    assert after["figures"]["to_warn"] == before["figures"]["to_warn"] - 1
    assert after["figures"]["already_warned"] == before["figures"]["already_warned"] + 1
    assert first["shaft"] not in {row["shaft"] for row in after["calls"]}
    words = run(path, "--warn")[1].splitlines()
    assert sum(line.startswith("    owner-S") for line in words) == after["figures"]["to_warn"]


def test_the_file_has_the_list_that_was_asked_for(known: Path, tmp_path: Path) -> None:
    code, said, noted = run(known, "--warn", "--export", str(tmp_path / "warn.csv"))
    assert code == 0
    assert "written: " in noted
    read = pd.read_csv(tmp_path / "warn.csv")
    assert said.startswith(f"WHOM TO CALL?  {len(read)} to warn")
    assert read.columns[:4].tolist() == ["owner", "shaft", "fitting", "hub"]


def test_a_batch_is_asked_after_withdrawn_and_written(unheard: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(unheard, tmp_path / "shop.duckdb"))
    code, said, _ = run(path, "--batch", "B1")
    assert code == 0
    assert said.startswith("WHO HAS HUBS OF BATCH B1?  6 in use.")
    code, said, noted = run(path, "--batch", "B1", "--withdraw", "spaces too wide", "--export", str(tmp_path / "b.csv"))
    assert code == 0
    assert "recorded: batch B1 is withdrawn (spaces too wide)" in noted
    assert "Withdrawn on 2026-02-01: spaces too wide" in said
    assert len(pd.read_csv(tmp_path / "b.csv")) == 7
    document = json.loads(run(path, "--batch", "B1", "--json")[1])
    assert (document["answer"], document["withdrawn"]) == ("batch", True)
    assert run(path)[1].startswith("WHOM TO CALL?  6 to warn: stop and check; then 5 to ask how it holds.")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--batch", "B9"], "'B9' is not on record"),
        (["--batch", "B9", "--withdraw", "wide"], "'B9' is not on record"),
        (["--withdraw", "wide"], "of which batch? say it too: --batch NAME"),
        (["--batch", "B1", "--withdraw", " "], "no reason"),
        (["--warned", "S99"], "no hub on record was sent to 'S99'"),
    ],
)
def test_what_cannot_be_is_refused(unheard: Path, words: list[str], told: str) -> None:
    code, said, refused = run(unheard, *words)
    assert code == 2
    assert said == ""
    assert told in refused
