"""Of few shafts no spread is taken for known, and what is said of one does not hang on others that were added."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from tests.analysis.widths.test_fit_recovery import invent as invent_fleet
from tests.simulation.few_shafts import SCENES, mean_sd
from wearstats.analysis.widths.components import COMPONENTS, couple
from wearstats.analysis.widths.data import WidthData
from wearstats.analysis.widths.fit import fit_widths, linked_classes
from wearstats.analysis.widths.fitted import ASSUMED_UM, FEW_SHAFTS, WidthFit, cautious, weigh_biases
from wearstats.analysis.widths.likelihood import WidthLikelihood
from wearstats.domain.arrays import FloatArray


def fleet(shafts: int, seed: int, scene: str = "usual") -> WidthData:
    rng = np.random.default_rng([20261128, seed])
    return invent(shafts, SCENES[scene](rng), rng=rng)[0]


def first(data: WidthData, shafts: int) -> WidthData:
    """Keep the first shafts alone, whose rows come first."""
    blocks = []
    for block in data.blocks:
        rows = np.flatnonzero(data.units["shaft"].astype(int).to_numpy()[block.unit] < shafts)
        if rows.size:
            parts = {name: getattr(block, name)[rows] for name in ("unit", "inspection", "count", "mean")}
            blocks.append(replace(block, **parts))
    inspections = data.inspections[data.inspections["unit"].astype(int) < shafts]
    units = data.units[data.units["shaft"].astype(int) < shafts]
    readings = int(sum(block.count.sum() for block in blocks))
    return replace(data, blocks=tuple(blocks), inspections=inspections, units=units, readings=readings)


def log_posterior(likelihood: WidthLikelihood, variances: FloatArray, free: list[int], logs: FloatArray) -> float:
    variances = variances.copy()
    variances[free] = np.exp(logs)
    likely = [
        stats.norm.logpdf(log, 2 * np.log(WEAK_UM[COMPONENTS[k]][0]), 2 * np.log(WEAK_UM[COMPONENTS[k]][1]))
        for k, log in zip(free, logs, strict=True)
    ]
    return float(-0.5 * likelihood.evaluate(variances).criterion + sum(likely))


@pytest.mark.parametrize("scene", ["usual", "shafts alike"])
def test_two_more_shafts_make_the_first_no_surer_than_they_may(scene: str) -> None:
    for seed in range(12):
        data = fleet(3, seed, scene)
        one, three = (fit_widths(some, intervals=False) for some in (first(data, 1), data))
        alone = mean_sd(one, first(data, 1))[0]
        assert mean_sd(three, data)[0] >= 0.8 * alone


def test_a_spread_of_zero_from_three_shafts_alike_is_no_knowledge() -> None:
    # all shafts moved to the mean of the first: their estimated spread is zero
    data = fleet(3, 1)
    level = {}
    for block in data.blocks:
        for row, unit in enumerate(block.unit):
            level[unit] = float(np.average(block.mean[row], weights=block.count[row]))
    blocks = tuple(
        replace(block, mean=block.mean - np.array([level[unit] for unit in block.unit])[:, None, None])
        for block in data.blocks
    )
    alike = replace(data, blocks=tuple(replace(block, mean=block.mean * (block.count > 0)) for block in blocks))
    fit = fit_widths(alike, intervals=False)
    assert fit.variances[0] == 0.0
    alone = mean_sd(fit_widths(first(alike, 1), intervals=False), first(alike, 1))[0]
    assert (mean_sd(fit, alike) >= 0.8 * alone).all()
    assert (mean_sd(replace(fit, weighed=None), alike) < 0.7 * alone).all()


def test_weighed_spreads_are_means_of_the_posterior() -> None:
    # independent: drawn from wide t laws of the logarithms and weighted by likelihood times density
    data = fleet(5, 3)
    fit = fit_widths(data, intervals=False)
    assert fit.weighed is not None
    likelihood = WidthLikelihood(data, couple(data, classes=linked_classes(data)))
    free = [k for k, name in enumerate(COMPONENTS) if fit.free[k] and name in WEAK_UM]
    base = fit.weighed.variances
    rng = np.random.default_rng(4)
    centre, wide = np.log(base[free]) - 0.1, np.array([1.2, 0.6, 0.7, 0.9, 0.2])
    draws = centre + wide * rng.standard_t(5, (500, len(free)))
    density = stats.t.logpdf((draws - centre) / wide, 5).sum(axis=1)
    weight = np.array([log_posterior(likelihood, base, free, logs) for logs in draws]) - density
    weight = np.exp(weight - weight.max())
    mean = weight @ np.exp(draws) / weight.sum()
    # as many draws of even weight
    assert weight.sum() ** 2 / (weight**2).sum() > 60
    np.testing.assert_allclose(np.sqrt(base[free]), np.sqrt(mean), rtol=0.15)


def test_estimates_stay_and_only_predictions_change() -> None:
    data = fleet(5, 3)
    fit = fit_widths(data, intervals=False)
    assert fit.weighed is not None
    for k, name in enumerate(COMPONENTS):
        assert fit.components_um[name].value == pytest.approx(
            np.sqrt(fit.variances[k]) if fit.free[k] else ASSUMED_UM[name]
        )
    found = cautious(fit)
    assert found.variances is fit.weighed.variances
    biases = [k for k, name in enumerate(COMPONENTS) if name not in WEAK_UM]
    assert found.variances[biases] == pytest.approx(weigh_biases(fit)[0][biases])
    again = cautious(found)
    assert again.variances == pytest.approx(found.variances)
    assert again.mean_covariance == pytest.approx(found.mean_covariance)


def test_how_much_is_assumed_falls_with_the_shafts() -> None:
    shares = []
    for shafts in (1, 3, 10, 40):
        weighed = fit_widths(fleet(shafts, 5), intervals=False).weighed
        assert weighed is not None
        assert ((weighed.prior_share > 0) & (weighed.prior_share <= 1 + 1e-9)).all()
        shares.append(weighed.prior_share[0])
    assert shares[0] == 1.0
    assert np.all(np.diff(shares) < 0)
    assert shares[-1] < 0.05


def both_ways(fit: WidthFit, data: WidthData) -> FloatArray:
    return mean_sd(fit, data) / mean_sd(replace(fit, weighed=None), data)


def test_thirty_shafts_hardly_change_and_a_hundred_not_at_all() -> None:
    for seed in (6, 7):
        data = fleet(30, seed)
        assert np.abs(both_ways(fit_widths(data, intervals=False), data) - 1).max() < 0.03
    data, _ = invent_fleet(FEW_SHAFTS, rng=np.random.default_rng(8))
    assert fit_widths(data, intervals=False).weighed is None
    data, _ = invent_fleet(FEW_SHAFTS - 1, rng=np.random.default_rng(8))
    assert np.abs(both_ways(fit_widths(data, intervals=False), data) - 1).max() < 0.03
