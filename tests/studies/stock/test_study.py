"""Which sizes to keep, from the demo's store."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.estimate_ends import three
from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.stock.sizes.choice import HARDLY
from wearstats.errors import AnalysisError, InputError, ReportError
from wearstats.report.remarks.document import plain
from wearstats.report.stock.files import write_make_now
from wearstats.report.stock.sentences import stock_sentences
from wearstats.store.database.subset import part_of_shafts
from wearstats.studies.inputs.widths import read_widths
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.spread import SpreadFrom
from wearstats.studies.stock.study import FEWEST_OCCASIONS, study_stock


@pytest.fixture(scope="module")
def study(demo: Snapshot) -> StockStudy:
    return study_stock(demo.of("D10"))


def test_document_bears_the_contract(study: StockStudy) -> None:
    answer = plain(study)
    json.dumps(answer, allow_nan=False)
    assert [plan["k"] for plan in answer["plans"]] == list(range(1, len(answer["plans"]) + 1))
    for plan in answer["plans"]:
        assert {"undersizes_um", "cost", "unserved_share"} <= set(plan)
        assert plan["cost"]["low"] <= plan["cost"]["value"] <= plan["cost"]["high"]
    chosen = answer["chosen"]
    assert {"k", "undersizes_um", "make", "covers_until"} <= set(chosen)
    assert [float(um) for um in chosen["make"]] == chosen["undersizes_um"]
    assert sum(chosen["make"].values()) > 0
    assert {"undersizes_um", "cost"} <= set(answer["current"])
    assert chosen["hubs"] == sum(chosen["make"].values())
    # one list: what lies there of other sizes is used up, and no other list is given
    assert not {float(um) for um in chosen["use_up"]} & set(chosen["undersizes_um"])
    assert "with_stock" not in answer
    assert answer["by_pattern"]["D10"]["plans"] == answer["plans"]


def test_more_sizes_never_cost_more_but_for_keeping_them(study: StockStudy) -> None:
    stock = study.by_pattern["D10"]
    frame = stock.plans_frame()
    assert (frame["cost"] - frame["keeping"]).is_monotonic_decreasing
    assert frame["chosen"].sum() == 1
    assert stock.choice.today is not None
    _, today, _ = three(stock.choice.today.cost_a_year)
    chosen = int(frame[frame["chosen"]]["sizes"].iloc[0])
    cost = frame.set_index("sizes")["cost"]
    assert cost[chosen] - cost[chosen + 1] < HARDLY * today
    assert all(cost[k] - cost[k + 1] >= HARDLY * today or today - cost[k] < HARDLY * today for k in range(1, chosen))


def test_what_is_recommended_beats_today_and_clusters_and_loses_to_perfect_knowledge(study: StockStudy) -> None:
    choice = study.by_pattern["D10"].choice
    _, chosen, _ = three(choice.chosen.cost_a_year)
    assert choice.today is not None
    assert choice.perfect_a_year < chosen
    assert chosen < three(choice.today.cost_a_year)[1]
    assert chosen < three(choice.symmetric.cost_a_year)[1]
    assert choice.not_single_peaked < 0.1
    assert three(choice.regret)[0] >= -1.0


def test_shafts_go_to_no_size_that_would_rattle(study: StockStudy) -> None:
    need = study.by_pattern["D10"].need.dropna()
    # the widest place binds before the mean does: most go looser than their mean by less than the shake limit
    assert (need["undersize_um"] > need["need_um"] - AdviceLimits().play_um).mean() > 0.95


def test_sizes_that_cannot_be_told_apart_are_one(study: StockStudy) -> None:
    stock = study.by_pattern["D10"]
    # the demo's batches lie between plug gauges 10 or 15 um apart, and about 3 um from nominal this way or that
    assert stock.spread.taken_from is SpreadFrom.PLUGS
    assert 10.0 < stock.spread.width_um < 20.0
    for plan in stock.choice.plans:
        assert np.diff(plan.undersizes_um).min(initial=99.0) >= stock.spread.width_um


def test_sorting_costs_less_the_more_hubs_there_are_to_pick_from(study: StockStudy) -> None:
    stock = study.by_pattern["D10"]
    costs = list(stock.sorting.cost_a_year.values())
    assert costs == sorted(costs, reverse=True)
    low, value, _ = three(stock.sorting.saved_a_year)
    assert low > 0
    # never better than were every shaft known exactly and every hub made to measure
    assert value < three(stock.choice.chosen.cost_a_year)[1] - stock.keeping * len(stock.choice.chosen.undersizes_um)


def test_as_many_sizes_and_hubs_as_asked_for(demo: Snapshot, study: StockStudy) -> None:
    free = study.by_pattern["D10"].make
    assert free is not None
    found = study_stock(demo.of("D10"), sizes=4, hubs=6, budget=500.0).by_pattern["D10"]
    assert len(found.choice.chosen.undersizes_um) == 4
    assert found.choice.chosen.undersizes_um == study.by_pattern["D10"].choice.plans[3].undersizes_um
    assert found.make is not None
    assert 0 < found.make.hubs <= 6
    assert 0 < found.make.money <= 500.0
    assert found.make.limit_costs > 0
    # a limit that does not bind changes nothing
    wide = study_stock(demo.of("D10"), hubs=free.hubs, budget=free.money).by_pattern["D10"].make
    assert wide is not None
    assert (wide.make, wide.limit_costs) == (free.make, 0.0)
    with pytest.raises(AnalysisError, match="40 sizes cannot be told apart"):
        study_stock(demo.of("D10"), sizes=40)
    for wrong in ({"sizes": 0}, {"hubs": -1}, {"budget": float("nan")}, {"budget": float("inf")}):
        with pytest.raises(InputError, match="or more"):
            study_stock(demo.of("D10"), **wrong)


def test_words_name_sizes_money_and_assumptions(study: StockStudy) -> None:
    text = " ".join(stock_sentences(study))
    for piece in ("Pattern D10: keep", "EUR", "one size fewer would cost", "Today's sizes", "filing that takes"):
        assert piece in text


def test_what_to_make_goes_into_files(study: StockStudy, tmp_path: Path) -> None:
    frames = [
        pd.read_csv(write_make_now(study, tmp_path / "make.csv")),
        pd.read_excel(write_make_now(study, tmp_path / "make.xlsx")),
    ]
    make = study.by_pattern["D10"].make
    assert make is not None
    for frame in frames:
        assert frame["make"].sum() == sum(make.make.values())
        assert set(frame["pattern"]) == {"D10"}
    with pytest.raises(ReportError, match=r"allowed: \.csv, \.xlsx"):
        write_make_now(study, tmp_path / "make.txt")
    with pytest.raises(ReportError, match="cannot be written"):
        write_make_now(study, tmp_path / "nowhere" / "make.csv")


def test_a_pattern_nobody_measured_is_refused(demo: Snapshot) -> None:
    with pytest.raises(AnalysisError, match="only 0 shafts were measured"):
        study_stock(demo.of("D99"))


def test_shafts_count_and_not_how_often_they_were_measured(demo: Snapshot) -> None:
    inspections = read_widths(demo).inspections
    times = inspections[inspections["pattern"] == "D10"].groupby("shaft")["unit"].nunique().nlargest(3)
    assert times.sum() >= FEWEST_OCCASIONS
    few = part_of_shafts(demo.store, times.index.tolist())
    with pytest.raises(AnalysisError, match="of pattern D10 only 3 shafts were measured"):
        study_stock(Snapshot(store=few, known_on=demo.known_on, pattern="D10"))


def test_failures_are_counted_up_to_the_horizon_asked_for(demo: Snapshot, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []

    class Asked(Exception):  # noqa: N818 no error: what was wanted is known, and the rest takes long
        pass

    def note(*_: object, months: float, **_given: object) -> None:
        asked.append(months)
        raise Asked

    monkeypatch.setattr("wearstats.studies.stock.study.price_pairs", note)
    for months in (18.0, 30.0):
        with pytest.raises(Asked):
            study_stock(demo.of("D10"), horizon_months=months)
    assert asked == [18.0, 30.0]
