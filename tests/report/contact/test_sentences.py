"""What is said of contact predicted and marked: how they agree, and what to do where they do not."""

from __future__ import annotations

import pytest

from tests.report.support import small_frames
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.contact_check import ContactSeen
from wearstats.report.contact.sentences import contact_sentences, fitting_seen_sentence
from wearstats.report.contact.table import contact_table
from wearstats.report.rendering.short_answer import SURE
from wearstats.studies.gaps.contact_of_fitting import FittingSeen


def seen(*, difference: tuple[float, float, float], slope: tuple[float, float, float]) -> ContactSeen:
    one, other = (Estimate(value=value, low=low, high=high) for value, low, high in (difference, slope))
    covered = Estimate(value=0.86, low=0.78, high=0.92)
    return ContactSeen(
        fittings=30, shafts=28, difference=one, slope=other, covered=covered, bands=small_frames.contact_bands()
    )


def test_a_difference_that_chance_explains_is_called_so() -> None:
    first, second, third, foot = contact_sentences(seen(difference=(0.02, -0.02, 0.05), slope=(0.97, 0.9, 1.04)))
    assert first.startswith("When 30 hubs went onto 28 shafts")
    assert "2 in 100 more sides marked than were predicted (2 fewer to 5 more)" in first
    assert first.endswith("no more than chance explains.")
    assert second.endswith("9.7 more marked (9 to 10), as it should be.")
    assert third.startswith("In 86 in 100 of these hubs (78 to 92) the share that marked lay in")
    assert foot == SURE


@pytest.mark.parametrize(
    ("slope", "words"),
    [((0.8, 0.7, 0.9), "goes too far both ways"), ((1.3, 1.1, 1.5), "does not go far enough")],
)
def test_a_line_that_is_too_flat_or_too_steep_is_told(slope: tuple[float, float, float], words: str) -> None:
    lines = contact_sentences(seen(difference=(-0.1, -0.15, -0.05), slope=slope))
    assert "10 in 100 fewer sides marked" in lines[0]
    assert lines[0].endswith("which is more than chance explains.")
    assert words in lines[1]


@pytest.mark.parametrize(
    ("predicted", "marked", "words"),
    [
        ((0.9, 0.6, 1.0), 0.7, "The marks agree with the widths."),
        ((1.0, 1.0, 1.0), 0.85, "all were predicted to bear. Fewer marked than the widths lead to "
         "expect, but no fewer than the 80 in 100 at which filing stops."),
        ((0.9, 0.6, 1.0), 0.3, "have the shaft measured again before the next hub is chosen."),
        ((0.0, 0.0, 0.0), 0.3, "none were predicted to bear. More marked than the widths lead to expect"),
    ],
)  # fmt: skip
def test_one_fitting(predicted: tuple[float, float, float], marked: float, words: str) -> None:
    value, low, high = predicted
    told = FittingSeen(fitting="F1", shaft="S1", predicted=Estimate(value=value, low=low, high=high), marked=marked)
    assert words in fitting_seen_sentence(told)


def test_the_table_has_a_row_a_group() -> None:
    table = contact_table(seen(difference=(0.0, -0.1, 0.1), slope=(1.0, 0.9, 1.1)))
    assert table.rows[0] == ("1", "10", "4", "15", "6 to 27")
