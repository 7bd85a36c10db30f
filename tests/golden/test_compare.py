"""Answers are the same where they are, and what is not is told with its place."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from tests.golden.compare import compare_answers, compare_texts, compare_values, ignored


def found(old: Any, new: Any, rtol: float = 1e-9) -> list[str]:
    return [str(difference) for difference in compare_values(old, new, rtol=rtol)]


def answer(**changed: Any) -> dict[str, Any]:
    return {"exit_code": 0, "stdout": json.dumps({"shafts": 3}), "stderr": "", "files": {}} | changed


def told(old: dict[str, Any], new: dict[str, Any]) -> list[str]:
    return [str(difference) for difference in compare_answers(old, new)]


@pytest.mark.parametrize("value", [1, 0, True, None, "tight", 0.25, 0.0, [], {}, {"a": [1, {"b": [None, 2.5]}]}])
def test_what_is_the_same_is_equal(value: Any) -> None:
    assert found(value, json.loads(json.dumps(value))) == []


def test_the_order_of_keys_does_not_matter() -> None:
    assert found({"a": 1, "b": 2}, {"b": 2, "a": 1}) == []


def test_floats_may_differ_as_far_as_is_said() -> None:
    assert found({"x": 1e6}, {"x": 1e6 * (1 + 0.9e-9)}) == []
    assert found({"x": -2.0}, {"x": -2.0 * (1 + 1.5e-9)}) == ["x: -2.0 -> -2.000000003 (relative difference 1.5e-09)"]
    assert found({"x": -2.0}, {"x": -2.000000003}, rtol=1e-8) == []
    # small numbers are numbers too
    assert found(1e-15, 2e-15) == [": 1e-15 -> 2e-15 (relative difference 0.5)"]


def test_nothing_is_as_good_as_nothing() -> None:
    assert found({"x": 0.0}, {"x": 9e-13}) == []
    assert found({"x": -9e-13}, {"x": 0.0}) == []
    assert found({"x": 0.0}, {"x": 2e-12}) == ["x: 0.0 -> 2e-12 (relative difference 1)"]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (3, 4, "x: 3 -> 4"),
        (3, 3.0, "x: 3 -> 3.0"),
        (True, 1, "x: true -> 1"),
        (None, 0.5, "x: null -> 0.5"),
        (0.5, None, "x: 0.5 -> null"),
        ("tight", "loose", 'x: "tight" -> "loose"'),
        ([1], {"a": 1}, 'x: [1] -> {"a": 1}'),
        ([1, 2], [1, 2, 3], "x: 2 items -> 3 items"),
    ],
)
def test_other_values_must_be_equal_in_kind_too(old: Any, new: Any, line: str) -> None:
    assert found({"x": old}, {"x": new}) == [line]


def test_a_key_on_one_side_only_is_told_with_what_it_holds() -> None:
    assert found({"a": {"b": 1, "c": 2}}, {"a": {"b": 1}}) == ["a.c: 2 -> nothing"]
    assert found({}, {"plan": ["x" * 200]}) == [f'plan: nothing -> ["{"x" * 68}…']


def test_a_place_is_a_path() -> None:
    old = {"by_pattern": {"D8": {"plans": [{"k": 1}, {"k": 2}]}}}
    new = {"by_pattern": {"D8": {"plans": [{"k": 1}, {"k": 3}]}}}
    assert found(old, new) == ["by_pattern.D8.plans[1].k: 2 -> 3"]


def test_text_is_compared_line_by_line() -> None:
    old, new = "one\ntwo\nthree\n", "one\n2\nthree\nfour\n"
    lines = [str(difference) for difference in compare_texts(old, new, name="page")]
    assert lines == ["page line 2: 'two' -> '2'", "page line 4: nothing -> 'four'"]
    assert list(compare_texts(old, old, name="page")) == []


def test_of_a_long_line_what_differs_is_shown() -> None:
    old, new = "a" * 5000 + "b" + "c" * 5000, "a" * 5000 + "x" + "c" * 5000
    (difference,) = compare_texts(old, new, name="page")
    assert "ab" in difference.old
    assert "ax" in difference.new
    assert len(difference.old) < 100


def test_an_answer_is_all_that_came_out() -> None:
    assert told(answer(), answer(stdout=' {"shafts":  3}')) == []
    assert told(answer(), answer(exit_code=5)) == ["exit code: 0 -> 5"]
    assert told(answer(), answer(stderr="a note")) == ["stderr line 1: '' -> 'a note'"]
    assert told(answer(), answer(stdout="words")) == ["stdout line 1: '{\"shafts\": 3}' -> 'words'"]
    assert told(answer(stdout="a 1"), answer(stdout="a 2")) == ["stdout line 1: 'a 1' -> 'a 2'"]
    assert told(answer(files={"report.html": "<p>"}), answer()) == ["report.html line 1: '<p>' -> ''"]


def test_named_differences_are_left_out() -> None:
    patterns = [re.compile(r"^demo/wear.*by_pattern\."), re.compile(r"store_version")]
    assert ignored("demo/wear/D8/2026-09-30/1: by_pattern.D8.shafts: 3 -> 4", patterns)
    assert ignored("odd/store info/all/2026-12-31/1: store_version: 1 -> 2", patterns)
    assert not ignored("odd/wear/D8/2026-12-31/1: by_pattern.D8.shafts: 3 -> 4", patterns)
