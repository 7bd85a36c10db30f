"""Slips of the hand: what is said of each at intake, and by the checks, is what the table says."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.robustness.slips.listed import SLIPS, Slip
from tests.robustness.slips.table import said_in_table
from tests.robustness.slips.trying import Tried, in_a_folder

OFTEN = 15
"""Each so many-th slip is tried in every run; the others with the slow tests."""


@pytest.fixture(scope="module")
def trial() -> Callable[[Slip], Tried]:
    return in_a_folder()


def test_the_table_has_them_all() -> None:
    said = said_in_table()
    assert list(said) == [slip.name for slip in SLIPS]
    assert len(said) >= 60
    assert {slip.table for slip in SLIPS} >= {
        "patterns",
        "gauges",
        "inspections",
        "readings",
        "hubs",
        "fittings",
        "costs",
    }
    # what is kept and told is found again whenever somebody asks
    assert [name for name, (intake, checks) in said.items() if intake == "kept, but" and not checks] == []


@pytest.mark.parametrize(
    "slip",
    [
        pytest.param(slip, id=slip.name, marks=[] if number % OFTEN == 0 else [pytest.mark.slow])
        for number, slip in enumerate(SLIPS)
    ],
)
def test_a_slip_is_noticed_as_the_table_says(slip: Slip, trial: Callable[[Slip], Tried]) -> None:
    tried = trial(slip)
    assert (tried.intake, tried.checks) == said_in_table()[slip.name]
