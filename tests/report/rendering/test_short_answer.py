"""A short answer keeps to eighty columns, names what it is about as it is written, and loses no word."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from wearstats.report.rendering.short_answer import WIDTH, ShortAnswer, SmallTable

WORD = st.text(alphabet="abcdefg0123", min_size=1, max_size=18)
TEXT = st.lists(WORD, min_size=1, max_size=40).map(" ".join)
TABLE = st.lists(st.tuples(WORD, WORD, TEXT), min_size=1, max_size=5).map(
    lambda rows: SmallTable(head=("one", "two", "why"), rows=tuple(rows), chosen=0, left=frozenset({0, 2}))
)


@given(verdict=TEXT, body=st.lists(TEXT | TABLE, max_size=4), more=TEXT)
def test_keeps_to_the_width_and_loses_nothing(verdict: str, body: list[str | SmallTable], more: str) -> None:
    answer = ShortAnswer(question="How so?", verdict=verdict, body=tuple(body), more=more[: WIDTH - 12])
    lines = answer.lines()
    assert all(len(line) <= WIDTH and line == line.rstrip() for line in lines)
    words = " ".join(lines).lower().split()
    for part in body:
        said = part.split() if isinstance(part, str) else [word for row in part.rows for word in " ".join(row).split()]
        assert {word.lower() for word in said} <= set(words)
    assert set(verdict.lower().split()[:-1]) <= set(words)


def test_a_name_stays_as_it_is_written() -> None:
    answer = ShortAnswer(question="Which hub for {}?", about="pump-17 ß", verdict="send it")
    assert answer.lines()[0] == "WHICH HUB FOR pump-17 ß?  Send it."


def test_the_row_spoken_of_is_marked_and_a_long_reason_is_broken_under_itself() -> None:
    table = SmallTable(
        head=("size", "cost", ""),
        rows=(("0", "9", "rattles"), ("20", "10", "word " * 30)),
        chosen=1,
        left=frozenset({2}),
    )
    head, first, second, *rest = table.lines()
    assert (head, first) == ("    size  cost", "       0     9  rattles")
    assert second.startswith("  >   20    10  word word")
    assert rest
    assert all(line.startswith(" " * 16 + "word") for line in rest)


def test_foot_and_more_share_a_line_where_they_fit() -> None:
    short = ShortAnswer(question="So?", verdict="no", more="wearstats so --full")
    assert short.lines()[-1] == "  Brackets: 95 % sure.   More: wearstats so --full"
    long = ShortAnswer(question="So?", verdict="no", foot="word " * 15, more="wearstats so --full")
    assert long.lines()[-1] == "  More: wearstats so --full"
