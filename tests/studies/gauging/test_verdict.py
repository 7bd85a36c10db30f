"""What to ask an owner for next: the verdict at its edges."""

from __future__ import annotations

import pytest

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
