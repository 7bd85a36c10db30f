"""The demo from end to end, and every question asked of the store it leaves behind."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from tests.browser.driver import PRESENT, browser
from tests.browser.page_checks import DESK, LISTEN, PHONE, check_by_ear, check_paper, check_window
from wearstats.cli.main import app
from wearstats.report.words.cautions import CAUTIONS, SHORT_CAUTIONS

AS_OF = "2026-09-30"
ESTIMATE = {"value", "low", "high", "level", "method", "status"}
STATUSES = {"ok", "assumed", "bounded", "beyond-data", "none"}


def _run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments), prog_name="wearstats", catch_exceptions=False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "new"


@pytest.fixture(scope="module")
def ran(folder: Path) -> Result:
    return _run("demo", "--out", str(folder))


@pytest.fixture(scope="module")
def store(folder: Path, ran: Result) -> str:
    assert ran.exit_code == 0, ran.output
    return str(folder / "demo.duckdb")


@pytest.fixture(scope="module")
def again(store: str, folder: Path) -> dict[str, Any]:
    """Ask everything of the store that the demo left, once more, for a page whose charts answer."""
    return _document(store, "report", "--interactive", "--out", str(folder / "again"))


def _document(store: str, *arguments: str) -> dict[str, Any]:
    """Ask in JSON; NaN and Infinity, which JSON does not have, are an error."""
    ran = _run(*arguments, "--json", "--store", store, "--as-of", AS_OF)
    assert ran.exit_code == 0, ran.output

    def refuse(text: str) -> float:
        raise AssertionError(f"{text} is not JSON")

    document = json.loads(ran.stdout, parse_constant=refuse)
    assert (document["answer"], document["version"], document["as_of"]) == (arguments[0], 1, AS_OF)
    assert all(estimate["status"] in STATUSES for estimate in _estimates(document))
    return dict(document)


def _without_script(page: str) -> str:
    """Take the scripts out of a page, what they speak through, and the policy that allows them."""
    policy = '<meta http-equiv="Content-Security-Policy"[^>]*>'
    return re.sub(rf'<script.*?</script>\n|<p id="told"[^>]*></p>\n|{policy}', "", page, flags=re.DOTALL)


def _estimates(value: Any) -> Iterator[dict[str, Any]]:
    """Give every estimate in a document, and check its form."""
    if isinstance(value, dict):
        if "level" in value and "status" in value:
            assert set(value) >= ESTIMATE
            yield value
        for item in value.values():
            yield from _estimates(item)
    elif isinstance(value, list):
        for item in value:
            yield from _estimates(item)


def test_it_prints_the_answers_and_where_the_page_is(ran: Result, folder: Path) -> None:
    assert ran.exit_code == 0, ran.output
    lines = ran.stdout.splitlines()
    assert lines[0] == "Invented demo data: no such engine, shaft, owner or workshop exists."
    assert f"The page: {folder / 'report.html'}" in lines
    for heading in ("HOW WORN ARE THE SHAFTS?", "WHICH HUB FOR S0297?", "DO HUBS STAY TIGHT?"):
        assert any(line.startswith(f"{heading}  ") for line in lines)
    assert all(f"  {caution}" in lines for caution in SHORT_CAUTIONS)
    assert len(lines) <= 60
    # a folder's name is as long as it is
    assert all(len(line) <= 80 for line in lines if str(folder) not in line)
    assert "nan" not in re.findall(r"\w+", ran.stdout.lower())


def test_in_full_it_prints_every_caution(store: str, folder: Path) -> None:
    told = _run("report", "--full", "--store", store, "--as-of", AS_OF, "--out", str(folder / "full"))
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    for number, caution in enumerate(CAUTIONS, start=1):
        assert f"  {number}. {caution}" in lines
    end = next(at for at, line in enumerate(lines) if line.startswith("Before anybody works"))
    for line in lines[2:end]:
        # plain sentences, each question's verdict among them
        assert not line or re.match(r"^[A-Z0-9].*\.$", line), line


def test_its_page_has_everything(ran: Result, folder: Path) -> None:
    assert ran.exit_code == 0
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "<strong>Invented demo data.</strong>" in page
    assert "These data cannot answer" not in page
    figures = re.findall(r'<figure id="([a-z0-9-]+)"', page)
    drawn = [
        "forecasts", "at-risk", "rates", "funnel", "ladder", "map",
        "hundred-hubs", "methods-apart", "methods-evidence", "methods-overlap",
        "gap-risk", "calibration", "law", "silence", "curves", "curves-gap", "curves-duty",
        "cost-1", "cost-2", "sizes-1", "demand-1", "shelf-1", "sizes-2", "demand-2", "shelf-2",
        "fleet", "growth", "plan", "measurers", "returns", "contact",
    ]  # fmt: skip
    assert [name for name in figures if name != "history"] == drawn
    assert "<script" not in page
    assert "nan" not in re.findall(r"\w+", re.sub(r"<[^>]*>", " ", page).lower())
    assert len(page) < 2_000_000


def test_it_never_overwrites_unless_told_to(store: str, folder: Path) -> None:
    before = (folder / "report.html").read_bytes()
    again = _run("demo", "--out", str(folder))
    assert again.exit_code == 4
    assert "--force" in again.stderr
    assert (folder / "report.html").read_bytes() == before
    assert Path(store).exists()


def test_the_report_on_the_same_store_is_the_same_page_and_says_invented(
    again: dict[str, Any], store: str, folder: Path
) -> None:
    # the same seed gives the same answers, to the last byte of the page, but for the script and what is said of it
    out = folder / "again"
    still = (folder / "report.html").read_text(encoding="utf-8").replace(", and runs nothing", "")
    assert _without_script((out / "report.html").read_text(encoding="utf-8")) == _without_script(still)
    assert again["page"] == str(out / "report.html")
    assert again["invented"] is True
    assert again["unanswered"] == {}
    assert again["shaft"]["shaft"]
    refused = _run("report", "--out", str(out), "--store", store)
    assert refused.exit_code == 4
    assert "report.html: is there already" in refused.stderr


@pytest.mark.browser
@pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")
@pytest.mark.parametrize("width", [DESK, PHONE])
def test_its_charts_answer_in_a_real_browser(again: dict[str, Any], tmp_path: Path, width: int) -> None:
    file = Path(again["page"])
    with browser(folder=tmp_path, width=width) as page:
        page.before_each_page(LISTEN)
        check_window(page, file, drawn=file.read_text(encoding="utf-8").count("<figure "))
        check_by_ear(page)
        if width == DESK:
            check_paper(page)


def test_wear(again: dict[str, Any]) -> None:
    document = again["wear"]
    components = {"shaft", "spline", "shaft_station", "cell", "measurer", "inspection"}
    components |= {"repeatability_home", "repeatability_workshop"}
    assert set(document["components_um"]) >= components
    assert set(document["wear_um"]) >= {"mean", "unworn_share", "quantiles"}
    assert set(document["wear_um"]["quantiles"]["0.5"]) >= ESTIMATE
    assert set(document["growth_um_per_1000h"]) >= ESTIMATE
    assert set(document["by_pattern"]) == {"D8", "D10"}
    assert set(document["by_pattern"]["D8"]["station_um"]) == {"shoulder", "middle", "nut-end"}


def test_wear_of_one_pattern(store: str) -> None:
    assert list(_document(store, "wear", "--pattern", "D8")["by_pattern"]) == ["D8"]


def test_shaft(store: str) -> None:
    document = _document(store, "shaft", "S0206")
    assert document["shaft"] == "S0206"
    assert len(document["map_um"]) == 8
    assert {len(row) for row in document["map_um"]} == {3}
    choice = document["choices"][0]
    wanted = {"undersize_um", "method", "clearance_um", "gap_left_um", "contact_share", "filing_um", "filing_min"}
    assert set(choice) >= wanted | {"risk", "cost"}
    assert set(document["advice"]) >= {"do", "undersize_um", "method", "why"}
    assert document["advice"]["do"] in {
        "send",
        "send-two",
        "measure-again",
        "send-shaft-here",
        "make-special",
        "decline",
    }
    assert isinstance(document["cautions"], list)


def test_several_shafts_are_one_document(store: str) -> None:
    document = _document(store, "shaft", "S0206", "S0001")
    assert [shaft["shaft"] for shaft in document["shafts"]] == ["S0206", "S0001"]


def test_a_shaft_has_its_page(store: str, tmp_path: Path) -> None:
    out = tmp_path / "pages"
    ran = _run("shaft", "S0206", "S0012", "--out", str(out), "--store", store, "--as-of", AS_OF)
    assert ran.exit_code == 0, ran.output
    assert {path.name for path in out.iterdir()} == {"shaft-S0206.html", "shaft-S0012.html"}
    page = (out / "shaft-S0012.html").read_text(encoding="utf-8")
    assert "<strong>Invented demo data.</strong>" in page
    assert re.findall(r'<figure id="([a-z0-9-]+)"', page) == ["rings", "section-1", "section-2"]
    again = _run("shaft", "S0206", "--out", str(out), "--store", store, "--as-of", AS_OF)
    assert again.exit_code == 4
    assert "is there already" in again.output


def test_contact_is_told_of_all_and_of_one(store: str) -> None:
    document = _document(store, "contact")
    assert document["over_all"]["fittings"] == len(document["fittings"])
    name = document["fittings"][-1]["fitting"]
    one = _document(store, "contact", "--fitting", name)
    assert [seen["fitting"] for seen in one["fittings"]] == [name]
    assert one["over_all"] is None
    refused = _run("contact", "--fitting", "F0002", "--store", store, "--as-of", AS_OF)
    assert refused.exit_code == 5
    assert "fitting F0002 has no marks" in refused.output


def test_shaft_in_words(store: str) -> None:
    ran = _run("shaft", "S0206", "--store", store, "--as-of", AS_OF)
    assert ran.exit_code == 0
    lines = ran.stdout.splitlines()
    assert lines[0].startswith("WHICH HUB FOR S0206?  ")
    assert len(lines) <= 22
    assert max(map(len, lines)) <= 80
    full = _run("shaft", "S0206", "--store", store, "--as-of", AS_OF, "--full")
    assert full.stdout.startswith("Shaft S0206 (D8): ")
    assert "What each hub would do on shaft S0206; brackets enclose 95 %\n" in full.stdout
    assert CAUTIONS[0] in full.stdout


def test_loosening(again: dict[str, Any]) -> None:
    document = again["loosening"]
    assert document["fittings"] >= document["followed"] >= document["failures"] > 0
    assert {"log_hazard_per_10um", "shape", "reported_unasked", "risk", "gap_at_risk_limit_um"} <= set(document)
    assert set(document["log_hazard_per_10um"]) == {"as_read", "corrected"}
    assert {"gap_left_um", "months"} <= set(document["risk"][0])


def test_methods(again: dict[str, Any]) -> None:
    document = again["methods"]
    assert set(document["by_method"]) <= {"as-supplied", "owner-fitted", "workshop-fitted"}
    for method in document["by_method"].values():
        assert set(method) >= {"fittings", "failures", "hub_months", "risk"}
    assert set(document["risk_difference"]) >= {"crude", "same_shafts", "same_gap", "as_done"}
    assert {"e_value", "evidence", "more_fittings_needed"} <= set(document)
    assert set(document["evidence"]) >= {"low", "high", "settled", "since"}


def test_a_single_question_says_what_the_page_says(again: dict[str, Any], store: str) -> None:
    alone = _document(store, "loosening")
    assert {name: alone[name] for name in again["loosening"]} == again["loosening"]


def test_nothing_was_known_before_the_beginning(store: str) -> None:
    for question in ("wear", "loosening", "methods"):
        ran = _run(question, "--store", store, "--as-of", "2020-01-01")
        assert ran.exit_code == 5, ran.output
        assert ran.stdout == ""
        assert any(line.startswith("wearstats: ") for line in ran.stderr.splitlines())


def test_a_shaft_that_nobody_knows(store: str) -> None:
    ran = _run("shaft", "nowhere", "--store", store)
    assert ran.exit_code == 5
    assert "nowhere" in ran.stderr


def test_a_report_on_a_store_that_cannot_answer_still_says_why(tmp_path: Path) -> None:
    from wearstats.store.database.connection import create_store

    create_store(tmp_path / "empty.duckdb")
    ran = _run("report", "--store", str(tmp_path / "empty.duckdb"), "--out", str(tmp_path), "--as-of", AS_OF)
    assert ran.exit_code == 0, ran.output
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert page.count("These data cannot answer") >= 3
    assert "nvented demo" not in page
