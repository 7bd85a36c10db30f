"""Answers without the names of people: the same numbers, and no name anywhere."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.cli.main import app
from wearstats.report.remarks.document import plain
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.store.nameless import NamelessStore
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.study import study_wear

_MORE = {
    # an owner's sheet without a name of its own: its inspection is called after shaft, day and measurer
    "inspections": "shaft,measured_on,measured_by,measured_at,gauge,unit,remark\n"
    "S1,2026-01-09,Ada Smith,home,mic,mm,seen by Ada Smith herself\n",
    "readings": "inspection,spline,shoulder,middle,nut-end\n"
    + "".join(f"S1 2026-01-09 Ada Smith,{at},4.391,4.389,4.392\n" for at in range(1, 11)),
}


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("nameless")
    path = make_shop(
        folder / "s.duckdb", {f"S{at}": splines(4.4 - 0.004 * at, 4.39, 4.4) for at in range(8)}, folder=folder
    )
    files = []
    for name, text in _MORE.items():
        files.append(folder / f"{name}.csv")
        files[-1].write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        assert add_files(store, files, added_on=AS_OF).kept_out == 0
    return path


@pytest.fixture(scope="module")
def snapshots(path: Path) -> Iterator[tuple[Snapshot, Snapshot]]:
    with open_store(path) as store:
        yield Snapshot(store=store, known_on=AS_OF), Snapshot(store=NamelessStore(store), known_on=AS_OF)


def test_no_name_is_left_and_no_number_changes(snapshots: tuple[Snapshot, Snapshot]) -> None:
    for ask in (study_wear, lambda snapshot: study_shaft(snapshot, "S1")):
        named, nameless = (json.dumps(plain(ask(snapshot)), sort_keys=True) for snapshot in snapshots)
        assert "Smith" not in nameless
        assert "owner-S" not in nameless
        # the codes stand in the order of the names
        people = sorted(["Ada Smith", *(f"owner-S{at}" for at in range(8))])
        for place, name in enumerate(people, start=1):
            named = named.replace(name, f"person-{place}")
        assert named == nameless
    assert "Smith" in json.dumps(plain(study_shaft(snapshots[0], "S1")))


def test_the_page_and_the_folder_can_do_without_names(path: Path, tmp_path: Path) -> None:
    asked = ["--store", str(path), "--as-of", AS_OF.isoformat(), "report", "--out", str(tmp_path), "--shafts", "--csv"]
    result = CliRunner().invoke(app, [*asked, "--without-names"])
    assert result.exit_code == 0, result.stderr
    written = [file for file in tmp_path.rglob("*") if file.suffix in {".html", ".csv"}]
    assert len(written) > 8
    for text in [result.stdout, *(file.read_text(encoding="utf-8") for file in written)]:
        assert "Smith" not in text
        assert "owner-S" not in text
