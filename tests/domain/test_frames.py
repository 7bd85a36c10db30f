"""Columns are told from what is declared, and a result that has others is caught."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import pandas as pd
import pytest

from tests.support.declared_frames import declared, hold_to_columns, kinds_of
from wearstats.domain.frames import columns

ROWS = columns(text="fitting", number="gap_um play_um?", whole="n")


@dataclass(frozen=True)
class Result:
    """One frame."""

    rows: Annotated[pd.DataFrame, ROWS]


def frame(**changed: float | str) -> pd.DataFrame:
    return pd.DataFrame({"fitting": ["F1"], "gap_um": [1.5], "n": [2]}).assign(**changed)


def test_kinds_are_told_from_values_and_missing_ones_tell_nothing() -> None:
    day = pd.Timestamp("2026-01-02")
    told = pd.DataFrame({"a": ["x"], "b": [1.0], "c": [True], "d": [day], "e": [None], "f": [[1]]})
    assert kinds_of(told) == {"a": "text", "b": "number", "c": "flag", "d": "day", "e": None, "f": "any"}


@pytest.mark.parametrize(
    ("rows", "problem"),
    [
        (frame(), None),
        (frame(play_um=3.0), None),
        (frame(gap_um=2), None),
        (frame().drop(columns="n"), "no column n"),
        (frame(colour="red"), "column colour is not declared"),
        (frame(gap_um="wide"), "column gap_um holds text, not number"),
    ],
)
def test_a_frame_is_as_declared_or_its_problem_is_told(rows: pd.DataFrame, problem: str | None) -> None:
    assert ROWS.problems(kinds_of(rows)) == ([] if problem is None else [problem])


def test_a_result_is_held_to_what_it_declares() -> None:
    assert declared(Result) == {"rows": ROWS}
    hold_to_columns(Result, maker=__name__)
    Result(rows=frame())
    with pytest.raises(AssertionError, match=r"Result\.rows: no column n"):
        Result(rows=frame().drop(columns="n"))


def test_a_kind_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="colour: no kind of column"):
        columns(colour="red")
