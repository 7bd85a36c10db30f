"""How often counts that are looked at all the time pass a limit by chance, exactly: a published test, and ours."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.monitoring.observed_expected import ratio_sequence

LIMITS = reference_frame("poisson_sequential_limits.csv")


def ever_crosses(too_many: list[float], too_few: list[float], end: float) -> float:
    """Give the chance that a Poisson process of rate 1 ever has too many or too few events by a time.

    Parameters
    ----------
    too_many : list of float
        The first, second, ... event is too many if it comes by then.
    too_few : list of float
        No event, one, two, ... are too few from then on.
    end : float
        Until when it is watched.

    Notes
    -----
    The n-th event is later than a time where fewer than n have come by then: so the law of the count, given that
    nothing was crossed, need only be carried from one of these times to the next.
    """
    at: list[tuple[float, int | None, int | None]] = [
        (time, n, None) for n, time in enumerate(too_many, start=1) if time < end
    ]
    at += [(time, None, n) for n, time in enumerate(too_few) if time < end]
    if too_many:
        # the next event would be too many at any time before the end
        at.append((end, sum(time < end for time in too_many) + 1, None))
    size = 400
    law, last = np.zeros(size), 0.0
    law[0] = 1.0
    for time, many, few in sorted(at, key=lambda each: each[0]):
        law = np.convolve(law, stats.poisson.pmf(np.arange(size), time - last))[:size]
        last = time
        if many is not None:
            law[many:] = 0.0
        if few is not None:
            law[: few + 1] = 0.0
    return 1.0 - float(law.sum())


def maximised(limit: float) -> list[float]:
    """Give by when the first, second, ... event makes the maximised likelihood ratio of more events pass a limit."""

    def excess(expected: float, count: int) -> float:
        return count * float(np.log(count / expected)) - (count - expected) - limit

    return [float(optimize.brentq(excess, 1e-12, n, args=(n,), xtol=1e-14)) for n in range(1, 60)]


@pytest.mark.parametrize(("expected", "limit"), LIMITS.to_numpy(dtype=float).tolist())
def test_published_limits_are_passed_by_chance_once_in_twenty(expected: float, limit: float) -> None:
    # this checks `ever_crosses`, by which our own interval is judged below
    assert ever_crosses(maximised(limit), [], expected) == pytest.approx(0.05, abs=1e-11)
    found = optimize.brentq(lambda each: ever_crosses(maximised(each), [], expected) - 0.05, 2.0, 5.0, xtol=1e-13)
    assert found == pytest.approx(limit, abs=1e-9)


def ratio_end(end: str, expected: float, seen: int) -> float:
    found = ratio_sequence(np.array([float(seen)]), np.array([expected]), np.zeros(1))
    return (found.low if end == "low" else found.high) or 0.0


def more_than_predicted(seen: int) -> float:
    """Give up to how many predicted the interval of seen over predicted lies over 1; 0 where it never does."""
    if ratio_end("low", 1e-6, seen) <= 1.0:
        return 0.0
    return float(optimize.brentq(lambda told: ratio_end("low", told, seen) - 1.0, 1e-6, seen, xtol=1e-7))


def fewer_than_predicted(seen: int) -> float:
    """Give from how many predicted on it lies under 1."""
    return float(
        optimize.brentq(lambda told: ratio_end("high", told, seen) - 1.0, seen + 0.5, 4 * seen + 20, xtol=1e-7)
    )


@pytest.fixture(scope="module")
def limits() -> tuple[list[float], list[float]]:
    return [more_than_predicted(seen) for seen in range(1, 60)], [fewer_than_predicted(seen) for seen in range(60)]


@pytest.mark.parametrize("expected", [2.0, 10.0, 30.0])
def test_our_interval_excludes_the_truth_no_more_often_than_promised_however_often_one_looks(
    limits: tuple[list[float], list[float]], expected: float
) -> None:
    too_many, too_few = limits
    either = ever_crosses(too_many, too_few, expected)
    assert 0.0 < either < 0.05
    assert max(ever_crosses(too_many, [], expected), ever_crosses([], too_few, expected)) <= either


def test_the_chance_is_that_of_drawn_events(limits: tuple[list[float], list[float]]) -> None:
    too_many, too_few = limits
    rng = np.random.default_rng(20261126)
    crossed = 0
    for _ in range(4000):
        times = np.cumsum(rng.exponential(size=60))
        first = times[:59] <= np.array(too_many)
        # so few events still when they are too few
        late = np.array(too_few[:60]) < np.append(times[:60], np.inf)[:60]
        crossed += bool((first & (times[:59] <= 20.0)).any() or (late & (np.array(too_few) <= 20.0)).any())
    assert crossed / 4000 == pytest.approx(ever_crosses(too_many, too_few, 20.0), abs=0.008)
