"""What all shafts say is kept beside the store, and answers from it are those worked out anew."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.store.cache.entries import cache_folder, clear_cache
from wearstats.store.cache.results import KeptResults
from wearstats.store.cache.values import from_bytes, to_bytes
from wearstats.store.database.connection import open_store
from wearstats.studies.shaft import background
from wearstats.studies.shaft.background import shaft_background
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot


def shop(folder: Path) -> Path:
    shafts = {f"S{number}": splines(4.39, 4.385 + number / 1000, 4.38, scatter=0.002) for number in range(6)}
    return make_shop(folder / "s.duckdb", shafts, folder=folder, gauge="shop")


def answer(path: Path, shaft: str) -> str:
    with open_store(path) as store:
        snapshot = Snapshot(store=store, known_on=AS_OF, kept=KeptResults(store))
        return json.dumps(plain(study_shaft(snapshot, shaft)))


def entries(path: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in cache_folder(path).iterdir()}


def test_kept_answers_are_those_made_anew_to_the_last_bit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = shop(tmp_path)
    first = answer(path, "S2")
    assert entries(path)
    monkeypatch.setattr(background, "_at_risk", lambda *_, **__: pytest.fail("made again"))
    assert answer(path, "S2") == first
    monkeypatch.undo()
    clear_cache(path)
    assert answer(path, "S2") == first


def test_law_comes_back_to_the_last_bit(demo: Snapshot) -> None:
    made = shaft_background(demo)
    assert made.risk.law is not None
    back = from_bytes(to_bytes(made))
    gaps, beside = np.linspace(0.0, 30.0, 50), np.zeros(len(made.risk.law.names))
    normal = demo.draws.generator("laws").standard_normal((50, made.risk.size))
    one, other = (
        law.risk_draws(gaps, beside, np.array([12.0]), normal=normal) for law in (made.risk.law, back.risk.law)
    )
    assert np.array_equal(one, other)
    assert to_bytes(back) == to_bytes(made)
    assert len(to_bytes(made)) < 200_000


def test_spoiled_entries_are_passed_over(tmp_path: Path) -> None:
    path = shop(tmp_path)
    first = answer(path, "S1")
    for content in (b"", b"PK", b"nul\0"):
        for name in entries(path):
            (cache_folder(path) / name).write_bytes(content)
        assert answer(path, "S1") == first
    # what was passed over is made anew
    assert min(map(len, entries(path).values())) > 100


def test_another_day_or_seed_is_another_entry(tmp_path: Path) -> None:
    path = shop(tmp_path)
    before = 0
    with open_store(path) as store:
        for seed in range(3):
            shaft_background(Snapshot(store=store, known_on=AS_OF, seed=seed, kept=KeptResults(store)))
            found = len(entries(path))
            shaft_background(Snapshot(store=store, known_on=AS_OF, seed=seed, kept=KeptResults(store)))
            assert len(entries(path)) == found
            assert found > before
            before = found


def test_copied_store_finds_nothing_of_another(tmp_path: Path) -> None:
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    one = shop(tmp_path / "one")
    two = make_shop(
        tmp_path / "two" / "s.duckdb", {"S1": splines(4.38, 4.38, 4.38)}, folder=tmp_path / "two", gauge="shop"
    )
    answer(one, "S1")
    shutil.copytree(cache_folder(one), cache_folder(two))
    before = entries(two)
    answer(two, "S1")
    assert len(entries(two)) > len(before)


def test_unknown_shaft_is_told_as_before(tmp_path: Path) -> None:
    path = shop(tmp_path)
    with open_store(path) as store, pytest.raises(AnalysisError, match="no reading of shaft nobody was known"):
        study_shaft(Snapshot(store=store, known_on=AS_OF), "nobody")
