"""Notes made at a fitting: what they mean is found again, and with them gaps are known better and no less honestly."""

import numpy as np
import pytest
from scipy import optimize
from scipy.special import ndtr
from scipy.stats import norm

from wearstats.analysis.gaps.indicators import choose_draws, learn_indicator, weigh

N, DRAWS, DOUBT = 3000, 320, 5.0


def known_gaps(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Posterior means, and true gaps about them."""
    mean = rng.uniform(5, 40, N)
    return mean, mean + DOUBT * rng.standard_normal(N)


def test_line_and_scatter_are_found_again() -> None:
    rng = np.random.default_rng(1)
    mean, truth = known_gaps(rng)
    note = np.where(rng.random(N) < 0.3, 3.0 + 0.8 * truth + 2.0 * rng.standard_normal(N), np.nan)
    found = learn_indicator("play", note, mean, np.full(N, DOUBT**2))
    assert found is not None
    assert not found.yes_or_no
    assert (found.base, found.slope) == pytest.approx((3.0, 0.8), abs=0.6)
    assert found.sd == pytest.approx(2.0, abs=0.6)


def test_probit_is_found_again() -> None:
    rng = np.random.default_rng(2)
    mean, truth = known_gaps(rng)
    note = (rng.random(N) < ndtr(-6.0 + 0.3 * truth)).astype(float)
    found = learn_indicator("slid on", note, mean, np.full(N, DOUBT**2))
    assert found is not None
    assert found.yes_or_no
    assert (found.base, found.slope) == pytest.approx((-6.0, 0.3), rel=0.15)


def test_weighed_draws_are_the_normal_posterior() -> None:
    # normal prior and normal note: the closed form of their product, but for the one note in twenty taken as wrong
    rng = np.random.default_rng(3)
    mean, truth = known_gaps(rng)
    note = truth + 3.0 * rng.standard_normal(N)
    found = learn_indicator("play", note, mean, np.full(N, DOUBT**2))
    assert found is not None
    drawn = mean[:, None] + DOUBT * rng.standard_normal((N, DRAWS))
    chosen = choose_draws(weigh(found, note, drawn), np.arange(N))
    posterior = np.take_along_axis(drawn, chosen, axis=1)
    ratio = DOUBT**2 / (DOUBT**2 + 3.0**2)
    assert np.corrcoef(posterior.mean(axis=1), mean + ratio * (note - mean))[0, 1] > 0.995
    z = (truth - posterior.mean(axis=1)) / posterior.std(axis=1)
    # a little too wide, for the one note in twenty that might be wrong
    assert 0.94 < np.mean(np.abs(z) < 1.96) < 0.985


def test_without_a_note_every_draw_stays() -> None:
    rng = np.random.default_rng(4)
    mean, truth = known_gaps(rng)
    found = learn_indicator("play", truth, mean, np.full(N, DOUBT**2))
    assert found is not None
    weight = weigh(found, np.full(2, np.nan), rng.normal(size=(2, DRAWS)))
    assert (choose_draws(weight, np.array([0, 1])) == np.arange(DRAWS)).all()


def test_fittings_of_a_shaft_keep_their_draws_together() -> None:
    weight = np.ones((3, 4))
    weight[0] = [0.0, 0.0, 2.0, 2.0]
    chosen = choose_draws(np.maximum(weight, 1e-12), np.array([5, 9, 5]))
    assert chosen[0].tolist() == chosen[2].tolist() == [2, 2, 3, 3]
    assert chosen[1].tolist() == [0, 1, 2, 3]


def test_few_notes_or_notes_that_go_with_nothing_are_not_used() -> None:
    rng = np.random.default_rng(5)
    mean, truth = known_gaps(rng)
    assert learn_indicator("play", np.where(np.arange(N) < 19, truth, np.nan), mean, np.full(N, 25.0)) is None
    assert learn_indicator("play", np.full(N, 3.0), mean, np.full(N, 25.0)) is None
    assert learn_indicator("play", 1.0 + np.tile([1.0, -1.0], N // 2), mean, np.full(N, 25.0)) is None


def test_a_note_is_used_whatever_its_unit() -> None:
    rng = np.random.default_rng(1)
    mean, truth = known_gaps(rng)
    note = 3.0 + 0.8 * truth + 2.0 * rng.standard_normal(N)
    whole = learn_indicator("play", note, mean, np.full(N, DOUBT**2))
    small = learn_indicator("play", note / 1000, mean, np.full(N, DOUBT**2))
    assert whole is not None
    assert small is not None
    assert (small.base, small.slope, small.sd) == pytest.approx(
        (whole.base / 1000, whole.slope / 1000, whole.sd / 1000)
    )


def test_where_every_hub_over_a_gap_was_noted_the_line_is_kept_from_running_off() -> None:
    rng = np.random.default_rng(4)
    mean = np.sort(rng.uniform(5, 40, 60))
    note = (mean > 22.0).astype(float)
    found = learn_indicator("slid on", note, mean, np.zeros(60))
    assert found is not None
    # independent: a probit of the gap in its own scatters, with a normal of 10 on its slope
    x, sign = (mean - mean.mean()) / mean.std(), np.where(note > 0, 1.0, -1.0)
    told = optimize.minimize(
        lambda at: -np.log(ndtr(sign * (at[0] + at[1] * x)) + 1e-300).sum() - norm.logpdf(at[1], 0.0, 10.0),
        np.array([0.0, 3.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-6, "fatol": 1e-9, "maxiter": 4000},
    ).x
    assert found.slope * mean.std() == pytest.approx(told[1], rel=1e-3)
