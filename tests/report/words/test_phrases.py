"""Numbers in plain words."""

from __future__ import annotations

import datetime

import pytest

from wearstats.analysis.estimate import Estimate, assumed, no_estimate
from wearstats.analysis.remark import refused
from wearstats.report.words import phrases


@pytest.mark.parametrize(
    ("um", "words"),
    # 25.4 um are 0.001 in, the international inch
    [
        (50.0, "0.050 mm (0.0020 in)"),
        (25.4, "0.025 mm (0.0010 in)"),
        (41.3, "0.041 mm (0.0016 in)"),
        (-0.2, "0.000 mm (0.0000 in)"),
    ],
)
def test_size(um: float, words: str) -> None:
    assert phrases.size(um) == words


def test_sure_size_says_how_sure() -> None:
    estimate = Estimate(value=41.3, low=36.0, high=47.0)
    assert phrases.sure_size(estimate) == "0.041 mm (0.0016 in; between 0.036 and 0.047 mm, 95 % sure)"
    assert phrases.sure_size(Estimate(value=41.3, high=47.0)).endswith("; at most 0.047 mm, 95 % sure)")
    assert phrases.sure_size(Estimate(value=41.3, low=36.0, level=0.9)).endswith("; at least 0.036 mm, 90 % sure)")
    assert phrases.sure_size(Estimate(value=41.3)) == "0.041 mm (0.0016 in)"


def test_sure_size_says_what_is_not_known() -> None:
    assert phrases.sure_size(no_estimate(refused("too few"))) == "cannot be told from these data"
    assert "assumed, these data cannot tell: usual" in phrases.sure_size(assumed(6.0, why=refused("usual")))
    assert phrases.sure_size(Estimate(value=3.0, high=12.0, status="bounded")) == "at most 0.012 mm (0.0005 in)"


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "0"),
        (1.0, "100"),
        (0.0004, "less than 0.1"),
        (0.9996, "more than 99.9"),
        (0.043, "4.3"),
        (0.0996, "10"),
        (0.2, "20"),
        (0.05, "5"),
    ],
)
def test_in_hundred(share: float, words: str) -> None:
    assert phrases.in_hundred(share) == words


def test_sure_share() -> None:
    estimate = Estimate(value=0.12, low=0.08, high=0.17)
    assert phrases.sure_share(estimate, "hubs") == "12 in 100 hubs (between 8 and 17, 95 % sure)"
    assert phrases.sure_share(no_estimate(refused("none")), "hubs") == "cannot be told from these data"


def test_counts_days_months_lists() -> None:
    assert phrases.count(1, "shaft") == "1 shaft"
    assert phrases.count(12400, "reading") == "12\u202f400 readings"
    assert phrases.day(datetime.date(2026, 4, 3)) == "3 April 2026"
    assert (phrases.months(1), phrases.months(12.0), phrases.months(1.5)) == ("1 month", "12 months", "1.5 months")
    assert phrases.joined([]) == ""
    assert phrases.joined(["a", "b", "c"]) == "a, b and c"
    assert phrases.sentence(" so it is") == "So it is."
    assert phrases.sentence("Is it?") == "Is it?"


def test_sure_fewer() -> None:
    estimate = Estimate(value=-0.036, low=-0.1, high=0.022)
    assert phrases.sure_fewer(estimate) == ("3.6 fewer", " (between 10 fewer and 2.2 more, 95 % sure)")
    assert phrases.sure_fewer(no_estimate(refused("none"))) == ("cannot be told from these data", "")
