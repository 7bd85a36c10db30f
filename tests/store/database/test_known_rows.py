"""What was known on a day, where it is less than plain: months, hearsay, and the counts of coarse gauges."""

from __future__ import annotations

import datetime
from pathlib import Path

from tests.store.support.small_store import Rows, make_store
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files


def _add(store: Store, added_on: str, text: str, *, correct: bool = False) -> None:
    report = add_files(store, [], text=text, added_on=datetime.date.fromisoformat(added_on), correct=correct)
    assert report.kept_out == 0, report.to_dict()


def _known(store: Store, table: str, as_of: str, columns: str = "*") -> list[tuple[object, ...]]:
    day = datetime.date.fromisoformat(as_of)
    return store.rows(f"select {columns} from known_{table}($as_of::date) order by all", {"as_of": day})


def test_counts_of_coarse_gauges_are_those_of_the_readings_known(tmp_path: Path) -> None:
    text = (
        "gauges\ngauge,kind,unit,resolution\nG7,caliper,mm,0.01\n\n"
        "inspections\ninspection,shaft,measured_on,measured_by,measured_at,gauge,unit\n"
        "I7,S1,2026-04-01,w,workshop,G7,mm\n\n"
        "readings\ninspection,spline,station,width\nI7,1,middle,5.98\nI7,2,middle,5.98\n"
    )
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as store:
        _add(store, "2026-04-02", text)
        _add(store, "2026-06-01", "readings\ninspection,spline,station,width\nI7,3,middle,5.98\n")
        assert _known(store, "reading_counts", "2026-04-01") == []
        assert _known(store, "reading_counts", "2026-05-31") == [("I7", 59800, 2)]
        assert _known(store, "reading_counts", "2026-06-01") == [("I7", 59800, 3)]


def test_a_month_of_a_first_load_has_surely_happened_when_it_is_over(tmp_path: Path) -> None:
    rows = {
        "fittings": [{"fitting": "F1", "shaft": "S1", "hub": "H1", "fitted_on": "2026-03", "method": "as-supplied"}]
    }
    with open_store(make_store(tmp_path / "bench.duckdb", rows), write=True) as store:
        _add(store, "2026-03-10", "fittings\nfitting,shaft,hub,fitted_on,method\nF2,S2,H2,2026-03,as-supplied\n")
        assert _known(store, "fittings", "2026-03-09", "fitting") == []
        # what was told on the tenth had happened by then
        assert _known(store, "fittings", "2026-03-10", "fitting") == [("F2",)]
        assert _known(store, "fittings", "2026-03-31", "fitting") == [("F1",), ("F2",)]


def test_a_fitting_of_a_first_load_counts_from_when_it_was_heard_of(tmp_path: Path) -> None:
    fitting = {"fitting": "F1", "shaft": "S1", "hub": "H1", "fitted_on": "2025-03-01", "method": "as-supplied"}
    rows: Rows = {"fittings": [fitting | {"known_from": "2026-01-15"}]}
    with open_store(make_store(tmp_path / "bench.duckdb", rows)) as store:
        assert _known(store, "fittings", "2026-01-14") == []
        assert _known(store, "fittings", "2026-01-15", "fitting") == [("F1",)]
