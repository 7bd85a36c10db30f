"""Whatever is added, corrected and taken back: of every day one row of a key at most, and the past stays as it was."""

from __future__ import annotations

import datetime
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.store.support.small_store import make_store
from wearstats.domain.tables import TABLES
from wearstats.errors import InputError, UsageError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.taking_back.rename import merge, rename
from wearstats.store.taking_back.retract import retract
from wearstats.store.taking_back.undo import undo

FIRST = datetime.date(2026, 6, 1)
TEXTS = (
    "shafts\nshaft,pattern,region\n{shaft},D8,{region}\n",
    "follow_ups\nfitting,seen_on,state\nF1,2026-02-{day},{state}\n",
    "readings\ninspection,spline,station,width\nI1,{day},middle,5.9{day}\nI2,1,shoulder,5.9{day}\n",
    "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
    "I9,{shaft},2026-05-01,o,home,G1,mm\n\nreadings\ninspection,spline,station,width\nI9,1,middle,5.9{day}\n",
    "hubs\nhub,pattern,undersize_um\n{hub},D8,50\n\nreturns\nhub,returned_on,reason\n{hub},2026-04-{day},not-needed\n",
    "gauges\ngauge,kind,unit,resolution\nG1,caliper,mm,0.0{day}\n",
    "check_pieces\npiece,size_mm\nCP-1,6.0{day}\n\n"
    "check_piece_loans\npiece,sent_on,shaft\nCP-1,2026-02-{day},{shaft}\n",
    "photos\nphoto,shaft,fitting,sha256,bytes\nP-1,{shaft},F1,ab,1{day}\n",
)
WORDS = st.fixed_dictionaries(
    {
        "shaft": st.sampled_from(["S1", "S2", "S3"]),
        "hub": st.sampled_from(["H1", "H2", "H3"]),
        "region": st.sampled_from(["carr", "upland"]),
        "day": st.sampled_from(["1", "2", "3"]).map(lambda figure: f"0{figure}"),
        "state": st.sampled_from(["tight", "loose"]),
    }
)
KEYS = (
    ("shafts", ["S2"]),
    ("follow_ups", ["F1", "2026-02-01"]),
    ("readings", ["I1", "1", "middle"]),
    ("inspections", ["I9"]),
    ("inspections", ["I1"]),
    ("hubs", ["H3"]),
    ("check_pieces", ["CP-1"]),
    ("photos", ["P-1"]),
    ("fittings", ["F1"]),
)
STEPS = st.one_of(
    st.tuples(st.just("add"), st.sampled_from(TEXTS), WORDS, st.booleans(), st.booleans(), st.booleans()),
    st.tuples(st.just("undo"), st.integers(1, 9), st.booleans()),
    st.tuples(st.just("retract"), st.sampled_from(KEYS), st.booleans()),
    st.tuples(
        st.just("name"), st.sampled_from(["shafts", "hubs"]), st.permutations(["1", "2", "3", "4"]), st.booleans()
    ),
)

TWICE = " union all ".join(
    f"select '{table.name}' as name, count(*) as rows from known_{table.name}($on) "
    f"group by {', '.join(chr(34) + name + chr(34) for name in table.key)} having count(*) > 1"
    for table in TABLES
)


def _do(store: Store, step: tuple[Any, ...], on: datetime.date) -> bool:
    """Take a step; whether it told what happened as known from its own day on."""
    what, *rest = step
    if what == "add":
        text, words, correct, history, again = rest
        bulk = True if history else None
        text = text.format(**words)
        return add_files(store, [], text=text, added_on=on, correct=correct, bulk=bulk, again=again).bulk
    if what == "undo":
        undo(store, rest[0], on=on, with_all=rest[1])
    elif what == "retract":
        retract(store, rest[0][0], rest[0][1], on=on, with_all=rest[1])
    else:
        kind, names, one = rest
        old, new = (f"{'S' if kind == 'shafts' else 'H'}{name}" for name in names[:2])
        (merge if one else rename)(store, kind, old, new, on=on)
    return False


def _past(store: Store, days: list[datetime.date]) -> list[list[tuple[Any, ...]]]:
    return [
        store.rows(f"select {columns} from known_{name}($on) order by all", {"on": day})
        for day in days
        for columns, name in [
            *(("* exclude (intake)", table.name) for table in TABLES),
            ("*", "inspection_moments"),
            ("*", "reading_counts"),
        ]
    ]


def _sums_hold(store: Store) -> None:
    assert store.rows("select * from inspection_moments order by all") == store.rows(
        "select inspection, spline, station, count(*), sum(width_tenth_um), sum(width_tenth_um::hugeint * "
        "width_tenth_um) from readings group by all order by all"
    )


def _take(steps: list[tuple[Any, ...]]) -> None:
    """Take steps in a small store, two a day, and see after each that the past stands and every key stands once."""
    with (
        tempfile.TemporaryDirectory() as folder,
        open_store(make_store(Path(folder) / "bench.duckdb"), write=True) as store,
    ):
        for number, step in enumerate(steps):
            on = FIRST + datetime.timedelta(days=number // 2)
            days = [FIRST + datetime.timedelta(days=day) for day in (-100, number // 2 - 1)]
            before = _past(store, days)
            history = False
            # a step that is refused does nothing
            with suppress(InputError, UsageError):
                history = _do(store, step, on)
            # what is told as history, or first, changes what is known of the past, and nothing else does
            if not history:
                assert _past(store, days) == before
            _sums_hold(store)
            for day in (*days, on):
                assert store.rows(TWICE, {"on": day}) == [], day


@settings(max_examples=4, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(steps=st.lists(STEPS, min_size=2, max_size=6))
def test_of_every_day_one_row_of_a_key_and_the_same_past(steps: list[tuple[Any, ...]]) -> None:
    _take(steps)


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(steps=st.lists(STEPS, min_size=2, max_size=10))
def test_so_it_is_of_many_more(steps: list[tuple[Any, ...]]) -> None:
    _take(steps)
