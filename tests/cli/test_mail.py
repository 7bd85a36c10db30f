"""From nothing to the first advice: one mail, with or without somebody to be asked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from openpyxl import Workbook
from typer.testing import CliRunner, Result

from wearstats.cli import mail as mail_command
from wearstats.cli.main import app

MAIL = """Hello, the hub rattles again.
Shaft P-17, pattern 8x36x40, measured 2026-11-20 by Jan with a flat micrometer, in mm:
1: 6.98 6.97 6.96 / 2: 6.97 6.97 6.97 / 3: 6.97 6.96 6.97 / 4: 6.98 6.97 6.96
5: 6.98 6.97 6.96 / 6: 6.98 6.97 6.96 / 7: 6.98 6.96 6.96 / 8: 6.98 6.97 6.96
"""


def ran(store: Path, *arguments: str, stdin: str | None = None) -> Result:
    given = ["shaft", *arguments, "--store", str(store), "--as-of", "2026-11-29"]
    return CliRunner().invoke(app, given, input=stdin, prog_name="wearstats")


def written(folder: Path, text: str) -> str:
    (folder / "mail.txt").write_text(text, encoding="utf-8")
    return str(folder / "mail.txt")


def test_from_nothing_to_the_first_advice(tmp_path: Path) -> None:
    store = tmp_path / "new.duckdb"
    answer = ran(store, "--from", written(tmp_path, MAIL))
    assert answer.exit_code == 0, answer.output
    assert answer.stdout.startswith("WHICH HUB FOR P-17?")
    assert f"{store}: no store was here, so one was made" in answer.stderr
    assert "mail.txt: 24 sizes kept of P-17" in answer.stderr
    # asked again, it is the same shaft; the mail given again is in already
    assert ran(store, "P-17").stdout == answer.stdout
    again = ran(store, "--from", "-", "P-17", stdin=MAIL)
    assert again.stdout == answer.stdout
    assert "pasted text: is in already" in again.stderr


def test_as_a_document(tmp_path: Path) -> None:
    answer = ran(tmp_path / "new.duckdb", "--from", written(tmp_path, MAIL), "--json")
    assert json.loads(answer.stdout)["shaft"] == "P-17"


def test_what_is_missing_is_named_and_nothing_is_left_behind(tmp_path: Path) -> None:
    store = tmp_path / "new.duckdb"
    refused = ran(store, "--from", written(tmp_path, MAIL.replace("flat ", "").replace(", in mm", "")))
    assert refused.exit_code == 3
    assert refused.stdout == ""
    for line in ("for example: kind: micrometer-flat", "for example: unit: mm", "write what is missing into the text"):
        assert line in refused.stderr
    assert [file.name for file in tmp_path.iterdir()] == ["mail.txt"]


def test_a_store_that_is_there_is_left_as_it_was(tmp_path: Path) -> None:
    store = tmp_path / "new.duckdb"
    ran(store, "--from", written(tmp_path, MAIL))
    refused = ran(store, "--from", "-", stdin=MAIL.replace("P-17", "P-18").replace("8: 6.98", "8: 69.8"))
    assert refused.exit_code == 3
    assert "pasted text, row 4, shoulder: '69.8' is far from 8x36x40's 7.000 mm" in refused.stderr
    assert ran(store, "P-18").exit_code != 0
    assert ran(store, "P-17").exit_code == 0


def test_names_must_agree(tmp_path: Path) -> None:
    refused = ran(tmp_path / "new.duckdb", "P-18", "--from", written(tmp_path, MAIL))
    assert refused.exit_code == 2
    assert "P-18: the mail speaks of P-17" in refused.stderr
    assert not (tmp_path / "new.duckdb").exists()


def test_neither_a_name_nor_a_mail(tmp_path: Path) -> None:
    refused = ran(tmp_path / "new.duckdb")
    assert refused.exit_code == 2
    assert "wearstats shaft S-17, or give a mail with --from FILE, or ask for --all" in refused.stderr
    assert ran(tmp_path / "new.duckdb", "--all", "--from", written(tmp_path, MAIL)).exit_code == 2


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02" * 40, b"%PDF-1.7 and so on"])
def test_a_file_that_is_no_mail(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "mail.txt").write_bytes(content)
    assert ran(tmp_path / "new.duckdb", "--from", str(tmp_path / "mail.txt")).exit_code == 3
    assert not (tmp_path / "new.duckdb").exists()


def test_at_a_terminal_one_thing_is_asked_after_the_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mail_command, "at_a_terminal", lambda: True)
    text = MAIL.replace("flat ", "").replace(", in mm", "").replace("Shaft P-17, ", "")
    # the second answer cannot be right, so it is asked for again
    answer = ran(
        tmp_path / "new.duckdb", "--from", written(tmp_path, text), stdin="P-17\nmic\nmicrometer-flat\nunit: mm\n"
    )
    assert answer.exit_code == 0, answer.output
    # what was typed is echoed where this runner keeps the answer
    assert "\nWHICH HUB FOR P-17?" in answer.stdout
    assert answer.stderr.count("for example: kind: micrometer-flat") == 2


def test_an_empty_answer_leaves_all_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mail_command, "at_a_terminal", lambda: True)
    refused = ran(tmp_path / "new.duckdb", "--from", written(tmp_path, MAIL.replace("flat ", "")), stdin="\n")
    assert refused.exit_code == 3
    assert not (tmp_path / "new.duckdb").exists()


def test_a_sheet_from_a_form_is_a_mail_too(tmp_path: Path) -> None:
    head = "readings\nshaft: P-17\npattern: 8x36x40\nmeasured_on: 2026-11-20\nmeasured_by: Jan\nmeasured_at: home\n"
    rows = "".join(f"{spline};6.98;6.97;6.96\n" for spline in range(1, 9))
    sheet = f"{head}kind: micrometer-flat\nunit: mm\nresolution: 0.01\nspline;shoulder;middle;nut-end\n{rows}"
    answer = ran(tmp_path / "new.duckdb", "--from", "-", stdin=f"Dear all,\n{sheet}")
    assert answer.exit_code == 0, answer.output
    assert answer.stdout.startswith("WHICH HUB FOR P-17?")


def test_a_filled_in_workbook_is_taken_as_well(tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "readings"
    said = {"shaft": "P-17", "pattern": "8x36x40", "measured_on": "2026-11-20", "measured_by": "Jan", "unit": "mm"}
    said |= {"measured_at": "home", "kind": "micrometer-flat", "resolution": "0.01"}
    for name, value in said.items():
        sheet.append([f"{name}:", value])
    sheet.append(["spline", "shoulder", "middle", "nut-end"])
    for spline in range(1, 9):
        sheet.append([spline, 6.98, 6.97, 6.96])
    book.save(tmp_path / "form.xlsx")
    answer = ran(tmp_path / "new.duckdb", "--from", str(tmp_path / "form.xlsx"))
    assert answer.exit_code == 0, answer.output
    assert answer.stdout.startswith("WHICH HUB FOR P-17?")
    assert "form.xlsx: 24 sizes kept of P-17" in answer.stderr
