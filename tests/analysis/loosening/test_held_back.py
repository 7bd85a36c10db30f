"""What had happened by a horizon, and how well it was foretold: against the same worked out hub by hub."""

from __future__ import annotations

import numpy as np
import pytest

from tests.analysis.support.gap_fleet import GapFleet
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.loosening.mediation import compare_at_gap
from wearstats.analysis.loosening.validation import _brier, _concordance, outcomes_by
from wearstats.analysis.survival.reporting import SilenceFit, SilentHistories, fit_silence

MONTHS = 12.0


@pytest.fixture(scope="module")
def fleet() -> tuple[SilentHistories, SilenceFit]:
    histories, _, _ = GapFleet(fittings=500, reported=0.5).draw(np.random.default_rng(4))
    return histories, fit_silence(histories)


def test_a_silent_hub_counts_by_the_chance_that_it_failed_unheard(fleet: tuple[SilentHistories, SilenceFit]) -> None:
    histories, silence = fleet
    known, _ = outcomes_by(histories, silence, MONTHS)
    missed = 1 - silence.chance

    def failed_by(month: float) -> float:
        return float(silence.curve.share_failed(np.array([month]))[0])

    silent = np.flatnonzero((histories.silent_from < MONTHS) & (histories.left > MONTHS))
    assert silent.size > 20
    for hub in silent[:20]:
        word, end = histories.silent_from[hub], histories.left[hub]
        # nothing was heard: it failed from the last word on and was not reported, or runs beyond the records' end
        unheard = missed * (failed_by(end) - failed_by(word)) + 1 - failed_by(end)
        assert known[hub] == pytest.approx(missed * (failed_by(MONTHS) - failed_by(word)) / unheard, rel=1e-9)


def test_a_failure_counts_by_the_part_of_its_months_before_the_horizon(
    fleet: tuple[SilentHistories, SilenceFit],
) -> None:
    histories, silence = fleet
    known, weight = outcomes_by(histories, silence, MONTHS)
    for hub in np.flatnonzero(histories.failed):
        after, by = histories.left[hub], histories.right[hub]
        assert known[hub] == pytest.approx(min(max((MONTHS - after) / (by - after), 0.0), 1.0))
    heard = ~histories.failed & np.isnan(histories.silent_from)
    # cut off before the horizon nothing is told; what was told counts for itself at least
    assert not weight[heard & (histories.left < MONTHS)].any()
    assert (weight[heard & (histories.left >= MONTHS)] >= 1.0).all()


def test_the_score_is_the_mean_square_of_what_was_foretold_less_what_came() -> None:
    rng = np.random.default_rng(5)
    risk, known, weight = rng.uniform(0, 1, 30), rng.uniform(0, 1, 30), rng.uniform(0, 2, 30)
    # with the chance `known` it came: the square is that of 1 less the risk, else that of the risk
    wanted = sum(w * (k * (1 - r) ** 2 + (1 - k) * r**2) for r, k, w in zip(risk, known, weight, strict=True))
    assert _brier(risk, known, weight) == pytest.approx(wanted / weight.sum())


def test_pairs_in_the_right_order_are_counted_pair_by_pair() -> None:
    rng = np.random.default_rng(6)
    risk, known, weight = rng.integers(0, 6, 40) / 6, rng.uniform(0, 1, 40), rng.uniform(0, 2, 40)
    group = np.repeat(np.arange(4), 10)
    right = pairs = 0.0
    for one in range(40):
        for other in range(40):
            if one != other and group[one] == group[other]:
                # the first failed and the other did not
                share = weight[one] * known[one] * weight[other] * (1 - known[other])
                pairs += share
                right += share * (1.0 if risk[one] > risk[other] else 0.5 if risk[one] == risk[other] else 0.0)
    assert _concordance(risk, known, weight, group) == pytest.approx(right / pairs)


def test_ways_are_compared_only_where_both_have_gaps() -> None:
    histories, gaps, supplied = GapFleet(fittings=800).draw(np.random.default_rng(9))
    way = supplied.astype(float)[:, None]
    fit = fit_loosening(histories, gaps, covariates=way, names=("supplied",))
    found = compare_at_gap(histories, gaps, fit, first_way=supplied, covariates=way, way=0, months=MONTHS)
    ends = [np.quantile(gaps.mean_um[part], [0.05, 0.95]) for part in (supplied, ~supplied)]
    assert found.low_um == pytest.approx(max(low for low, _ in ends))
    assert found.high_um == pytest.approx(min(high for _, high in ends))
    inside = (gaps.mean_um >= found.low_um) & (gaps.mean_um <= found.high_um)
    assert found.fittings == inside.sum()
