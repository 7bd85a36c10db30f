"""What is learned where records end early, in short; the whole table is records_end.md."""

from dataclasses import replace

import pytest

from tests.simulation.records_end import TABLE, WORLDS, Records, few_shafts, score, summary


def test_records_that_end_early_teach_what_they_taught_when_they_ended() -> None:
    # the same fleets asked about eight months later: what was learned does not move
    today = summary(score(Records(shafts=600), 12))
    later = summary(score(Records(shafts=600, ended=8.0), 12))
    assert later["mean"].to_dict() == pytest.approx(today["mean"].to_dict(), rel=0.004)
    assert later["cover"].to_dict()["reported"] >= 0.75


def test_days_after_the_end_counted_as_good_news_are_caught() -> None:
    # what the censoring is for: without it the shape is a tenth too low, and so is the share reported
    world = replace(WORLDS["ended 8 months ago, days after it counted (as before)"], shafts=600)
    as_before = summary(score(world, 12))["mean"].to_dict()
    assert as_before["shape"] < 1.32
    assert as_before["reported"] < 0.56


@pytest.mark.parametrize("ended", [0.0, pytest.param(8.0, marks=pytest.mark.slow)])
def test_a_small_store_is_not_cut_at_a_failure(ended: float) -> None:
    few = few_shafts(150, ended=ended)
    assert few["watched"].sum() / few["on_record"].sum() == pytest.approx(1.0, abs=0.03)


def test_the_table_has_every_world() -> None:
    text = TABLE.read_text(encoding="utf-8")
    assert all(f"| {name} |" in text for name in WORLDS)
