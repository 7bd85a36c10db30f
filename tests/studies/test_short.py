"""What is worked out for a short answer alone says the same as what is worked out for the whole."""

from __future__ import annotations

from typing import Any

import pytest

from wearstats.report.answers import short_answers
from wearstats.studies.gauging.study import study_gauging
from wearstats.studies.loosening.study import LooseningStudy, study_loosening
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.wear.answer import WearStudy
from wearstats.studies.wear.study import study_wear


def said(question: str, study: Any) -> list[list[str]]:
    return [answer.lines() for answer in short_answers(question, study)]


def test_wear(demo: Snapshot, demo_wear: WearStudy) -> None:
    assert said("wear", study_wear(demo, short=True)) == said("wear", demo_wear)


def test_loosening(demo: Snapshot, demo_loosening: LooseningStudy) -> None:
    assert said("loosening", study_loosening(demo, short=True)) == said("loosening", demo_loosening)


@pytest.mark.parametrize("pattern", [None, "D8"])
def test_gauging(demo: Snapshot, pattern: str | None) -> None:
    assert said("gauging", study_gauging(demo.of(pattern), short=True)) == said(
        "gauging", study_gauging(demo.of(pattern))
    )
