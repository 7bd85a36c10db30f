"""What has run on a shaft since it was measured is not passed over."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot


def shaft_with(folder: Path, *, fitted_on: str, state: str | None, cause: str = "flanks") -> ShaftStudy:
    path = make_shop(folder / "s.duckdb", {"A": splines(4.39, 4.39, 4.39)}, folder=folder, gauge="shop")
    tables = {
        "hubs": "hub,pattern,undersize_um\nH1,P10,25\n",
        "fittings": f"fitting,shaft,hub,fitted_on,method\nF1,A,H1,{fitted_on},owner-fitted\n",
    }
    if state:
        tables["follow_ups"] = f"fitting,seen_on,state,prompted,cause\nF1,{AS_OF},{state},asked,{cause}\n"
    files = []
    for name, text in tables.items():
        files.append(folder / f"{name}.csv")
        files[-1].write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        add_files(store, files, added_on=AS_OF)
        assert store.value("select count(*) from fittings where fitting = 'F1'") == 1
    with open_store(path) as store:
        return study_shaft(Snapshot(store=store, known_on=AS_OF), "A")


@pytest.mark.parametrize("state", ["loose", "broken"])
def test_a_loose_hub_since_is_measured_again(tmp_path: Path, state: str) -> None:
    study = shaft_with(tmp_path, fitted_on=str(AS_OF), state=state)
    assert study.advice.do == "measure-again"
    assert study.advice.undersize_um is None
    assert "hub H1 has gone on since, last heard" in study.advice.why


@pytest.mark.parametrize(("state", "cause"), [("tight", ""), (None, "")])
def test_any_other_hub_since_is_told(tmp_path: Path, state: str | None, cause: str) -> None:
    study = shaft_with(tmp_path, fitted_on=str(AS_OF), state=state, cause=cause)
    assert study.advice.do in {"send", "send-shaft-here"}
    assert "hub H1 has gone on since" in study.advice.why
    assert "Have it measured again" in study.advice.why


def test_a_hub_before_the_readings_is_not_told(tmp_path: Path) -> None:
    study = shaft_with(tmp_path, fitted_on="2020-01-01", state=None)
    assert "gone on since" not in study.advice.why


def test_a_loose_hub_is_not_hidden_by_a_tight_one_behind_it(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "s.duckdb", {"A": splines(4.39, 4.39, 4.39)}, folder=tmp_path, gauge="shop")
    tables = {
        "hubs": "hub,pattern,undersize_um\nH1,P10,25\nH2,P10,50\n",
        "fittings": "fitting,shaft,hub,fitted_on,method\nF1,A,H1,2026-01-05,owner-fitted\n"
        "F2,A,H2,2026-01-20,owner-fitted\n",
        "follow_ups": "fitting,seen_on,state,prompted,cause\nF1,2026-01-15,loose,asked,flanks\n"
        "F2,2026-01-30,tight,asked,\n",
    }
    files = []
    for name, text in tables.items():
        files.append(tmp_path / f"{name}.csv")
        files[-1].write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        add_files(store, files, added_on=AS_OF)
    with open_store(path) as store:
        study = study_shaft(Snapshot(store=store, known_on=AS_OF), "A")
    assert study.advice.do == "measure-again"
    assert "hub H1" in study.advice.why
