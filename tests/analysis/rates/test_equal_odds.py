"""The exact test of one odds ratio against every table counted, and on many strata of a few fittings."""

import itertools

import numpy as np
import pytest
from scipy.stats import hypergeom
from statsmodels.stats.contingency_tables import StratifiedTable

from wearstats.analysis.rates.equal_odds import exact_equal_odds
from wearstats.analysis.rates.mantel_haenszel import mantel_haenszel
from wearstats.analysis.rates.two_by_two import FourfoldTable


def _table(a: int, b: int, c: int, d: int) -> FourfoldTable:
    return FourfoldTable(first_failed=a, first_tight=b, second_failed=c, second_tight=d)


def _by_counting(tables: list[FourfoldTable]) -> float:
    """Zelen's definition word for word: all tables with these margins and this sum."""
    chances = []
    for table in tables:
        failed, total = table.first_failed + table.second_failed, table.first_total + table.second_total
        numbers = range(max(0, failed - table.second_total), min(failed, table.first_total) + 1)
        chances.append({number: hypergeom.pmf(number, total, failed, table.first_total) for number in numbers})
    seen = [table.first_failed for table in tables]
    likelihood = np.prod([chance[number] for chance, number in zip(chances, seen, strict=True)])
    every = [
        np.prod([chance[number] for chance, number in zip(chances, numbers, strict=True)])
        for numbers in itertools.product(*chances)
        if sum(numbers) == sum(seen)
    ]
    return float(sum(one for one in every if one <= likelihood * 1.0001) / sum(every))


@pytest.mark.parametrize("seed", range(8))
def test_every_table_counted(seed: int) -> None:
    rng = np.random.default_rng(seed)
    tables: list[FourfoldTable] = []
    while len(tables) < 5:
        table = _table(*(int(count) for count in rng.integers(0, 4, 4)))
        if min(table.first_total, table.second_total) > 0 and table.both_outcomes:
            tables.append(table)
    assert exact_equal_odds(tables) == pytest.approx(_by_counting(tables), abs=1e-9)


def test_two_strata_by_hand() -> None:
    # one failure in each of two strata of one fitting a group, one in either group: the sum is 1 in two tables, which
    # are as likely
    assert exact_equal_odds([_table(1, 0, 0, 1), _table(0, 1, 1, 0)]) == pytest.approx(1.0)


def test_large_strata_are_left_to_the_usual_test() -> None:
    large = [_table(600, 400, 500, 500), _table(200, 1800, 400, 1600)]
    assert exact_equal_odds(large) is None
    usual = StratifiedTable([np.array(table.to_rows(), dtype=float) for table in large]).test_equal_odds().pvalue
    assert mantel_haenszel(large).homogeneity_p == pytest.approx(float(usual))


def test_level_in_strata_of_a_few_fittings() -> None:
    # odds in proportion 3 in all strata; 1000 fleets, Monte Carlo error 0.007
    rng = np.random.default_rng(20261129)
    exact, usual = [], []
    for _ in range(1000):
        odds = rng.uniform(0.1, 0.8, 16)
        first, second = rng.integers(1, 6, 16), rng.integers(1, 6, 16)
        a, b = rng.binomial(first, 3 * odds / (1 + 3 * odds)), rng.binomial(second, odds / (1 + odds))
        rows = np.stack([a, first - a, b, second - b], axis=1)
        tables = [table for table in (_table(*(int(n) for n in row)) for row in rows) if table.both_outcomes]
        exact.append(exact_equal_odds(tables) or 0.0)
        arrays = [np.array(table.to_rows(), dtype=float) for table in tables]
        usual.append(float(StratifiedTable(arrays).test_equal_odds().pvalue))
    assert np.mean(np.array(exact) <= 0.05) <= 0.05 + 2 * 0.007
    assert np.mean(np.array(exact) <= 0.1) >= 0.04
    assert np.mean(np.array(usual) <= 0.05) > 0.08


def test_many_tiny_strata_are_not_left_to_the_large_sample_test() -> None:
    # known truth: one odds ratio of 2 in 200 strata of 2 or 3 a group; Breslow and Day said unlike in 3 of 4
    rng = np.random.default_rng(5)
    base = rng.uniform(0.1, 0.5, 200)
    first, second = rng.integers(2, 4, 200), rng.integers(2, 4, 200)
    a, b = rng.binomial(first, 2 * base / (1 + base)), rng.binomial(second, base)
    tables = [_table(*(int(n) for n in row)) for row in np.stack([a, first - a, b, second - b], axis=1)]
    assert exact_equal_odds([table for table in tables if table.both_outcomes]) is None
    assert mantel_haenszel(tables).homogeneity_p is None


def test_large_strata_keep_the_large_sample_test_and_its_level() -> None:
    # known truth: one odds ratio of 2 in ten strata of 150 to 300 a group; Monte Carlo error of 0.05 in 600 is 0.009
    rng = np.random.default_rng(6)
    low = 0
    for _ in range(600):
        base = rng.uniform(0.1, 0.5, 10)
        first, second = rng.integers(150, 300, 10), rng.integers(150, 300, 10)
        a, b = rng.binomial(first, 2 * base / (1 + base)), rng.binomial(second, base)
        p = mantel_haenszel(
            [_table(*(int(n) for n in row)) for row in np.stack([a, first - a, b, second - b], axis=1)]
        ).homogeneity_p
        assert p is not None
        low += p <= 0.05
    assert 0.03 <= low / 600 <= 0.075
