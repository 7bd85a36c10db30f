"""The front door for Python: every question asked, and answers that show themselves."""

from __future__ import annotations

import datetime
import json
import pickle
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import wearstats
from tests.support.demo_copies import copy_with_kept
from wearstats.analysis.estimate import Estimate
from wearstats.errors import ReportError
from wearstats.front import Shop
from wearstats.report.remarks.document import plain

TOP = Path(__file__).resolve().parents[1]
DAY = "2026-09-30"


@pytest.fixture(scope="module")
def shop(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    path = copy_with_kept(demo_file, tmp_path_factory.mktemp("front") / "s.duckdb")
    with wearstats.open_store(path, as_of=DAY) as shop:
        yield shop


def test_a_making_list_is_written_and_never_over_another(shop: Shop, tmp_path: Path) -> None:
    said = shop.making_list(tmp_path / "list", hubs=10)
    assert said.startswith("written: 10 hubs in ")
    assert (tmp_path / "list" / "batches.csv").exists()
    with pytest.raises(ReportError, match="is there already"):
        shop.making_list(tmp_path / "list", hubs=10)


@pytest.mark.parametrize(
    "question",
    [
        "wear",
        "gauging",
        "loosening",
        "methods",
        "stock",
        "review",
        "calls",
        "contact",
        "limits",
        "returns",
        "shelf",
        "shaft",
    ],
)
def test_every_answer_shows_itself(shop: Shop, question: str) -> None:
    answer = shop.shaft("S0206") if question == "shaft" else getattr(shop, question)()
    assert answer.sentences()
    short = repr(answer)
    assert short.startswith(f"{question}, as known on {DAY}")
    assert len(short) < 3000
    assert len(answer.frame()) > 0
    assert (".chart()" in short) == bool(answer.charts)
    # with every advice, what to beware of
    advice = question in {"shaft", "stock", "review", "calls"}
    assert ("competent person fits" in " ".join(short.split())) == advice
    assert short.count("\n") < 40
    assert answer.full().count("\n") >= len(answer.sentences()) - 1
    assert bool(answer.cautions()) == advice
    before = json.dumps(plain(answer.to_dict()))
    for name in answer.frames:
        frame = answer.frame(name)
        assert not any(isinstance(cell, Estimate) for cell in frame.to_numpy().ravel())
        # what a user does to a frame or a document is no concern of the shop's
        del frame[frame.columns[0]]
    answer.to_dict().clear()
    for value in answer.to_dict().values():
        if isinstance(value, dict | list):
            value.clear()
    again = shop.shaft("S0206") if question == "shaft" else getattr(shop, question)()
    assert json.dumps(plain(again.to_dict())) == before
    assert len(again.frame()) > 0
    assert pickle.loads(pickle.dumps(answer)).sentences() == answer.sentences()
    for name in answer.charts:
        assert answer.chart(name).to_dict()["$schema"]
    html = answer._repr_html_()
    assert ("<svg" in html) == bool(answer.charts)
    assert "<table" in html
    json.dumps(plain(answer.to_dict()), allow_nan=False)


def test_what_it_says_is_what_the_command_says(shop: Shop) -> None:
    from typer.testing import CliRunner

    from wearstats.cli.main import app

    asked = ["--store", str(shop.snapshot.store.path), "--as-of", DAY, "--json", "wear"]
    document = json.loads(CliRunner().invoke(app, asked).stdout)
    assert {key: document[key] for key in shop.wear().to_dict()} == plain(shop.wear().to_dict())


def test_a_name_that_is_not_there_is_told_with_those_that_are(shop: Shop) -> None:
    with pytest.raises(wearstats.UsageError, match=r"frame: 'fleat'; allowed: 'fleet', 'shares', 'laws', 'sizes'"):
        shop.wear().frame("fleat")
    with pytest.raises(wearstats.UsageError, match="chart: None; allowed: none, this answer has none"):
        shop.calls().chart()


def test_bad_days_and_patterns_are_refused(demo_file: Path, tmp_path: Path) -> None:
    path = shutil.copy(demo_file, tmp_path / "s.duckdb")
    with pytest.raises(wearstats.UsageError, match="as_of: '30/09/2026'; allowed: a day as 2026-09-30"):
        wearstats.open_store(path, as_of="30/09/2026")
    with pytest.raises(wearstats.UsageError, match="pattern: 'D9' was not known on 2026-09-30; allowed: D10, D8"):
        wearstats.open_store(path, as_of=DAY, pattern="D9")
    with pytest.raises(wearstats.StoreError, match="there is no store here"):
        wearstats.open_store(tmp_path / "none.duckdb")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"as_of": pd.NaT}, "as_of: NaT; allowed"),
        ({"as_of": 20260930}, "as_of: 20260930; allowed"),
        ({"horizon_months": 0}, "horizon_months: 0; allowed: a number above 0 and below 1200"),
        ({"horizon_months": 1e9}, "horizon_months: 1000000000.0; allowed"),
        ({"horizon_months": "12"}, "horizon_months: '12'; allowed"),
        ({"risk_limit": 5}, "risk_limit: 5; allowed: a number above 0 and below 1"),
        ({"risk_limit": float("nan")}, "risk_limit: nan; allowed"),
        ({"seed": 1.0}, "seed: 1.0; allowed: a whole number from 0 on"),
        ({"seed": True}, "seed: True; allowed"),
    ],
)
def test_what_makes_no_sense_is_refused(demo_file: Path, said: dict[str, Any], told: str) -> None:
    with pytest.raises(wearstats.UsageError, match=re.escape(told)):
        wearstats.open_store(demo_file, **said)


@pytest.mark.parametrize(
    "day", [datetime.datetime(2026, 9, 30, 14), pd.Timestamp("2026-09-30"), np.datetime64("2026-09-30"), DAY]
)
def test_a_day_may_be_said_as_pandas_and_numpy_say_it(demo_file: Path, tmp_path: Path, day: Any) -> None:
    with wearstats.open_store(shutil.copy(demo_file, tmp_path / "s.duckdb"), as_of=day) as shop:
        assert shop.snapshot.known_on == datetime.date(2026, 9, 30)


def test_names_are_text_and_one_fitting_is_one(shop: Shop) -> None:
    name = shop.contact().frame()["fitting"].iloc[0]
    assert [list(shop.contact(said).frame()["fitting"]) for said in (name, [name])] == [[name], [name]]
    wrong: Any = 20263
    for ask in (shop.shaft, shop.review, lambda said: shop.contact([said])):
        with pytest.raises(wearstats.UsageError, match="20263; allowed: its name as text"):
            ask(wrong)


def test_a_closed_shop_says_so(demo_file: Path, tmp_path: Path) -> None:
    shop = wearstats.open_store(shutil.copy(demo_file, tmp_path / "s.duckdb"), as_of=DAY)
    shop.close()
    assert repr(shop).endswith(", closed>")
    with pytest.raises(wearstats.StoreError, match="was closed; open it again"):
        shop.returns()
    with pytest.raises(wearstats.StoreError, match="was closed"), shop:
        pass


def test_records_that_end_early_are_told(demo_file: Path, tmp_path: Path) -> None:
    with wearstats.open_store(shutil.copy(demo_file, tmp_path / "s.duckdb"), as_of="2027-09-30") as shop:
        assert re.search(r"on record up to about 2026-(09|10)-\d\d", repr(shop))


def test_the_public_names_are_read_when_they_are_used() -> None:
    code = "import sys, wearstats; assert not {'numpy', 'pandas', 'duckdb'} & set(sys.modules); print(*dir(wearstats))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == sorted(wearstats.__all__)
    assert all(hasattr(wearstats, name) for name in wearstats.__all__)
    with pytest.raises(AttributeError, match="no attribute 'open_shop'"):
        wearstats.open_shop  # noqa: B018


def test_the_notebook_runs(demo_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "wearstats-demo").mkdir()
    copy_with_kept(demo_file, tmp_path / "wearstats-demo" / "demo.duckdb")
    monkeypatch.chdir(tmp_path)
    cells = json.loads((TOP / "reports" / "answers.ipynb").read_text(encoding="utf-8"))["cells"]
    names: dict[str, object] = {}
    for cell in cells:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            *lines, last = "".join(cell["source"]).splitlines()
            exec("\n".join(lines), names)
            shown = eval(last, names)
            assert repr(shown)
