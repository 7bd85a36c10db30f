"""What is said of the methods: which question each number answers, and what cannot be told."""

from __future__ import annotations

import dataclasses
import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.report.methods.test_charts import quarters
from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.loosening.mediation import SameGap
from wearstats.analysis.methods.evidence import MethodEvidence
from wearstats.analysis.methods.remarks import MethodsRemark
from wearstats.analysis.methods.standardised_risk import LikeShafts
from wearstats.analysis.remark import refused, remark
from wearstats.errors import AnalysisError
from wearstats.report.methods.answer import methods_answer
from wearstats.report.methods.figures import balance_table, differences_table, evidence_table, method_figures
from wearstats.report.methods.sentences import methods_sentences
from wearstats.report.rendering.short_answer import SURE
from wearstats.store.database.connection import open_store
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.methods.study import study_methods
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> MethodsStudy:
    path = make_store(tmp_path_factory.mktemp("said") / "fittings.duckdb", plain_frames())
    with open_store(path) as store:
        return study_methods(Snapshot(store=store, known_on=AS_OF))


def _like(difference: Estimate, ratio: Estimate) -> LikeShafts:
    first = np.array([True, True, False, False])
    return LikeShafts(
        difference=difference,
        ratio=ratio,
        first_risk=Estimate(value=0.18),
        second_risk=Estimate(value=0.075),
        weighted_difference=Estimate(value=0.11),
        line_difference=Estimate(value=0.10),
        std_error=0.05,
        fittings=4,
        chance=np.array([0.4, 0.6, 0.5, 0.3]),
        first=first,
        weight=np.array([2.5, 1.7, 2.0, 1.4]),
        effective=(1.9, 1.9),
        balance=pd.DataFrame({"covariate": ["mean_um", "duty daily"], "before": [-0.351, 0.1], "after": [0.001, 0.02]}),
    )


@pytest.fixture(scope="module")
def told(plain: MethodsStudy) -> MethodsStudy:
    evidence = MethodEvidence(
        quarters=quarters(),
        low=-0.08,
        high=0.18,
        settled=False,
        since=None,
        contradicts=False,
        by_alternative=np.zeros(1),
        level=0.95,
    )
    return dataclasses.replace(
        plain,
        like_shafts=_like(Estimate(value=0.105, low=0.02, high=0.21), Estimate(value=2.4, low=1.2, high=4.9)),
        e_value=Estimate(value=4.3, low=1.7),
        evidence=evidence,
        more_fittings=Estimate(value=1700, low=340),
    )


def test_of_a_store_without_readings(plain: MethodsStudy) -> None:
    said = methods_sentences(plain)
    assert said[0].startswith("Within 12 months of fitting there worked loose: 30 in 100 hubs sent as supplied")
    assert said[1].startswith(
        "As they were sent, whatever shaft they went to: of 100 hubs as supplied 20 more work loose"
    )
    assert said[1].endswith("; that is not settled.")
    assert said[2].startswith("None of 10 hubs sent for the owner to fit has failed yet; go by the upper bound")
    assert said[3] == (
        "On the same shafts, alike in what was read when the hub was chosen, in half-year, duty and pattern: this "
        "cannot be told, for no fitting has readings that were in hand when its hub was chosen."
    )
    assert said[4] == (
        "Counting only the 40 hubs of which it is known whether they held for 12 months: 6 of 20 as supplied worked "
        "loose and 2 of 20 fitted by hand (exact test, p = 0.24)."
    )
    assert said[-1] == SURE
    assert said[-2] == (
        "Shafts were not allotted to methods by lot: part of a difference may belong to the shafts, not the method."
    )


def test_on_the_same_shafts_and_what_would_explain_it_away(told: MethodsStudy) -> None:
    said = methods_sentences(told)
    assert (
        "On the same shafts, alike in what was read when the hub was chosen, in half-year, duty and pattern, with the "
        "size that goes with each: of 100 hubs 18 would work loose as supplied and 7.5 fitted by hand, 10 more "
        "(2 to 21)." in said
    )
    assert (
        "That is 2.4 times the chance (1.2 to 4.9). To explain it away, something not written down "
        "would have to go with both the way of sending and working loose by a factor of 4.3; to make it doubtful, by "
        "1.7." in said
    )
    assert said[-1] == SURE
    assert said[-2] == (
        "Shafts were not allotted to methods by lot: on the same shafts, only what was written down could be made "
        "alike."
    )


def test_a_difference_that_may_be_nothing_needs_no_explaining_away(told: MethodsStudy) -> None:
    like = _like(Estimate(value=0.02, low=-0.05, high=0.09), Estimate(value=1.2, low=0.6, high=2.4))
    said = methods_sentences(dataclasses.replace(told, like_shafts=like))
    assert any(line.startswith("On the same shafts") and line.endswith("that is not settled.") for line in said)
    assert not any("times the chance" in line for line in said)


def test_evidence_and_how_many_more(told: MethodsStudy) -> None:
    said = methods_sentences(told)
    assert (
        "Looked at every quarter, by the first hub of each shaft, the shafts not made alike, it is "
        "not settled: of 100 hubs as supplied from 8 "
        "fewer to 18 more are known to have worked loose within 12 months than of 100 sent to be fitted by hand."
        in said
    )
    # four looks at 5 %: 0.126 (Armitage, McPherson and Rowe 1969)
    assert (
        "An ordinary test looked at 4 times would find a difference where there is none in 13 of 100 such histories; "
        "this one does so in at most 5." in said
    )
    assert (
        "To settle it about 1700 more shafts would be needed whose first hub reaches the horizon, at least 340 "
        "(80 % power, looked at every quarter)." in said
    )


def test_settled_and_changed_over_the_years(told: MethodsStudy) -> None:
    evidence = dataclasses.replace(
        told.evidence, low=0.02, settled=True, since=datetime.date(2026, 6, 30), contradicts=True
    )
    said = methods_sentences(dataclasses.replace(told, evidence=evidence))
    assert any("it has been settled since 30 June 2026: of 100 hubs as supplied from 2 more" in line for line in said)
    assert "No one difference fits all quarters: it changed over the years." in said
    assert not any(line.startswith("To settle it") for line in said)


def test_too_far_to_settle(told: MethodsStudy) -> None:
    far = dataclasses.replace(told, more_fittings=Estimate(value=None, low=280.0, status="bounded"))
    assert (
        "To settle it at least 280 more shafts would be needed, even if it is as large as these data allow; if it is "
        "as it seems now, more than 80 quarters would." in methods_sentences(far)
    )


def test_at_the_same_gap(told: MethodsStudy) -> None:
    same = SameGap(
        difference=Estimate(value=0.004, low=-0.03, high=0.04),
        whole_difference=Estimate(value=0.05, low=0.01, high=0.09),
        through_gap=Estimate(value=0.92, low=0.3, high=1.5),
        low_um=5.0,
        high_um=25.0,
        fittings=120,
    )
    said = methods_sentences(dataclasses.replace(told, same_gap=same))
    assert (
        "At the same gap left, which asks what else the way of sending does: of 100 hubs as supplied 0.4 more work "
        "loose than of 100 sent to be fitted by hand (3 fewer to 4 more); that is not "
        "settled." in said
    )
    assert "About 92 in 100 parts of the difference between the two ways runs through the gap." in said
    untold = dataclasses.replace(same, difference=no_estimate(refused("the gaps hardly overlap")))
    assert "At the same gap left: this cannot be told, for the gaps hardly overlap." in methods_sentences(
        dataclasses.replace(told, same_gap=untold)
    )


def test_figures_and_their_tables(told: MethodsStudy, plain: MethodsStudy) -> None:
    assert [figure.name for figure in method_figures(told)] == [
        "hundred-hubs",
        "methods-apart",
        "methods-evidence",
        "methods-overlap",
    ]
    assert [figure.name for figure in method_figures(plain)] == ["methods-apart", "methods-evidence"]
    rows = {row[0]: row[1:] for row in differences_table(told).rows}
    assert rows["same shafts"] == ("+10.5", "+2.0 to +21.0")
    assert rows["same gap"][0] == "not told"
    assert evidence_table(told).rows[1] == ("2026Q1", "3 of 30", "2 of 25", "\u221220.0 to +30.0")
    balance = balance_table(told)
    assert balance.rows == (("mean width read", "\u22120.35", "0.00"), ("duty daily", "+0.10", "+0.02"))
    assert balance.caption.endswith("(weights up to 2.5; worth 2 hubs as supplied and 2 by hand)")


def test_nothing_to_tell(tmp_path: Path) -> None:
    frames = plain_frames()
    frames["follow_ups"] = frames["follow_ups"].head(0)
    path = make_store(tmp_path / "silent.duckdb", frames)
    told = "none was heard of later than .* months after fitting; .*follow_ups"
    with open_store(path) as store, pytest.raises(AnalysisError, match=told):
        study_methods(Snapshot(store=store, known_on=AS_OF))


def test_the_short_answer(told: MethodsStudy) -> None:
    same = SameGap(
        difference=Estimate(value=0.004, low=-0.03, high=0.04),
        whole_difference=Estimate(value=0.05, low=0.01, high=0.09),
        through_gap=Estimate(value=0.92, low=0.3, high=1.5),
        low_um=5.0,
        high_um=25.0,
        fittings=120,
    )
    pace = remark(MethodsRemark.LOOKED_AT_EVERY_QUARTER, power_percent=80.0, a_quarter=35)
    study = dataclasses.replace(
        told, same_gap=same, more_fittings=Estimate(value=1700, low=340, method=pace),
        differences={**told.differences, "sent": Estimate(value=0.077, low=-0.006, high=0.16)},
    )  # fmt: skip
    assert methods_answer(study).lines() == [
        "DO OFF-THE-SHELF HUBS FAIL MORE?  On like shafts yes: 10 more in 100 a year.",
        "    of 100 loose in a year  supplied  filed  difference",
        "    on like shafts                18    7.5  10 more (2 to 21)",
        "    as they were sent             30     10  7.7 more (0.6 fewer to 16 more)",
        "    at the same gap                          none seen (3 fewer to 4 more)",
        "  So: choose by the gap that will be left, not by habit.",
        "  Strict test, looked at every quarter: open (8 fewer to 18 more).",
        # 1700 fittings at 35 a quarter are 12.1 years
        "  To settle it: about 1700 more shafts, about 12 years at today's pace.",
        "  Left out: 1 record that cannot be as written; --full names it.",
        "  Brackets: 95 % sure.   More: wearstats methods --full",
    ]


def test_the_short_answer_of_a_store_without_readings(plain: MethodsStudy) -> None:
    lines = methods_answer(plain).lines()
    assert lines[0].startswith("DO OFF-THE-SHELF HUBS FAIL MORE?  Not settled: ")
    assert any(line.split() == ["on", "like", "shafts", "cannot", "be", "told"] for line in lines)
