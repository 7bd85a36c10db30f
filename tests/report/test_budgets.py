"""What may be said on a terminal: how much of it, how wide, how many numbers, and no number that is nonsense."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from tests.support.small_stores import SMALL_STORES
from wearstats.cli.running.output import in_lines
from wearstats.errors import AnalysisError
from wearstats.report.answers import short_answers, wording
from wearstats.report.rendering.short_answer import SURE, WIDTH, ShortAnswer, SmallTable
from wearstats.report.rendering.tables import plain_lines
from wearstats.studies.gaps.contact import study_contact_seen
from wearstats.studies.gauging.study import study_gauging
from wearstats.studies.loosening.study import study_loosening
from wearstats.studies.methods.study import study_methods
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.study import study_wear

VERDICT_WORDS, LINE_NUMBERS, TABLE_ROWS = 15, 4, 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """How a question is asked, and how much its short answer may say.

    Parameters
    ----------
    ask : callable
        Its study.
    lines, words : int
        Of all its short answers together.
    plain : bool
        Whether its full answer is held to one style too.
    """

    ask: Callable[[Snapshot], Any]
    lines: int = 14
    words: int = 160
    plain: bool = True


BUDGETS = {
    "methods": Budget(ask=study_methods),
    "loosening": Budget(ask=study_loosening),
    "wear": Budget(ask=study_wear),
    "gauging": Budget(ask=study_gauging),
    "contact": Budget(ask=study_contact_seen),
}

NUMBER = re.compile(r"(?<![\w.])[-\u2212]?\d[\d\u202f]*(?:\.\d+)?")
NONSENSE = {
    "a size that rounds to nothing": re.compile(r"\b0\.0+ (in|mm)\b"),
    "minus nothing": re.compile(r"[-\u2212]0(?:\.0+)?(?![.\d])"),
    "no number at all": re.compile(r"\b(nan|NaN|inf)\b|[a-z\d(=,] ?None\b"),
    "an interval of one number": re.compile(r"(?<![\d.\u2212])([\d.]+( fewer| more)?) to \1(?![\d.])(?! (fewer|more))"),
    "an interval that repeats its number": re.compile(r"(\S+) \(\1 to \1\)"),
    "an interval that says nothing": re.compile(r"\(0 to 100\)"),
    "an interval of the old style": re.compile(r"between [\d.]+.{0,8} and [\d.]+"),
}
NOT_OURS = re.compile(r"\b(foretold|foretells?|beside|laws?|mil)\b", re.IGNORECASE)


@pytest.fixture(params=["demo", *SMALL_STORES])
def store(request: pytest.FixtureRequest) -> str:
    name: str = request.param
    return name


@pytest.fixture(params=list(BUDGETS))
def question(request: pytest.FixtureRequest) -> str:
    name: str = request.param
    return name


@pytest.fixture
def answer(store: str, question: str, snapshot_of: Callable[[str], Snapshot]) -> Any:
    """Give an answer, or the error that says why there is none."""
    try:
        return BUDGETS[question].ask(snapshot_of(store))
    except AnalysisError as error:
        return error


def _answered(question: str, answer: Any) -> tuple[ShortAnswer, ...]:
    if isinstance(answer, AnalysisError):
        pytest.skip("this store cannot answer")
    return short_answers(question, answer)


def test_a_question_stays_within_its_budget(question: str, answer: Any) -> None:
    shorts = _answered(question, answer)
    lines = [line for short in shorts for line in short.lines()]
    text = "\n".join(lines)
    assert len(lines) <= BUDGETS[question].lines, text
    assert len(text.split()) <= BUDGETS[question].words, text
    assert max(map(len, lines)) <= WIDTH, text
    for short in shorts:
        assert len(short.verdict.split()) <= VERDICT_WORDS, short.verdict
        assert not short.verdict.endswith("."), short.verdict
        assert short.more.startswith("wearstats "), short.more


def test_a_line_has_few_numbers_and_a_table_few_rows(question: str, answer: Any) -> None:
    for short in _answered(question, answer):
        tables = [part for part in short.body if isinstance(part, SmallTable)]
        assert len(tables) <= 1
        assert all(len(table.rows) <= TABLE_ROWS for table in tables)
        of_tables = {line for table in tables for line in table.lines()}
        for line in short.lines()[1:]:
            assert line in of_tables or len(NUMBER.findall(line)) <= LINE_NUMBERS, line


def test_a_table_needs_no_broken_cells(question: str, answer: Any) -> None:
    for short in _answered(question, answer):
        for table in (part for part in short.body if isinstance(part, SmallTable)):
            assert len(table.lines()) == len(table.rows) + 1 + bool(table.note), "\n".join(table.lines())


def test_no_number_is_nonsense(question: str, answer: Any) -> None:
    shorts = _answered(question, answer)
    words = wording(question)
    said = [line for short in shorts for line in short.lines()]
    full = [*words.sentences(answer), *(line for table in words.tables(answer) for line in plain_lines(table))]
    for line in said + (full if BUDGETS[question].plain else []):
        assert {what for what, found in NONSENSE.items() if found.search(line)} == set(), line


def test_the_full_answer_says_nothing_twice_and_how_sure_once(question: str, answer: Any) -> None:
    _answered(question, answer)
    if not BUDGETS[question].plain:
        pytest.skip("not held to one style yet")
    sentences = list(wording(question).sentences(answer))
    assert sentences[-1] == SURE
    assert sum(sentence.count("% sure") for sentence in sentences) == 1
    # a sentence ends where another begins with a capital
    parts = Counter(part for sentence in sentences for part in re.split(r"(?<=[.?]) (?=[A-Z])", sentence))
    assert {part: times for part, times in parts.items() if times > 1} == {}
    assert [found for sentence in sentences for found in NOT_OURS.findall(sentence)] == []


def test_a_store_that_cannot_answer_says_what_would_in_two_lines(answer: Any) -> None:
    if not isinstance(answer, AnalysisError):
        pytest.skip("it can")
    lines = f"wearstats: {in_lines(answer)}".split("\n")
    assert len(lines) == 2
    assert lines[1].startswith("  What would tell: ")
    assert max(map(len, lines)) <= WIDTH, lines


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("0.001 mm (0.0000 in)", "a size that rounds to nothing"),
        ("lost \u22120 µm", "minus nothing"),
        ("about nan hours", "no number at all"),
        ("3 (0 to 0)", "an interval of one number"),
        ("3 fewer (2 fewer to 2 fewer)", "an interval of one number"),
        ("4.9 (4.9 to 4.9)", "an interval that repeats its number"),
        ("0 in 100 (0 to 100)", "an interval that says nothing"),
        ("16 in 100 (between 9.8 and 24)", "an interval of the old style"),
    ],
)
def test_nonsense_is_found(line: str, what: str) -> None:
    assert NONSENSE[what].search(line)


@pytest.mark.parametrize("line", ["0.05 mm", "10 (0.1 to 100)", "\u22120.4", "4 (1 fewer to 1 more)", "5 (4 to 40)"])
def test_sense_is_let_through(line: str) -> None:
    assert not any(found.search(line) for found in NONSENSE.values())


def test_numbers_are_counted_and_names_are_not() -> None:
    assert len(NUMBER.findall("S0269, in about 5\u202f600 hours (62 to \u22121.5); I00421")) == 3
