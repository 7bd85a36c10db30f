"""An export without names says the same but for the draws, and holds no name and no free text."""

import csv
import shutil
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tests.store.support.small_store import LOADED_ON
from wearstats.cli.main import app
from wearstats.store.archive.anonymous import alias_names
from wearstats.store.archive.export import export_folder
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.counts.returns import study_returns
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.loosening.fit_from_store import known_law
from wearstats.studies.snapshot import Snapshot

KEY = b"sixteen signs or more"


@pytest.fixture(scope="module")
def folder(demo_store: Store, tmp_path_factory: pytest.TempPathFactory) -> Path:
    to = tmp_path_factory.mktemp("anonymous") / "out"
    # one process may not open a file twice in two ways
    with open_store(shutil.copy2(demo_store.path, to.with_suffix(".duckdb"))) as store:
        export_folder(store, to, anonymous_key=KEY)
    return to


def test_every_study_says_the_same_but_for_the_draws(folder: Path, demo: Snapshot, tmp_path: Path) -> None:
    create_store(tmp_path / "again.duckdb")
    with open_store(tmp_path / "again.duckdb", write=True) as store:
        report = add_files(store, sorted(folder.glob("*.csv")), added_on=LOADED_ON)
        assert all(file.read == file.accepted for file in report.files)
    with open_store(tmp_path / "again.duckdb") as store:
        again = Snapshot(store=store, known_on=demo.known_on)
        # inspections of one day come in another order, and with them whose numbering of splines the others follow
        np.testing.assert_allclose(width_fit(again).fit.variances, width_fit(demo).fit.variances, rtol=0.03)
        laws = [known_law(which).law for which in (demo, again)]
        assert laws[0] is not None
        assert laws[1] is not None
        # gaps are drawn by name, so the law differs by the draws' chance: a tenth of its own doubt at the most
        apart = np.abs(laws[0].parameters - laws[1].parameters) / np.sqrt(np.diag(laws[0].covariance))
        assert apart.max() < 0.1
        assert study_returns(again).to_dict() == study_returns(demo).to_dict()


def test_no_name_and_no_free_text_is_left(folder: Path, demo_store: Store) -> None:
    names = set(alias_names(demo_store, key=KEY)["name"])
    for file in folder.glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as opened:
            rows = csv.DictReader(opened)
            assert rows.fieldnames is not None
            assert {"engine", "compound"}.isdisjoint(rows.fieldnames)
            kept = {name for row in rows for cell in row.values() for name in (cell or "").split(";")}
        assert kept.isdisjoint(names), file.name


def test_one_key_gives_one_alias_and_another_key_another(demo_store: Store) -> None:
    one, same, other = (alias_names(demo_store, key=key) for key in (KEY, KEY, b"another secret of sixteen"))
    assert one.equals(same)
    assert set(one["alias"]).isdisjoint(other["alias"])
    assert not one.duplicated(["kind", "name"]).any()
    # whoever knows one name in the order of numbers must not know its neighbours
    for name, kind in one.groupby("kind"):
        places = kind.sort_values("name")["alias"].rank()
        if len(kind) > 100:
            assert abs(np.corrcoef(places, np.arange(len(kind)))[0, 1]) < 5 / len(kind) ** 0.5, name


def test_the_command_takes_a_secret_from_a_file(demo_store: Store, tmp_path: Path) -> None:
    short, good = tmp_path / "short", tmp_path / "good"
    short.write_text("secret")
    good.write_bytes(KEY)
    copied = shutil.copy2(demo_store.path, tmp_path / "copy.duckdb")
    base = ["store", "export", "--anonymous", "--store", str(copied)]
    run = CliRunner().invoke
    refused = run(app, [*base, str(tmp_path / "a"), "--key-file", str(short)])
    assert refused.exit_code == 2
    assert "at least 16" in refused.output
    assert run(app, [*base, str(tmp_path / "b"), "--key-file", str(good)]).exit_code == 0
    assert run(app, [*base, str(tmp_path / "c"), "--xlsx"]).exit_code == 2
    assert run(app, [*base, str(tmp_path / "d"), "--key-file", str(tmp_path / "none")]).exit_code == 2
