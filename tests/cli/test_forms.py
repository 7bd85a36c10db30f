"""The forms are written where they should be, and nowhere else; what cannot be asked for is told with its exit code."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.store.support.small_store import make_store
from tests.studies.support.shop_store import make_shop, splines
from wearstats.cli.main import app

GOLDEN = Path(__file__).parent / "golden"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return make_store(tmp_path / "bench.duckdb")


def run(store: Path, *arguments: str | Path) -> Result:
    return CliRunner().invoke(app, ["sheet", *map(str, arguments), "--store", str(store)], prog_name="wearstats")


@pytest.mark.parametrize("page", ["measuring", "fitting", "follow-up", "gauging", "label", "book"])
def test_help_page_is_as_it_was(page: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    shown = CliRunner().invoke(app, ["sheet", page, "--help"], prog_name="wearstats")
    assert shown.exit_code == 0
    assert shown.stdout == (GOLDEN / f"help-sheet-{page}.txt").read_text(encoding="utf-8")


def test_each_form_comes_in_each_shape(store: Path, tmp_path: Path) -> None:
    out = tmp_path / "forms"
    made = run(store, "measuring", "--shaft", "S 1/2", "--out", out, "--json")
    assert made.exit_code == 0, made.output
    document = json.loads(made.stdout)
    assert document["answer"] == "sheet measuring"
    assert [Path(item["file"]).name for item in document["files"]] == [
        "measuring-D8-S-1-2.xlsx",
        "measuring-D8-S-1-2.html",
        "measuring-D8-S-1-2-a4.html",
        "measuring-D8-S-1-2-letter.html",
    ]
    assert all(Path(item["file"]).stat().st_size == item["bytes"] for item in document["files"])
    assert run(store, "follow-up", "--fitting", "F1", "--out", out).exit_code == 0
    assert run(store, "book", "--out", out).exit_code == 0
    assert {path.name for path in out.iterdir()} >= {"follow-up-F1.html", "notebook.xlsx"}
    assert {path.name for path in tmp_path.iterdir()} == {"forms", "bench.duckdb"}


def test_hubs_to_gauge_are_named_or_of_a_batch(store: Path, tmp_path: Path) -> None:
    out = tmp_path / "forms"
    assert run(store, "gauging", "--hub", "H2", "--out", out).exit_code == 0
    assert {path.name for path in out.iterdir()} == {
        f"gauging-H2{end}" for end in (".xlsx", ".html", "-a4.html", "-letter.html")
    }
    assert run(store, "gauging", "--batch", "B1", "--out", out, "--force").exit_code == 0
    # a page that is filled in on a phone is for one hub; the batch has a page to print and a workbook
    assert {path.name for path in out.iterdir()} >= {"gauging-B1.xlsx", "gauging-B1-a4.html", "gauging-H1.html"}
    for arguments, code, said in (
        ((), 2, "say --hub ID, once or several times, or --batch ID"),
        (("--hub", "H2", "--batch", "B1"), 2, "say --hub ID"),
        (("--hub", "H9"), 5, "no hub H9 was known"),
        (("--batch", "B9"), 5, "of batch 'B9' no hub by number was known"),
    ):
        refused = run(store, "gauging", *arguments, "--out", out)
        assert (refused.exit_code, said in refused.stderr) == (code, True), refused.stderr
    unlabelled = run(store, "label", "--hub", "H2", "--out", out)
    assert unlabelled.exit_code == 5
    assert "wearstats sheet gauging --hub H2" in unlabelled.stderr
    (tmp_path / "hubs.csv").write_text("hub,pattern,undersize_um,batch\nH3,D8,50,B1\n")
    spaces = "".join(f"H3,2025-12-05,{space},{end},5.96\n" for space in range(1, 9) for end in ("mouth", "nut-face"))
    (tmp_path / "hub_spaces.csv").write_text(f"hub,gauged_on,space,end,width_mm\n{spaces}")
    files = [str(tmp_path / name) for name in ("hubs.csv", "hub_spaces.csv")]
    added = CliRunner().invoke(app, ["store", "add", *files, "--store", str(store)])
    assert added.exit_code == 0, added.output
    labelled = run(store, "label", "--batch", "B1", "--out", out)
    assert (labelled.exit_code, "2 hubs of batch B1 left out" in labelled.stderr) == (0, True), labelled.output


def test_a_fitting_sheet_is_written_for_each_paper(tmp_path: Path) -> None:
    shop = make_shop(tmp_path / "shop.duckdb", {"S1": splines(4.39, 4.385, 4.39)}, folder=tmp_path, gauge="shop")
    (tmp_path / "hubs.csv").write_text("hub,pattern,undersize_um\nH1,P10,50\n")
    added = CliRunner().invoke(app, ["store", "add", str(tmp_path / "hubs.csv"), "--store", str(shop)])
    assert added.exit_code == 0, added.output
    made = run(shop, "fitting", "--shaft", "S1", "--hub", "H1", "--out", tmp_path / "forms")
    assert made.exit_code == 0, made.output
    assert {path.name for path in (tmp_path / "forms").iterdir()} == {
        "fitting-S1-H1-a4.html",
        "fitting-S1-H1-letter.html",
    }
    if importlib.util.find_spec("typst") is None:
        refused = run(shop, "fitting", "--shaft", "S1", "--hub", "H1", "--pdf", "--out", tmp_path / "paper")
        assert refused.exit_code == 4
        assert "pip install 'wearstats[pdf]'" in refused.output
        return
    made = run(shop, "fitting", "--shaft", "S1", "--hub", "H1", "--pdf", "--out", tmp_path / "paper")
    assert made.exit_code == 0, made.output
    assert {path.name for path in (tmp_path / "paper").glob("*.pdf")} == {
        "fitting-S1-H1-a4.pdf",
        "fitting-S1-H1-letter.pdf",
    }


def test_nothing_is_overwritten_unless_asked(store: Path, tmp_path: Path) -> None:
    assert run(store, "book", "--out", tmp_path).exit_code == 0
    (tmp_path / "notebook.xlsx").write_bytes(b"filled in")
    refused = run(store, "book", "--out", tmp_path)
    assert refused.exit_code == 4
    assert "is there already; choose another --out, or say --force" in refused.output
    assert (tmp_path / "notebook.xlsx").read_bytes() == b"filled in"
    assert run(store, "book", "--out", tmp_path, "--force").exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["measuring", "--pattern", "D9"], 5, "pattern 'D9' is not in the store, which knows D8"),
        (["follow-up", "--fitting", "F1", "--fitting", "F8"], 5, "no fitting F8 was known"),
        (["fitting", "--shaft", "S1", "--hub", "H8"], 5, "no hub H8 was known"),
        (["follow-up"], 2, "--fitting"),
        (["measuring", "--language", "xx"], 2, "'xx' is not there; allowed: en"),
        (["measuring", "--check-piece", "0"], 2, "allowed: a size of 0.1 to 100 mm"),
        (["measuring", "--check-piece", "0.236"], 2, "allowed: half to twice that; 5.994 if that is in inches"),
        (["measuring", "--shaft", "S1", "--pattern", "D9"], 2, "shaft S1 is of pattern D8; leave --pattern out"),
    ],
)
def test_what_cannot_be_asked_for_is_told(
    arguments: list[str], code: int, words: str, store: Path, tmp_path: Path
) -> None:
    refused = run(store, *arguments, "--out", tmp_path / "forms")
    assert refused.exit_code == code, refused.output
    assert words in refused.output
    assert not (tmp_path / "forms").exists()


def test_without_a_pattern_several_are_named(store: Path, tmp_path: Path) -> None:
    (tmp_path / "patterns.csv").write_text(
        "pattern,splines,width_mm,space_width_mm,minor_mm,major_mm,engaged_mm\nD6,6,6,6.01,26,30,28\n"
    )
    added = CliRunner().invoke(app, ["store", "add", str(tmp_path / "patterns.csv"), "--store", str(store)])
    assert added.exit_code == 0, added.output
    refused = run(store, "measuring", "--out", tmp_path / "forms")
    assert refused.exit_code == 2
    assert "the store knows D6, D8; say --pattern NAME" in refused.output


def test_a_folder_that_is_a_file_is_told(store: Path, tmp_path: Path) -> None:
    (tmp_path / "forms").write_text("here")
    refused = run(store, "book", "--out", tmp_path / "forms")
    assert refused.exit_code == 4
    assert "cannot be written to" in refused.output
