"""Batches that run wide, fail more often, or are gauged in two ways; those that do not are not named."""

import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.domain.quarters import Quarter
from wearstats.report.remarks.say import say
from wearstats.store.database.connection import open_store
from wearstats.studies.counts.batches import BatchReview, review_batches
from wearstats.studies.counts.quarter import count_quarter
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.inputs.hubs_in_use import read_hubs_in_use
from wearstats.studies.review.actions import Action, actions_of
from wearstats.studies.shelf.loans import overdue_loans
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory: pytest.TempPathFactory) -> tuple[BatchReview, tuple[Action, ...]]:
    """Five batches of a shop with standard spaces of 6.000 mm and steps of 25 µm.

    ``wide``: ten hubs gauged 20 µm over; ``plug``: none gauged, but a go gauge 18 µm over enters; ``odd``: ten hubs
    8 µm over where the plugs leave 5 under to 5 over; ``sound``: ten hubs, one of which 30 µm over; ``unmade``: no
    hub yet.
    """
    path = make_store(tmp_path_factory.mktemp("batches") / "small.duckdb", plain_frames())
    with open_store(path, write=True) as store:
        store.execute(
            "insert into patterns (pattern, splines, width_mm, space_width_mm, minor_mm, major_mm, engaged_mm, "
            "stations, grid_um, intake) values ('D8', 8, 6.0, 6.0, 32, 36, 30, ['shoulder'], 25, 1)"
        )
        store.execute(
            "insert into batches (batch, pattern, undersize_um, made_on, quantity, go_mm, no_go_mm, intake) values "
            "('wide', 'D8', 50, '2023-11-01', 10, 5.94, 5.98, 1), ('plug', 'D8', 50, '2023-11-01', 10, 5.968, 5.98, 1),"
            "('odd', 'D8', 50, '2023-11-01', 10, 5.945, 5.955, 1), "
            "('sound', 'D8', 50, '2023-11-01', 10, null, null, 1), "
            "('unmade', 'D8', 75, '2023-11-01', 10, 5.92, 5.93, 1)"
        )
        store.execute(
            "update hubs set batch = case when n < 10 then 'wide' when n < 20 then 'plug' when n < 30 then 'odd' else "
            "'sound' end, space_width_mm = case when n < 10 then 5.97 when n < 20 then null when n < 30 then 5.958 "
            "when n = 30 then 5.98 else 5.95 end, space_u_um = 1.0 "
            "from (select hub as name, substr(hub, 2)::integer as n from hubs) where name = hub"
        )
    with open_store(path) as store:
        snapshot = Snapshot(store=store, known_on=AS_OF)
        hubs = read_hubs_in_use(snapshot, histories_of(snapshot))
        batches = review_batches(snapshot, hubs)
        counts = count_quarter(hubs, Quarter(year=2025, number=4))
        overdue = overdue_loans(snapshot)
    actions = actions_of(
        counts=counts,
        forecast=None,
        in_use=None,
        batches=batches,
        law=None,
        horizon_months=12.0,
        risk_limit=0.05,
        stock=None,
        overdue=overdue,
    )
    return batches, actions


def test_excess_is_that_of_the_gauged_spaces_and_of_the_plugs(reviewed: tuple[BatchReview, object]) -> None:
    frame = reviewed[0].frame.set_index("batch")
    assert frame["wider_um"].dropna().tolist() == pytest.approx([8.0, 2.5, 20.0])
    assert frame["plug_low_um"]["odd"] == pytest.approx(-5.0)
    assert frame["plug_high_um"]["odd"] == pytest.approx(5.0)
    assert frame.loc["plug", "plug_low_um"] == pytest.approx(18.0)
    # the doubt of a mean of equal spaces is that of the gauge, which all hubs share
    assert frame.loc["wide", "wider_sd_um"] == pytest.approx(1.0)
    assert (frame["allowed_um"] == 12.5).all()


def test_batches_are_named_beyond_doubt_alone(reviewed: tuple[BatchReview, object]) -> None:
    frame = reviewed[0].frame.set_index("batch")
    assert frame.index[frame["wide"]].tolist() == ["plug", "wide"]
    assert frame.index[frame["at_odds"]].tolist() == ["odd"]
    assert sorted(reviewed[0].named["batch"]) == ["odd", "plug", "wide"]
    # five of its nine hubs that ran worked loose, three of all the others
    assert frame.index[frame["loose"]].tolist() == ["wide"]


def test_each_named_batch_is_an_action_with_its_number_and_shafts(reviewed: tuple[object, tuple[Action, ...]]) -> None:
    told = {say(action.what): action for action in reviewed[1]}
    assert {what: action.do for what, action in told.items() if what.startswith("batch")} == {
        "batch wide": "withdraw",
        "batch plug": "withdraw",
        "batch odd": "re-gauge",
    }
    assert told["batch wide"].number == pytest.approx(20.0)
    assert told["batch plug"].number == pytest.approx(18.0)
    assert "the go gauge enters" in say(told["batch plug"].because)
    assert "where its plug gauges leave -5.0 to 5.0" in say(told["batch odd"].because)
    # only shafts on which a hub of it still runs
    assert "S1, S2, S5, S6, S9" in say(told["batch wide"].because)
    assert "S0" not in say(told["batch wide"].because)
