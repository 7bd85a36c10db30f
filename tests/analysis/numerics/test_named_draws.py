"""Draws by name: the same again, apart from each other, and no shaft's hanging on another's."""

import numpy as np
import pytest
from scipy import stats

from wearstats.analysis.numerics.named_draws import NamedDraws


def test_a_name_gives_the_same_numbers_whatever_was_drawn_before() -> None:
    one, other = NamedDraws(7), NamedDraws(7)
    other.generator("something else").normal(size=100)
    assert one.generator("laws").normal() == other.generator("laws").normal()
    assert one.within("stock", "D8").generator("laws").normal() == one.generator("stock", "D8", "laws").normal()


@pytest.mark.parametrize(
    "names", [("laws",), ("law", "s"), ("maps", "S1"), ("maps", "S2"), ("mapsS", "1"), ("maps\x1fS1", "")]
)
def test_another_seed_or_name_gives_other_numbers(names: tuple[str, ...]) -> None:
    drawn = NamedDraws(1).generator(*names).normal()
    assert drawn != NamedDraws(2).generator(*names).normal()
    assert drawn != NamedDraws(1).generator("plans").normal()


def test_a_shaft_draws_the_same_alone_and_among_others_in_any_order() -> None:
    draws = NamedDraws(1)
    together = draws.standard_normal("readings", ["S1", "S2", "S3"], (4, 2))
    assert np.array_equal(draws.standard_normal("readings", ["S3", "S1"], (4, 2)), together[[2, 0]])
    assert together.shape == (3, 4, 2)


def test_draws_of_many_labels_are_normal_and_unrelated() -> None:
    drawn = NamedDraws(20260930).standard_normal("readings", range(20_000), (2,))
    # seed fixed beforehand; Kolmogorov and Smirnov's test, and the correlation of neighbours
    assert stats.kstest(drawn.ravel(), "norm").pvalue > 0.01
    neighbours = float(np.corrcoef(drawn[:-1, 0], drawn[1:, 0])[0, 1])
    assert abs(neighbours) < 3 / np.sqrt(len(drawn))


def test_who_is_chosen_hardly_changes_when_others_come() -> None:
    draws = NamedDraws(3)
    few, many = np.arange(1000), np.arange(1010)
    first, later = (set(names[draws.some("shafts", names, 500)]) for names in (few, many))
    assert len(first) == len(later) == 500
    assert len(first - later) <= 10
    assert list(draws.some("shafts", few, 2000)) == list(range(1000))


def test_every_label_is_chosen_as_often_as_any_other() -> None:
    names = np.array([f"S{number}" for number in range(40)])
    times = np.zeros(40)
    for seed in range(500):
        times[NamedDraws(seed).some("shafts", names, 10)] += 1
    # each is chosen in a quarter of the seeds; chi-square with the hypergeometric's smaller variance allowed for
    statistic = float((((times - 125) ** 2) / (500 * 0.25 * 0.75)).sum() * 39 / 40)
    assert stats.chi2.sf(statistic, 39) > 0.001
