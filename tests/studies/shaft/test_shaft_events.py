"""What was done to a shaft, or sent for it, after its last reading: what the answers then may still say."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import pytest

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.analysis.advice.remarks import Finding, First
from wearstats.domain.tables import WIDTH_CHANGES
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.gaps.records import choices_on_record
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.inputs.hubs_in_use import read_hubs_in_use
from wearstats.studies.inputs.widths import read_widths, readings_in_hand
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.records import read_needs

_EVENTS = ("dressed", "built-up", "reground", "replaced", "scrapped", "crack-tested")
_SHAFTS = [
    *_EVENTS,
    *(f"{what} under a hub" for what in _EVENTS),
    "sent",
    "sent and back",
    "sent of a withdrawn batch",
    "sent though it came back loose",
    "sent after one that holds",
    "scrapped as last seen",
    "dressed before the hub",
    "asked for and scrapped",
]


def _hub(shaft: str) -> str:
    return f"H-{shaft}"


@pytest.fixture(scope="module")
def snapshot(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    folder = tmp_path_factory.mktemp("events")
    # all were measured on 2026-01-02
    path = make_shop(
        folder / "s.duckdb",
        {name: splines(4.40 - 0.001 * at, 4.39, 4.40) for at, name in enumerate(_SHAFTS)},
        folder=folder,
    )
    fitted = [
        name for name in _SHAFTS if name.endswith(("under a hub", "last seen", "before the hub", "one that holds"))
    ]
    sent = [name for name in _SHAFTS if name.startswith("sent")]
    events = [(name, "2026-01-20", name.split(" ")[0]) for name in _SHAFTS if name.split(" ")[0] in _EVENTS]
    days = {"dressed before the hub": "2026-01-04", "scrapped as last seen": "2026-01-20"}
    tables = {
        "batches": "batch,pattern,undersize_um,made_on,quantity\nB1,P10,25,2024-06-01,10\nB2,P10,25,2024-06-01,10\n",
        "hubs": "hub,pattern,undersize_um,batch\n"
        + "".join(f"{_hub(name)},P10,25,{'B2' if 'withdrawn' in name else 'B1'}\n" for name in {*fitted, *sent})
        + "H-second,P10,50,B1\n",
        "dispatches": "hub,sent_on,shaft\n"
        + "".join(f"{_hub(name)},2026-01-05,{name}\n" for name in [*fitted, *sent])
        + "H-second,2026-01-25,sent after one that holds\n",
        "fittings": "fitting,shaft,hub,fitted_on,method\n"
        + "".join(f"F-{name},{name},{_hub(name)},2026-01-08,as-supplied\n" for name in fitted),
        "follow_ups": "fitting,seen_on,state\nF-scrapped as last seen,2026-01-20,tight\n"
        "F-sent after one that holds,2026-01-20,tight\n",
        "returns": "hub,returned_on,reason\nH-sent and back,2026-01-15,not-needed\n"
        "H-sent though it came back loose,2026-01-03,worked-loose\n",
        "shaft_events": "shaft,happened_on,what\n"
        + "".join(f"{name},{days.get(name, day)},{what}\n" for name, day, what in events)
        + "asked for and scrapped,2026-01-20,scrapped\n",
        "orders": "order,ordered_on,pattern,shaft,outcome\nO1,2026-01-10,P10,asked for and scrapped,\n"
        "O2,2026-01-10,P10,dressed,\n",
    }
    files = []
    for table, text in tables.items():
        files.append(folder / f"{table}.csv")
        files[-1].write_text(text, encoding="utf-8")
    withdrawn = folder / "withdrawn" / "batches.csv"
    withdrawn.parent.mkdir()
    withdrawn.write_text(
        "batch,pattern,undersize_um,made_on,quantity,withdrawn_on,withdrawn_because\n"
        "B2,P10,25,2024-06-01,10,2026-01-28,soft\n",
        encoding="utf-8",
    )
    with open_store(path, write=True) as store:
        report = add_files(store, files, added_on=AS_OF)
        assert sum(count.rejected for count in report.files) == 0, report
        add_files(store, [withdrawn], added_on=AS_OF, correct=True)
    with open_store(path) as store:
        yield Snapshot(store=store, known_on=AS_OF)


def _asked(snapshot: Snapshot, shaft: str) -> ShaftStudy:
    return study_shaft(snapshot, shaft)


@pytest.mark.parametrize("what", WIDTH_CHANGES)
def test_after_a_change_of_width_it_is_measured_first(snapshot: Snapshot, what: str) -> None:
    for shaft in (what, f"{what} under a hub"):
        study = _asked(snapshot, shaft)
        assert study.advice.first is First.MEASURE_FIRST
        assert study.advice.because[0].code == Finding.CHANGED_SINCE
        assert study.advice.hub is None


def test_a_scrapped_shaft_asks_for_no_hub(snapshot: Snapshot) -> None:
    for shaft in ("scrapped", "scrapped under a hub", "scrapped as last seen"):
        study = _asked(snapshot, shaft)
        assert study.advice.because[0].code == Finding.SCRAPPED
        assert study.advice.hub is None


def test_a_test_for_cracks_takes_no_metal_off(snapshot: Snapshot) -> None:
    assert _asked(snapshot, "crack-tested").advice.first in {None, First.MEASURE_FIRST}
    assert Finding.CHANGED_SINCE not in {told.code for told in _asked(snapshot, "crack-tested").advice.because}


def test_no_hub_is_in_use_on_a_shaft_that_was_worked_on_since(snapshot: Snapshot) -> None:
    hubs = read_hubs_in_use(snapshot, histories_of(snapshot))
    running = set(hubs.frame.loc[hubs.running, "shaft"])
    assert running == {"dressed before the hub", "sent after one that holds"}


def test_a_hub_sent_and_not_heard_of_is_named(snapshot: Snapshot) -> None:
    advice = _asked(snapshot, "sent").advice
    assert (advice.first, advice.because[0].code) == (First.NOTHING_TO_SEND, Finding.SENT_UNHEARD)
    assert advice.because[0].facts == {"hub": "H-sent", "day": datetime.date(2026, 1, 5)}
    assert _asked(snapshot, "sent after one that holds").advice.because[0].facts["hub"] == "H-second"
    assert Finding.SENT_UNHEARD not in {told.code for told in _asked(snapshot, "sent and back").advice.because}


def test_a_hub_sent_of_a_withdrawn_batch_stops_the_engine(snapshot: Snapshot) -> None:
    advice = _asked(snapshot, "sent of a withdrawn batch").advice
    assert (advice.first, advice.because[0].code) == (First.STOP_AND_CHECK, Finding.SENT_WITHDRAWN)


def test_a_hub_sent_again_that_had_come_back_loose_stops_the_engine(snapshot: Snapshot) -> None:
    advice = _asked(snapshot, "sent though it came back loose").advice
    assert (advice.first, advice.because[0].code) == (First.STOP_AND_CHECK, Finding.SENT_SPOILED)
    assert advice.because[0].facts["back_as"] == "worked-loose"


def test_what_was_read_before_a_shaft_was_dressed_is_in_no_gap(snapshot: Snapshot) -> None:
    in_hand = set(readings_in_hand(read_widths(snapshot), choices_on_record(snapshot)).inspections["unit"])
    assert "F-dressed before the hub" not in in_hand
    assert "F-dressed under a hub" in in_hand


def test_the_stock_counts_no_need_of_a_scrapped_shaft(snapshot: Snapshot) -> None:
    assert read_needs(snapshot, "P10").open == 1
    overtaken = snapshot.query("stock/overtaken")["inspection"]
    inspections = read_widths(snapshot).inspections.set_index("inspection")["shaft"]
    assert set(inspections[overtaken]) == {
        *WIDTH_CHANGES,
        "scrapped",
        "dressed before the hub",
        "asked for and scrapped",
    }
