"""Rows kept out: closed when they come in mended, dismissed with a reason, never deleted."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, make_store
from wearstats.errors import UsageError
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.intake.reports import IntakeReport
from wearstats.store.kept_out.files import dismiss_rejects, list_rejects, problem_of

ON = datetime.date(2026, 5, 1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as opened:
        yield opened


def added(store: Store, tmp_path: Path, name: str, text: str) -> IntakeReport:
    (tmp_path / name).write_text(text)
    return add_files(store, [tmp_path / name], added_on=LATE)


def still_open(store: Store) -> list[int]:
    return [int(number) for number in list_rejects(store)["reject"]]


# table, a file with one bad row, and the same file with that row mended
MENDED = {
    "a value": ("hubs", "hub,pattern,undersize_um\nH8,D8,50\nH9,D8,x\n", ("D8,x", "D8,75")),
    "the key": ("readings", "inspection,spline,station,width\nI1,1,nut-end,5.98\nI1,11,shoulder,5.98\n", ("11", "1")),
    "a blank key": ("hubs", "hub,pattern,undersize_um\nH8,D8,50\n,D8,75\n", ("\n,D8", "\nH9,D8")),
    "on paper": ("readings", "inspection,spline,shoulder,nut-end\nI1,1,59.8,5.97\n", ("59.8", "5.98")),
    "two cells": ("hubs", "hub,pattern,undersize_um,batch,space_u_um\nH9,D8,x,B1,y\n", ("x,B1,y", "75,B1,2")),
    "a contradiction": ("hubs", "hub,pattern,undersize_um\nH1,D8,60\nH8,D8,50\n", ("H1,D8,60", "H1,D8,50")),
}  # fmt: skip


@pytest.mark.parametrize("case", MENDED)
def test_a_row_mended_in_its_file_closes_its_reject(case: str, store: Store, tmp_path: Path) -> None:
    table, text, (old, new) = MENDED[case]
    assert added(store, tmp_path, f"{table}.csv", text).kept_out == 1
    assert still_open(store) == [1]
    report = added(store, tmp_path, f"{table}.csv", text.replace(old, new))
    assert (report.kept_out, report.settled) == (0, 1)
    assert still_open(store) == []


def test_another_file_of_the_same_name_closes_nothing(store: Store, tmp_path: Path) -> None:
    added(store, tmp_path, "hubs.csv", "hub,pattern,undersize_um\nH8,D8,x\n")
    report = added(store, tmp_path, "hubs.csv", "hub,pattern,undersize_um\nH9,D8,75\n")
    assert report.settled == 0
    assert still_open(store) == [1]


def test_dismissed_rows_stay_with_the_reason(store: Store, tmp_path: Path) -> None:
    added(store, tmp_path, "hubs.csv", "hub,pattern,undersize_um\nH7,D8,x\nH8,D8,y\nH9,D8,z\n")
    assert dismiss_rejects(store, [2], on=ON, because="never made") == [2]
    assert still_open(store) == [1, 3]
    kept = list_rejects(store, settled=True).set_index("reject")
    assert list(kept.index) == [1, 2, 3]
    assert (kept.loc[2, "dismissed_because"], str(kept.loc[2, "dismissed_on"])[:10]) == ("never made", "2026-05-01")
    assert dismiss_rejects(store, [], on=ON, because="old") == [1, 3]
    assert still_open(store) == []
    assert store.value("select count(*) from rejects") == 3
    # the check says no more of them from that day on, and did before
    assert not [found for found in run_checks(store, as_of=LATE) if "kept out" in found.found]


def test_only_open_ones_can_be_dismissed(store: Store, tmp_path: Path) -> None:
    added(store, tmp_path, "hubs.csv", "hub,pattern,undersize_um\nH7,D8,x\n")
    with pytest.raises(UsageError, match=r"--dismiss: 7 is not among the rows kept out and still to be mended; 1"):
        dismiss_rejects(store, [1, 7], on=ON, because="")
    assert still_open(store) == [1]


def test_a_dismissed_row_may_still_come_in(store: Store, tmp_path: Path) -> None:
    added(store, tmp_path, "hubs.csv", "hub,pattern,undersize_um\nH7,D8,x\n")
    dismiss_rejects(store, [], on=ON, because="")
    assert added(store, tmp_path, "hubs.csv", "hub,pattern,undersize_um\nH7,D8,50\n").kept_out == 0


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("hub,pattern,undersize_um\nH9,D8,5000\n", "check the unit and the decimals; for example: 50"),
        ("hub,pattern,undersize_um\n,D8,50\n", "fill it in; for example: H-204"),
        ("hub,pattern,undersize_um\nH9,D8\n", 'put text with delimiters in "quotes"; for example: H-204,8x36x40,50'),
    ],
)
def test_each_refusal_shows_one_right_value(text: str, told: str, store: Store, tmp_path: Path) -> None:
    (problem,) = added(store, tmp_path, "hubs.csv", text).files[0].problems
    assert problem.endswith(told)
    assert str(problem_of(list_rejects(store).to_dict("records")[0])) == problem


@pytest.mark.parametrize("kind", ["micrometer", "Micrometer", "mic", "outside micrometer"])
def test_a_micrometer_is_asked_which(kind: str, store: Store, tmp_path: Path) -> None:
    text = f"gauge,kind,unit,resolution\nG9,{kind},inch,0.001\n"
    (problem,) = added(store, tmp_path, "gauges.csv", text).files[0].problems
    assert f"row 2, kind: '{kind}' does not say which kind; micrometer-flat (flat anvils" in problem
    assert problem.endswith("for example: micrometer-flat")


def test_gauges_by_other_words_and_units_alike(store: Store, tmp_path: Path) -> None:
    text = 'gauge,kind,unit,resolution\nG7,flat micrometer,"""",0.001\nG8,vernier,inch,0.001 in\n'
    text += "G9,Blade micrometer,Inches,0.001\n"
    assert added(store, tmp_path, "gauges.csv", text).kept_out == 0
    assert store.rows("select gauge, kind, unit, resolution_um from gauges where gauge > 'G2' order by 1") == [
        ("G7", "micrometer-flat", "in", 25.4),
        ("G8", "caliper", "in", 25.4),
        ("G9", "micrometer-blade", "in", 25.4),
    ]


# what stands in the file, and the line on which an editor shows the bad row
LINES = {
    "plain": ("hub,pattern,undersize_um\nH8,D8,50\nH9,D8,x\n", 3),
    "blank lines": ("\n\nhub,pattern,undersize_um\n\nH8,D8,50\n\n\nH9,D8,x\n", 8),
    "cells of several lines": ('hub,pattern,undersize_um,note\nH8,D8,50,"a\nb\nc"\nH9,D8,x,\n', 5),
    "a bad row of several lines": ('hub,pattern,undersize_um,note\nH8,D8,50,"a\nb"\nH9,D8,x,"c\nd"\nH7,D8,50,\n', 4),
    "a heading of several lines": ('hub,pattern,undersize_um,"a\nb"\nH8,D8,50,\nH9,D8,x,\n', 4),
    "Windows line ends": ("hub,pattern,undersize_um\r\n\r\nH8,D8,50\r\nH9,D8,x\r\n", 4),
    "old line ends": ("hub,pattern,undersize_um\rH8,D8,50\rH9,D8,x\r", 3),
}


@pytest.mark.parametrize("size", [0, 1 << 40], ids=["fast", "careful"])
@pytest.mark.parametrize("case", LINES)
def test_rows_are_numbered_as_an_editor_numbers_lines(
    case: str, size: int, store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in ("staging", "scan"):
        monkeypatch.setattr(f"wearstats.store.parsing.{module}.FAST_FROM_BYTES", size)
    text, line = LINES[case]
    (tmp_path / "hubs.csv").write_bytes(text.encode())
    report = add_files(store, [tmp_path / "hubs.csv"], added_on=LATE)
    (problem,) = report.files[0].problems
    assert problem.startswith(f"hubs.csv, row {line}, undersize_um: 'x'")
    assert "x" in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")[line - 1]
