"""An entry's name changes with all that it depends on, and with nothing else."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from tests.store.support.small_store import make_store
from wearstats.store.advice import GivenAdvice, keep_advice
from wearstats.store.cache.key import entry_key, state_by
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files

EARLY, LATE = datetime.date(2026, 6, 30), datetime.date(2026, 9, 30)


def states(path: Path, *, advice: bool = False) -> list[str]:
    with open_store(path) as store:
        return [state_by(store, day, advice=advice) for day in (EARLY, LATE)]


def add(path: Path, text: str, *, on: datetime.date, table: str = "shafts") -> None:
    file = path.with_name(f"{table}.csv")
    file.write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        add_files(store, [file], added_on=on)


def test_what_is_added_later_leaves_an_earlier_day_as_it_was(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    before = states(path)
    assert states(path) == before
    add(path, "shaft,engine,pattern\nNEW,E9,D8\n", on=LATE)
    after = states(path)
    assert after[0] == before[0]
    assert after[1] != before[1]


def test_a_row_kept_out_counts_and_so_does_that_it_is_settled(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    add(path, "shaft,engine,pattern\n,E9,D8\n", on=EARLY)
    before = states(path)
    with open_store(path, write=True) as store:
        assert store.value("select count(*) from rejects") == 1
        store.execute("update rejects set dismissed_on = date '2026-09-30', dismissed_because = 'x'")
    after = states(path)
    assert after[0] != before[0]
    assert after[1] != before[1]


def test_advice_counts_where_it_is_read(tmp_path: Path) -> None:
    path = make_store(tmp_path / "s.duckdb")
    before, with_advice = states(path), states(path, advice=True)
    given = GivenAdvice(
        shaft="S-1", given_on=LATE, inspections=(), do="decline", undersize_um=None, method=None, risk=None, version="1"
    )
    assert keep_advice(path, [given]) == ""
    assert states(path) == before
    after = states(path, advice=True)
    assert (after[0] == with_advice[0], after[1] == with_advice[1]) == (True, False)


def test_names_tell_apart_all_that_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [
        entry_key(["a"], what="x"),
        entry_key(["b"], what="x"),
        entry_key(["a"], what="y"),
        entry_key(["a"], what="x", seed=2),
        entry_key(["a"], what="x", seed="2"),
    ]
    monkeypatch.setenv("WEARSTATS_SAMPLE_SHAFTS", "100")
    names.append(entry_key(["a"], what="x"))
    monkeypatch.undo()
    monkeypatch.setattr("wearstats.store.cache.key.program_state", lambda: "other")
    names.append(entry_key(["a"], what="x"))
    assert len({*names}) == len(names)
    assert all(len(name) == 64 and int(name, 16) for name in names)
