"""Whatever words are given to what takes back: it is done, or refused with a reason, and keys and sums hold."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from contextlib import suppress

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.robustness.fuzz import sound
from tests.store.support.small_store import make_store
from wearstats.domain.tables import TABLES
from wearstats.errors import InputError, UsageError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.taking_back.rename import merge, rename
from wearstats.store.taking_back.retract import retract
from wearstats.store.taking_back.undo import intake_named, undo

ON = datetime.date(2026, 7, 1)
ODD = st.one_of(
    st.sampled_from(
        ["S1", "H1", "F1", "I1", "2026-03-18", "", " ", "'; drop table shafts; --", "\u202eS1", "1e400", "%"]
    ),
    st.text(max_size=12),
)
KINDS = st.sampled_from(["shafts", "hubs", "measurers", "hub", "gauges", ""])


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    path = make_store(tmp_path_factory.mktemp("words") / "bench.duckdb")
    with open_store(path, write=True) as opened:
        yield opened


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    table=st.sampled_from([*(table.name for table in TABLES), "fitting", "nothing"]),
    words=st.lists(ODD, min_size=1, max_size=4),
    kind=KINDS,
    what=st.integers(0, 3),
)
def test_it_is_done_or_refused(store: Store, table: str, words: list[str], kind: str, what: int) -> None:
    last = words[-1]
    with suppress(InputError, UsageError):
        if what == 0:
            undo(store, intake_named(store, words[0]), on=ON)
        elif what == 1:
            retract(store, table, words, on=ON, instead={"seen_on": last} if len(words) > 2 else None)
        else:
            (rename if what == 2 else merge)(store, kind, words[0], last, on=ON)
    sound(store)
    for number in store.rows("select intake from intakes where kind <> 'add' and undoes is null order by 1 desc"):
        # what was done is taken back, so that the next words find the same store
        if not store.value("select count(*) from intakes where undoes = $number", {"number": number[0]}):
            undo(store, number[0], on=ON)
