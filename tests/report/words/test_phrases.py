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


def test_an_undersize_is_in_millimetres_and_in_inches_only_where_they_are_asked_for() -> None:
    assert phrases.undersize(65.0) == "0.065 mm"
    # 0.065 mm / 25.4 mm
    assert phrases.undersize(65.0, inches=True) == "0.065 mm (0.0026 in)"


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (31.2, "31"),
        (3.14, "3.1"),
        (4.96, "5"),
        (9.97, "10"),
        (123.0, "120"),
        (5639.0, "5\u202f600"),
        (-1.5, "\u22121.5"),
        (0.0, "0"),
        (-0.0, "0"),
        (0.04, "under 0.1"),
        (-0.04, "above \u22120.1"),
        (0.051, "0.1"),
    ],
)
def test_two_figures(number: float, words: str) -> None:
    assert phrases.two_figures(number) == words


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (Estimate(value=41.3, low=36.0, high=47.0), "41 (36 to 47)"),
        (Estimate(value=41.3, high=47.0), "41 (at most 47)"),
        (Estimate(value=41.3, low=36.0, level=0.9), "41 (at least 36, 90 % sure)"),
        (Estimate(value=41.3), "41"),
        (Estimate(value=41.3, low=41.2, high=41.4), "41"),
        (Estimate(value=0.02, low=0.01, high=0.04), "under 0.1"),
        (no_estimate(refused("too few")), "not known"),
        (assumed(6.0, why=refused("usual")), "6 (assumed)"),
        (assumed(6.0, low=4.0, high=9.0, why=refused("usual")), "6 (4 to 9, assumed)"),
        (Estimate(value=None, high=12.0, status="bounded"), "at most 12"),
        (Estimate(value=None, low=12.0, status="bounded"), "at least 12"),
    ],
)
def test_sure_number(told: Estimate, words: str) -> None:
    assert phrases.sure_number(told) == words


def test_sure_microns() -> None:
    assert phrases.sure_microns(Estimate(value=41.3, low=36.0, high=47.0)) == "41 µm (36 to 47)"
    assert phrases.sure_microns(no_estimate(refused("too few"))) == "cannot be told from these data"


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
    assert phrases.sure_share(estimate, "hubs") == "12 in 100 hubs (8 to 17)"
    assert phrases.in_100(estimate) == "12 (8 to 17)"
    # what may be anything says nothing
    assert phrases.sure_share(Estimate(value=0.0, low=0.0, high=0.96), "hubs") == "cannot be told from these data"
    assert phrases.in_100(Estimate(value=0.0, low=0.0, high=0.96)) == "not known"
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


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (Estimate(value=-0.036, low=-0.1, high=0.022), ("3.6 fewer", " (10 fewer to 2.2 more)")),
        (Estimate(value=0.105, low=0.02, high=0.21), ("10 more", " (2 to 21)")),
        (Estimate(value=-0.105, low=-0.21, high=-0.02), ("10 fewer", " (2 to 21)")),
        (Estimate(value=0.05, low=0.0, high=0.21), ("5 more", " (0 to 21)")),
        (Estimate(value=0.0, low=-0.04, high=0.05), ("0", " (4 fewer to 5 more)")),
        (Estimate(value=0.05, low=0.01), ("5 more", " (at least 1 more)")),
        (no_estimate(refused("none")), ("cannot be told from these data", "")),
    ],
)
def test_sure_fewer(told: Estimate, words: tuple[str, str]) -> None:
    assert phrases.sure_fewer(told) == words


def test_times() -> None:
    assert [phrases.within(12.0), phrases.within(6.0), phrases.within(1.0)] == ["a year", "in 6 months", "in 1 month"]
    assert [phrases.span(12.0), phrases.span(6.0)] == ["a year", "6 months"]
