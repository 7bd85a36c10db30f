"""Of many shafts some are taken at random, whole shafts and always the same ones."""

import datetime

import pandas as pd

from wearstats.analysis.histories import Histories
from wearstats.studies.sampled_fittings import sample_fittings


def made(shafts: int) -> Histories:
    names = [f"S{number}" for number in range(shafts)]
    frame = pd.DataFrame({"shaft": names * 2, "fitting": [f"F{number}" for number in range(2 * shafts)]})
    return Histories(frame=frame, left_out=frame.iloc[:0], as_of=datetime.date(2026, 1, 1))


def test_few_shafts_are_all_taken() -> None:
    histories = made(30)
    some, sampled = sample_fittings(histories, most_shafts=30)
    assert sampled is None
    assert some is histories


def test_many_are_sampled_by_whole_shafts() -> None:
    some, sampled = sample_fittings(made(1000), most_shafts=100)
    assert sampled == 100
    assert (some.frame["shaft"].value_counts() == 2).all()


def test_a_larger_fleet_keeps_most_of_the_sample() -> None:
    first, _ = sample_fittings(made(1000), most_shafts=100)
    again, _ = sample_fittings(made(1000), most_shafts=100)
    larger, _ = sample_fittings(made(1100), most_shafts=100)
    assert set(first.frame["shaft"]) == set(again.frame["shaft"])
    assert len(set(first.frame["shaft"]) & set(larger.frame["shaft"])) > 75
