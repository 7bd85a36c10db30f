"""Of how many fittings it is told whether they had failed: counted by hand for seven hubs, and in the interval."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.rates.two_by_two import wilson
from wearstats.analysis.remark import refused
from wearstats.analysis.survival.cluster_bootstrap import Replicates, draw_replicates, resample_curve
from wearstats.analysis.survival.competing_causes import CAUSES, incidence_of_risks
from wearstats.analysis.survival.group_risks import GroupRisk, fit_groups
from wearstats.analysis.survival.reporting import SilentHistories, fit_silence
from wearstats.analysis.survival.turnbull import fit_cells

MONTHS = np.array([0.0, 6.0, 12.0])
#          left  right   entry silent last word
HUBS = [
    (3.0, 5.0, 0.0, np.nan, 5.0),  # worked loose between 3 and 5
    (9.0, 11.0, 4.0, np.nan, 11.0),  # the same, known from the fourth month on
    (12.0, np.inf, 0.0, np.nan, 12.0),  # heard tight at 12
    (14.0, np.inf, 1.0, np.nan, 14.0),  # the same at 14, known from the first month on
    (8.0, np.inf, 0.0, np.nan, 8.0),  # removed at 8
    (15.0, np.inf, 0.0, 2.0, 2.0),  # silent since 2, the records reach to 15
    (7.0, np.inf, 0.0, 2.0, 2.0),  # silent since 2, the records reach to 7
]
CHANCE = 0.6  # of a failure being reported unasked


@pytest.fixture(scope="module")
def histories() -> SilentHistories:
    left, right, entry, silent, last = np.array(HUBS).T
    failed = np.isfinite(right)
    return SilentHistories(
        left=left, right=right, entry=entry, silent_from=silent, last_word=last, failed=failed, unasked=failed,
        asked=np.zeros(7, dtype=bool), shaft=np.arange(7),
    )  # fmt: skip


@pytest.fixture(scope="module")
def group(histories: SilentHistories) -> GroupRisk:
    known = Estimate(value=CHANCE, low=0.5, high=0.7, method=refused("given"))
    silence = replace(fit_silence(histories), reported_unasked=known)
    replicates = draw_replicates(histories, silence, replicates=50, rng=np.random.default_rng(1))
    return fit_groups(histories, {"all": np.ones(7, dtype=bool)}, silence, replicates, months=MONTHS)["all"]


def test_a_silent_hub_tells_as_much_as_the_chance_that_its_failure_would_be_heard(group: GroupRisk) -> None:
    # at 6: both failures, three that were heard of later, and two silent ones; at 12: both failures, two heard tight,
    # and one silent one, for of the other the records end before
    assert group.told == pytest.approx([7.0, 5 + 2 * CHANCE, 4 + CHANCE])


def test_counts_of_all(histories: SilentHistories) -> None:
    assert len(histories) == 7
    assert histories.counts() == pytest.approx(
        {"fittings": 7, "followed": 7, "failures": 2, "hub_months": 4 + (10 - 4) + 12 + (14 - 1) + 8 + 2 + 2}
    )
    # one of which nothing was heard since it was known is not followed
    late = replace(histories, entry=np.where(np.arange(7) == 4, 8.0, histories.entry))
    assert late.counts()["followed"] == 6


def test_followed_through_are_those_known_from_the_start_that_did_not_fail(group: GroupRisk) -> None:
    # from the start: hubs 3, 5, 6 and 7 but for failures; heard of after six months 3 and 5, after twelve 3
    assert group.followed_through.tolist() == [4, 2, 1]
    # the middle of a failure's months, else the last word, from when it is known
    assert group.hub_months == pytest.approx(4 + (10 - 4) + 12 + (14 - 1) + 8 + 2 + 2)


def test_the_effective_number_is_the_binomial_variance_over_the_drawn_one_and_at_most_those_told(
    group: GroupRisk,
) -> None:
    for at, month in ((1, 6.0), (2, 12.0)):
        share = float(group.share[at])
        for drawn, most in ((0.2, 100.0), (0.001, 5.4)):
            spread = np.tile(np.array([share - drawn, share, share + drawn])[:, None], (1, 3))
            known = replace(group, spread=spread, told=np.full(3, most))
            # three draws so far apart have the variance drawn^2
            expected = min(share * (1 - share) / drawn**2, most)
            assert known.effective_number(month) == pytest.approx(expected)
            found, told = known.risk(month), wilson(share * expected, expected)
            # one interval serves where silence is told, else its lower end is that of the share if silence is good
            assert found.high == pytest.approx(told.high)
    # no spread at all: no more than those of which it is told
    assert replace(group, spread=np.ones((4, 3))).effective_number(12.0) == pytest.approx(4 + CHANCE)


def test_a_lone_cause_has_the_curve_and_the_interval_of_its_risk_up_to_the_last_word(group: GroupRisk) -> None:
    # the last word falls on the last month asked for
    lone = replace(group, followed_to=12.0)
    nothing = replace(lone, share=np.zeros(3), spread=np.zeros_like(lone.spread))
    found = incidence_of_risks([lone, *[nothing] * (len(CAUSES) - 1)])
    assert set(found["cause"]) == {next(iter(CAUSES))}
    assert found["months"].tolist() == [0.0, 6.0, 12.0]
    assert found["share"].to_numpy() == pytest.approx(lone.share, abs=1e-9)
    for month, share, low, high in found[["months", "share", "low", "high"]].to_numpy(dtype=float)[1:]:
        assert high == pytest.approx(lone.risk(month).high, abs=1e-9)
        number = lone.effective_number(month)
        assert low == pytest.approx(wilson(share * number, number).low, abs=1e-9)
    # nothing is lost at the start
    assert found.iloc[0][["share", "low", "high"]].tolist() == [0.0, 0.0, 0.0]
    # beyond the last word there is no curve, and without a loss none at all
    assert incidence_of_risks([replace(group, followed_to=11.9), *[nothing] * (len(CAUSES) - 1)])["months"].max() == 6.0
    assert incidence_of_risks([nothing] * len(CAUSES)).empty


def test_a_replicate_that_holds_every_hub_once_has_the_curve(histories: SilentHistories) -> None:
    many = SilentHistories(**{
        name: np.tile(getattr(histories, name), 20) for name in SilentHistories.__slots__ if name != "shaft"
    }, shaft=np.arange(140))  # fmt: skip
    cells = many.cells()
    curve = fit_cells(cells, np.ones(140), unreported=1 - CHANCE, tolerance=1e-9)
    once = Replicates(weight=np.ones((1, 140)), chance=np.array([CHANCE]))
    mass = resample_curve(cells, curve, once, np.ones(140, dtype=bool))
    assert mass[0] == pytest.approx(curve.mass, abs=2e-3)
