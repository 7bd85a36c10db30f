"""What senders knew, from the demo's store, whose hubs were chosen on the readings in hand, and from others."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from wearstats.report.loosening.answer import loosening_answer
from wearstats.report.loosening.gap_sentences import trust_sentences
from wearstats.simulate import Scenario, simulate
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.demo import demo_as_of, demo_files
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.gaps.measured_again import inspections_beside, other_readings
from wearstats.studies.gaps.records import choices_on_record, sampled_readings
from wearstats.studies.gaps.sender_knowledge import SenderKnowledge, sender_knowledge
from wearstats.studies.inputs.widths import readings_in_hand
from wearstats.studies.loosening.fit_from_store import loosening_fit
from wearstats.studies.loosening.study import LooseningStudy, study_loosening
from wearstats.studies.snapshot import Snapshot


def known_of(snapshot: Snapshot) -> SenderKnowledge:
    found = sender_knowledge(snapshot)
    assert found is not None
    return found


def test_the_demo_leaves_room_for_nothing(demo: Snapshot) -> None:
    senders = known_of(demo)
    assert senders.knowledge.measured_again == len(inspections_beside(demo)) > 30
    assert senders.knowledge.share[0] > 0.3
    assert senders.knowledge.ends()[0] == 0.0


def test_a_size_sent_lies_between_its_neighbours(demo: Snapshot) -> None:
    choices = known_of(demo).choices
    sent = choices_on_record(demo).set_index("fitting")["undersize_um"].reindex(known_of(demo).fitting)
    assert (choices.low_um < sent).all()
    assert (sent < choices.high_um).all()
    assert np.isfinite(choices.high_um - choices.low_um).mean() > 0.3


def test_where_nothing_speaks_for_it_no_gap_moves(demo: Snapshot) -> None:
    gaps = known_gaps(demo)
    assert gaps.knowledge is not None
    assert not gaps.knowledge.used
    assert gaps.without_choice is None
    assert loosening_fit(demo).choice is None


def test_sizes_out_of_stock_are_not_taken_for_offered(demo: Snapshot) -> None:
    """The same by going through the tables choice by choice."""
    told = demo.store.query("fittings/sizes_then", as_of=demo.known_on, shafts=None)
    tables = {path.stem: pd.read_csv(path) for path in demo_files()}
    hubs = tables["hubs"].set_index("hub")
    offered, counts, batches, sent, back = (
        tables[name] for name in ("undersizes_offered", "stock_counts", "batches", "dispatches", "returns")
    )
    some = choices_on_record(demo).sort_values("fitting").iloc[::25]
    out = 0
    for fitting, pattern, chosen_on in some[["fitting", "pattern", "chosen_on"]].itertuples(index=False):
        day = str(chosen_on.date())
        on = offered[offered["pattern"].eq(pattern) & offered["from_on"].le(day)]
        there = []
        for size in on.loc[on["to_on"].isna() | on["to_on"].ge(day), "undersize_um"].unique():
            own = counts[counts["pattern"].eq(pattern) & counts["undersize_um"].eq(size) & counts["counted_on"].lt(day)]
            last = own.sort_values("counted_on").tail(1)
            since = str(last["counted_on"].iloc[0]) if len(last) else day
            mine = hubs.index[hubs["pattern"].eq(pattern) & hubs["undersize_um"].eq(size)]

            def moved(rows: pd.DataFrame, when: str, after: str = since, before: str = day) -> pd.DataFrame:
                return rows[rows[when].gt(after) & rows[when].lt(before)]

            made = moved(batches[batches["pattern"].eq(pattern) & batches["undersize_um"].eq(size)], "made_on")
            gone = moved(sent[sent["hub"].isin(mine)], "sent_on")
            shelved = moved(back[back["hub"].isin(mine) & back["back_on_shelf"].eq("yes")], "returned_on")
            hand = last["on_hand"].sum() + made["quantity"].sum() - len(gone) + len(shelved)
            if hand > 0 or last.empty:
                there.append(float(size))
        assert sorted(told.loc[told["fitting"] == fitting, "undersize_um"]) == sorted(there), fitting
        out += len(on) - len(there)
    assert out > 0


def test_who_has_trouble_measures_again_and_that_is_left_out(demo: Snapshot) -> None:
    readings = sampled_readings(demo)
    in_hand = readings_in_hand(readings, choices_on_record(demo))
    others = other_readings(readings, in_hand)
    one = str(others["fitting"].iloc[0])
    mine = in_hand.inspections[in_hand.inspections["unit"] == one]
    day = mine["measured_on"].max()
    troubled = pd.DataFrame({"shaft": [str(mine["shaft"].iloc[0])], "sent_on": [day]})
    left = other_readings(readings, in_hand, troubled=troubled)
    assert one not in set(left["fitting"])
    assert len(left) >= len(others) - 2
    before = troubled.assign(sent_on=day - pd.Timedelta(days=400))
    assert len(other_readings(readings, in_hand, troubled=before)) == len(others)


@pytest.fixture(scope="module")
def unstored(tmp_path_factory: pytest.TempPathFactory) -> LooseningStudy:
    """A shop whose hubs are chosen on what nobody wrote down, and which measures many shafts again."""
    folder = tmp_path_factory.mktemp("unstored")
    scenario = Scenario(
        shafts=300, choice="unstored", workshop_share=0.8, workshop_before_choice_share=0.1, choice_sd_um=3.0,
        substitute_share=0.0, log_hazard_per_10um=0.6,
    )  # fmt: skip
    frames = simulate(scenario, rng=np.random.default_rng(2)).frames
    files = []
    for name, frame in frames.items():
        if len(frame):
            files.append(folder / f"{name}.csv")
            frame.to_csv(files[-1], index=False)
    path = folder / "unstored.duckdb"
    create_store(path)
    with open_store(path, write=True) as store:
        assert add_files(store, files, added_on=demo_as_of()).kept_out == 0
    with open_store(path) as store:
        return study_loosening(Snapshot(store=store, known_on=demo_as_of()))


def test_knowledge_that_is_not_stored_is_found_out_and_said(unstored: LooseningStudy) -> None:
    assert unstored.gap is not None
    trust = unstored.gap.trust
    assert trust is not None
    assert trust.senders is not None
    assert trust.senders.surely
    assert trust.senders.nothing < 0.01
    assert trust.choice.ignorable is False
    assert unstored.gap.corrected.value != trust.senders.log_hazard_per_10um_without
    text = " ".join(trust_sentences(trust, shown=True))
    assert "is taken as a sign of the width" in text
    assert "beware" not in text
    lines = [line for line in loosening_answer(unstored).body if isinstance(line, str)]
    assert any("chosen on more than the readings on record" in line for line in lines)


def test_without_sizes_on_offer_nothing_is_learnt(small_demo_file: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(small_demo_file, tmp_path / "small.duckdb"))
    with open_store(path, write=True) as store:
        store.execute("delete from undersizes_offered")
    with open_store(path) as store:
        snapshot = Snapshot(store=store, known_on=demo_as_of())
        assert sender_knowledge(snapshot) is None
        assert known_gaps(snapshot).without_choice is None
