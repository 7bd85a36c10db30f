"""Any text that a cell may hold comes back as it was, and none is left that a spreadsheet would run."""

from __future__ import annotations

import re

import duckdb
from hypothesis import given
from hypothesis import strategies as st

from wearstats.store.archive.export import PLAIN, harmless
from wearstats.store.parsing.cells import cleaned

STARTS = st.text(alphabet="'=+-@\t\r 1.,a", max_size=6)
# the store holds no text with blanks around it, and no empty one
TEXTS = st.builds(lambda start, rest: start + rest, STARTS, st.text(max_size=8)).map(cleaned)


@given(st.lists(TEXTS.filter(lambda text: text is not None and text == text.strip() and "\0" not in text), max_size=30))
def test_what_is_written_is_read_back_and_is_no_formula(texts: list[str]) -> None:
    sql = f"select {harmless('item')} from (select unnest($texts::varchar[]) as item)"
    written = [row[0] for row in duckdb.execute(sql, {"texts": texts}).fetchall()]
    assert [cleaned(text) for text in written] == texts
    assert not [text for text in written if text[0] in "=+-@\t\r" and not re.fullmatch(PLAIN, text)]


@given(st.floats(allow_nan=False, allow_infinity=False, width=32), st.integers())
def test_numbers_stay_numbers(number: float, whole: int) -> None:
    for text in (f"{number:.6f}", str(whole)):
        found = duckdb.execute(f"select {harmless('item')} from (select $text as item)", {"text": text}).fetchall()
        assert found == [(text,)]
