"""What all shafts say is kept beside the store, and answers from it are those worked out anew."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from tests.store.support.small_store import make_store
from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.store.cache import find_kept, keep, kept_key, kept_path
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.shaft import background
from wearstats.studies.shaft.background import ShaftBackground, shaft_background
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot


def shop(folder: Path) -> Path:
    shafts = {f"S{number}": splines(4.39, 4.385 + number / 1000, 4.38, scatter=0.002) for number in range(6)}
    return make_shop(folder / "s.duckdb", shafts, folder=folder, gauge="shop")


def answer(path: Path, shaft: str) -> str:
    with open_store(path) as store:
        return json.dumps(plain(study_shaft(Snapshot(store=store, known_on=AS_OF), shaft)))


def test_kept_answers_are_those_made_anew_to_the_last_bit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = shop(tmp_path)
    first = answer(path, "S2")
    assert kept_path(path).is_file()
    monkeypatch.setattr(background, "make_background", lambda *_, **__: pytest.fail("made again"))
    assert answer(path, "S2") == first
    monkeypatch.undo()
    kept_path(path).unlink()
    assert answer(path, "S2") == first


def test_law_comes_back_to_the_last_bit(demo: Snapshot) -> None:
    made = background.make_background(demo)
    assert made.risk.law is not None
    back = ShaftBackground.from_kept(json.loads(json.dumps(made.to_kept())))
    assert back.risk.law is not None
    gaps, beside = np.linspace(0.0, 30.0, 50), np.zeros(len(made.risk.law.names))
    normal = demo.draws.generator("laws").standard_normal((50, made.risk.size))
    one, other = (
        law.risk_draws(gaps, beside, np.array([12.0]), normal=normal) for law in (made.risk.law, back.risk.law)
    )
    assert np.array_equal(one, other)
    assert back.to_kept() == made.to_kept()


def test_names_of_people_and_shafts_are_not_kept(tmp_path: Path) -> None:
    path = shop(tmp_path)
    answer(path, "S2")
    with open_store(path) as store:
        rows = store.rows("select shaft from shafts union select measured_by from inspections")
    text = kept_path(path).read_text(encoding="utf-8")
    assert len(rows) > 1
    assert not [name for (name,) in rows if f'"{name}"' in text]


@pytest.mark.parametrize("spoiled", ["", "[]", "{", "[[[", "nul\0", '{"x": 1}'])
def test_spoiled_file_is_passed_over(tmp_path: Path, spoiled: str) -> None:
    path = shop(tmp_path)
    first = answer(path, "S1")
    kept_path(path).write_text(spoiled, encoding="utf-8")
    assert answer(path, "S1") == first
    # an entry under the right key that is something else is passed over too
    kept = json.loads(kept_path(path).read_text(encoding="utf-8"))
    kept_path(path).write_text(json.dumps({key: {"fit": 1} for key in kept}), encoding="utf-8")
    assert answer(path, "S1") == first
    # and one in which a number was changed
    text = kept_path(path).read_text(encoding="utf-8")
    assert '"pace": 1.0' in text
    kept_path(path).write_text(text.replace('"pace": 1.0', '"pace": 9.5'), encoding="utf-8")
    assert answer(path, "S1") == first


def test_whatever_is_added_makes_it_anew(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    with open_store(path) as store:
        before = kept_key(store, what="x")
        assert kept_key(store, what="x") == before
        assert kept_key(store, what="y") != before
    more = tmp_path / "shafts.csv"
    more.write_text("shaft,engine,pattern\nNEW,E9,D8\n", encoding="utf-8")
    with open_store(path, write=True) as store:
        add_files(store, [more], added_on=AS_OF)
        assert kept_key(store, what="x") != before


def test_another_day_or_seed_is_another_entry(tmp_path: Path) -> None:
    path = shop(tmp_path)
    with open_store(path) as store:
        for seed in range(12):
            shaft_background(Snapshot(store=store, known_on=AS_OF, seed=seed))
    assert len(json.loads(kept_path(path).read_text(encoding="utf-8"))) == 8


def test_folder_that_cannot_be_written_to_is_no_hindrance(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = shop(tmp_path)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError

    monkeypatch.setattr("wearstats.store.cache.tempfile.mkstemp", refuse)
    assert answer(path, "S1")
    assert not kept_path(path).exists()


def test_document_is_found_only_under_its_key(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    with open_store(path) as store:
        keep(store, "a", {"value": 0.1 + 0.2})
        assert find_kept(store, "a") == {"value": 0.1 + 0.2}
        assert find_kept(store, "b") is None


def test_copied_store_finds_nothing_of_another(tmp_path: Path) -> None:
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    one = shop(tmp_path / "one")
    two = make_shop(
        tmp_path / "two" / "s.duckdb", {"S1": splines(4.38, 4.38, 4.38)}, folder=tmp_path / "two", gauge="shop"
    )
    answer(one, "S1")
    shutil.copy(kept_path(one), kept_path(two))
    before = kept_path(two).read_text(encoding="utf-8")
    answer(two, "S1")
    assert kept_path(two).read_text(encoding="utf-8") != before


def test_unknown_shaft_is_told_as_before(tmp_path: Path) -> None:
    path = shop(tmp_path)
    with open_store(path) as store, pytest.raises(AnalysisError, match="no reading of shaft nobody was known"):
        study_shaft(Snapshot(store=store, known_on=AS_OF), "nobody")
