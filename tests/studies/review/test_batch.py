"""Who has a hub of a batch; one that is withdrawn is so in every answer, from the day on which that is known."""

from __future__ import annotations

import datetime
import shutil
from pathlib import Path

import pandas as pd
import pytest

from tests.studies.support.shop_store import AS_OF
from tests.studies.support.small_shops import twelve_unheard
from wearstats.analysis.advice.remarks import Finding, First
from wearstats.errors import UsageError
from wearstats.report.calls.batch import batch_answer, batch_sentences, batch_table, write_batch
from wearstats.report.remarks.document import plain
from wearstats.report.review.answer import review_answer
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.store.stated_later import note_warned, withdraw_batch
from wearstats.studies.review.batch import BatchStudy, Place, study_batch
from wearstats.studies.review.calls import study_calls
from wearstats.studies.review.study import study_review
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

LATER = AS_OF + datetime.timedelta(days=10)


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six hubs of B1 in use, one on the shelf, three more made; five of B2 in use, one sent without word, two more."""
    folder = tmp_path_factory.mktemp("twelve")
    return twelve_unheard(folder / "shop.duckdb", folder)


@pytest.fixture(scope="module")
def withdrawn(before: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = Path(shutil.copy(before, tmp_path_factory.mktemp("withdrawn") / "shop.duckdb"))
    with open_store(path, write=True) as store:
        withdraw_batch(store, "B1", because="spaces too wide", on=LATER)
    return path


def ask(store: Store, batch: str, *, on: datetime.date = LATER) -> BatchStudy:
    return study_batch(Snapshot(store=store, known_on=on), batch)


def test_everybody_who_has_one_is_named(before: Path) -> None:
    with open_store(before) as store:
        first, second = (ask(store, batch) for batch in ("B1", "B2"))
    assert not first.withdrawn
    assert first.with_owners["owner"].tolist() == [f"owner-S{number:02d}" for number in range(1, 7)]
    assert first.counts() == {"in-use": 6, "sent": 0, "came-off": 0, "came-back": 0, "on-shelf": 4}
    assert second.counts() == {"in-use": 5, "sent": 1, "came-off": 0, "came-back": 0, "on-shelf": 2}
    sent = second.hubs[second.hubs["place"] == Place.SENT].iloc[0]
    assert (sent["shaft"], sent["order"], sent["since"]) == ("S12", "R-S12", pd.Timestamp("2025-01-05"))
    text = "\n".join(batch_answer(first).lines())
    assert "WHO HAS HUBS OF BATCH B1?  6 in use." in text
    assert '--batch B1 --withdraw "why"' in text
    assert len(batch_table(first).rows) == 7


def test_a_batch_that_nobody_knows_is_refused_with_those_that_are_like_it(before: Path) -> None:
    with open_store(before) as store, pytest.raises(UsageError, match=r"'B9' is not on record .* one of 2 batches.*B1"):
        ask(store, "B9")


def test_a_hub_that_came_off_or_back_is_where_it_is(before: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(before, tmp_path / "shop.duckdb"))
    files = {
        "follow_ups": "fitting,seen_on,state\nF-S01,2026-01-20,removed\nF-S02,2026-01-20,removed\n",
        "returns": "hub,returned_on,reason,back_on_shelf\nH-S02,2026-01-25,not-needed,no\n"
        "H-S12,2026-01-25,not-needed,yes\n",
    }
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        assert add_files(store, [tmp_path / f"{name}.csv" for name in files], added_on=LATER).kept_out == 0
        first, second = (ask(store, batch) for batch in ("B1", "B2"))
    assert first.counts() == {"in-use": 4, "sent": 0, "came-off": 1, "came-back": 1, "on-shelf": 4}
    assert first.with_owners["shaft"].tolist() == ["S03", "S04", "S05", "S06", "S01"]
    assert second.counts() == {"in-use": 5, "sent": 0, "came-off": 0, "came-back": 0, "on-shelf": 3}


def test_withdrawing_is_a_correction_that_earlier_days_do_not_know(withdrawn: Path) -> None:
    with open_store(withdrawn) as store:
        now, then = ask(store, "B1"), ask(store, "B1", on=AS_OF)
        assert store.rows("select count(*) from history_batches") == [(1,)]
    assert (now.withdrawn, now.withdrawn_on, now.withdrawn_because) == (True, LATER, "spaces too wide")
    assert not then.withdrawn
    document = plain(now)
    assert document["withdrawn_on"] == LATER.isoformat()
    assert document["counts"]["in-use"] == 6
    assert "6 in use; none warned." in " ".join(batch_sentences(now))


def test_its_hubs_are_not_on_the_shelf(before: Path, withdrawn: Path) -> None:
    shelves: list[list[str]] = []
    counts: list[dict[float, int]] = []
    for path in (before, withdrawn):
        with open_store(path) as store:
            snapshot = Snapshot(store=store, known_on=LATER, pattern="P10")
            shelves.append(snapshot.query("shaft/shelf")["hub"].tolist())
            counts.append(dict(snapshot.query("stock/on_hand")[["undersize_um", "on_hand"]].itertuples(index=False)))
    assert shelves == [["H-shelf"], []]
    # eighteen made, twelve sent; of the six left four are of the batch
    assert counts == [{25.0: 6}, {25.0: 2}]


def test_a_count_of_after_it_is_not_lessened_again_nor_by_what_comes_back(withdrawn: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(withdrawn, tmp_path / "shop.duckdb"))
    counted, back = LATER + datetime.timedelta(days=1), LATER + datetime.timedelta(days=2)
    files = {
        "stock_counts": f"pattern,undersize_um,counted_on,on_hand\nP10,25,{counted},2\n",
        "returns": f"hub,returned_on,reason,back_on_shelf\nH-S01,{back},not-needed,yes\nH-S12,{back},not-needed,yes\n",
    }
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        add_files(store, [tmp_path / f"{name}.csv" for name in files], added_on=back)
        found = Snapshot(store=store, known_on=back, pattern="P10").query("stock/on_hand")
    # of the two that came back one is of the batch
    assert found["on_hand"].tolist() == [3]


def test_their_owners_are_to_be_warned_first_and_the_review_says_so(withdrawn: Path) -> None:
    with open_store(withdrawn) as store:
        snapshot = Snapshot(store=store, known_on=LATER)
        calls, review = study_calls(snapshot), study_review(snapshot)
    assert calls.figures.to_warn == calls.figures.of_withdrawn_batches == 6
    assert calls.calls["shaft"].head(6).tolist() == [f"S{number:02d}" for number in range(1, 7)]
    assert calls.calls["to_warn"].tolist() == [True] * 6 + [False] * 5
    first = review.actions[0]
    assert (first.do, first.number) == ("take-back", 6)
    assert review.in_use is not None
    assert review.in_use.figures == calls.figures
    text = " ".join(" ".join(review_answer(review).lines()).split())
    assert "Take back withdrawn batch B1: 6 hubs in use, 6 owners not yet warned; wearstats calls --batch B1." in text
    assert "Stop and check S01 (owner-S01) first: its hub is of batch B1." in text


def test_hubs_that_were_sent_and_not_heard_of_are_taken_back_too(before: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(before, tmp_path / "shop.duckdb"))
    with open_store(path, write=True) as store:
        withdraw_batch(store, "B2", because="cracks", on=LATER)
        review = study_review(Snapshot(store=store, known_on=LATER))
    assert review.actions[0].number == 5 + 1
    text = " ".join(" ".join(review_answer(review).lines()).split())
    assert "batch B2: 5 hubs in use, 5 owners not yet warned, 1 sent without word; wearstats calls --batch B2" in text


def test_whoever_has_one_is_told_to_stop_when_he_asks(before: Path, withdrawn: Path) -> None:
    found = []
    for path in (before, withdrawn):
        with open_store(path) as store:
            found.append(study_shaft(Snapshot(store=store, known_on=LATER), "S03").advice)
    assert found[0].first is First.NOTHING_TO_SEND
    assert found[1].first is First.STOP_AND_CHECK
    assert found[1].because[0].code == Finding.HUB_WITHDRAWN
    assert Finding.HUB_UNHEARD not in {why.code for why in found[1].because}


def test_who_was_warned_is_so_from_then_on_and_only_of_what_was_known(before: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(before, tmp_path / "shop.duckdb"))
    with open_store(path, write=True) as store:
        # of looseness, before the batch was withdrawn
        assert note_warned(store, ["S01"], on=AS_OF) == 1
        withdraw_batch(store, "B1", because="spaces too wide", on=LATER)
        assert note_warned(store, ["S02", "S02", "S03"], on=LATER) == 2
        snapshot = Snapshot(store=store, known_on=LATER)
        calls, batch = study_calls(snapshot), ask(store, "B1")
        assert calls.figures.to_warn == 4
        assert calls.figures.already_warned == 2
        assert batch.hubs[batch.hubs["told"]]["shaft"].tolist() == ["S02", "S03"]
        assert calls.to_warn().calls["shaft"].tolist() == ["S01", "S04", "S05", "S06"]
        # withdrawing it again with other words keeps its day
        withdraw_batch(store, "B1", because="wide, and soft", on=LATER + datetime.timedelta(days=1))
        again = ask(store, "B1", on=LATER + datetime.timedelta(days=1))
    assert (again.withdrawn_on, again.withdrawn_because) == (LATER, "wide, and soft")


@pytest.mark.parametrize("reason", ["", "  "])
def test_what_lacks_a_reason_a_batch_or_a_shaft_is_refused_and_nothing_is_written(
    before: Path, tmp_path: Path, reason: str
) -> None:
    path = Path(shutil.copy(before, tmp_path / "shop.duckdb"))
    with open_store(path, write=True) as store:
        with pytest.raises(UsageError, match="no reason"):
            withdraw_batch(store, "B1", because=reason, on=LATER)
        with pytest.raises(UsageError, match="'B9' is not on record"):
            withdraw_batch(store, "B9", because="wide", on=LATER)
        with pytest.raises(UsageError, match="to 'S98', 'S99'"):
            note_warned(store, ["S01", "S98", "S99"], on=LATER)
        assert store.rows("select count(*) from history_batches union all select count(*) from history_dispatches") == [
            (0,),
            (0,),
        ]


def test_a_row_of_a_file_withdraws_too(before: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(before, tmp_path / "shop.duckdb"))
    row = f"B2,P10,25,2024-07-01,8,{LATER},cracks"
    (tmp_path / "batches.csv").write_text(
        f"batch,pattern,undersize_um,made_on,quantity,withdrawn_on,withdrawn_because\n{row}\n", encoding="utf-8"
    )
    with open_store(path, write=True) as store:
        assert add_files(store, [tmp_path / "batches.csv"], added_on=LATER, correct=True).kept_out == 0
        assert ask(store, "B2").withdrawn_because == "cracks"
        assert not ask(store, "B2", on=LATER - datetime.timedelta(days=1)).withdrawn


def test_the_file_names_all_of_them(before: Path, tmp_path: Path) -> None:
    with open_store(before) as store:
        study = ask(store, "B1")
    read = pd.read_csv(write_batch(study, tmp_path / "b.csv"))
    assert read["hub"].tolist() == study.hubs["hub"].tolist()
    assert read["place"].tolist() == ["in use"] * 6 + ["on the shelf"]
