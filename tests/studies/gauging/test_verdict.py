"""What to ask an owner for next: the verdict at its edges."""

from __future__ import annotations

import pytest

from wearstats.report.gauging.answer import gauging_answer
from wearstats.report.gauging.sentences import gauging_sentences
from wearstats.studies.gauging.remarks import GaugingVerdict
from wearstats.studies.gauging.study import GaugingStudy, study_gauging
from wearstats.studies.gauging.verdict import judge_ways
from wearstats.studies.snapshot import Snapshot

PIECE, OTHER, SAME, TWICE = (
    GaugingVerdict.CHECK_PIECE, GaugingVerdict.OTHER_HAND, GaugingVerdict.SAME_HAND, GaugingVerdict.READ_TWICE,
)  # fmt: skip


@pytest.mark.parametrize(
    ("rivals", "code"),
    [
        # the demo's
        ({TWICE: (0.78, 0.012), SAME: (0.78, 0.012), OTHER: (0.81, 0.011), PIECE: (0.86, 0.010)}, PIECE),
        ({OTHER: (0.86, 0.010), PIECE: (0.75, 0.012)}, OTHER),
        # a piece comes first where it does as well, but only if it helps at all
        ({OTHER: (0.85, 0.010), PIECE: (0.84, 0.010)}, PIECE),
        ({OTHER: (0.78, 0.012), PIECE: (0.77, 0.012)}, OTHER),
        ({TWICE: (0.90, 0.010)}, TWICE),
        ({SAME: (0.90, 0.010)}, SAME),
        # better by exactly twice its error is not surely better
        ({PIECE: (0.78125, 0.015625)}, GaugingVerdict.ENOUGH),
        ({PIECE: (0.7813, 0.015625)}, PIECE),
        ({}, GaugingVerdict.ENOUGH),
    ],
)
def test_verdict(rivals: dict[GaugingVerdict, tuple[float, float]], code: GaugingVerdict) -> None:
    told = judge_ways(0.75, rivals, assumed=False)
    assert told.code == code
    assert told.facts["assumed"] is False


@pytest.fixture(scope="module")
def study(demo: Snapshot) -> GaugingStudy:
    return study_gauging(demo)


def test_the_demo_asks_for_a_check_piece(study: GaugingStudy) -> None:
    assert study.verdict.code == PIECE
    assert study.verdict.facts["right"] == study.ways.rivals[PIECE].right_size_probability
    assert study.to_dict()["verdict"] == study.verdict
    few = study.ways.few_with_piece
    assert few is not None
    assert few.plan.splines < study.ways.whole.plan.splines


def test_an_overdue_check_piece_is_named_in_short_and_all_that_are_out_in_full(study: GaugingStudy) -> None:
    out = study.pieces_out[["piece", "shaft", "overdue"]]
    assert list(out.itertuples(index=False, name=None)) == [("CP-2", "S0424", True), ("CP-1", "S0297", False)]
    short = gauging_answer(study).lines()
    assert "  Ask for check piece CP-2 back from S0424: due 16 September 2026." in short
    assert not any("CP-1" in line for line in short)
    full = " ".join(gauging_sentences(study))
    assert "Check piece CP-2 has been with the owner of S0424 since 19 August 2026 and was to be back by" in full
    assert "Check piece CP-1 has been with the owner of S0297 since 15 September 2026 and is to be back by" in full
