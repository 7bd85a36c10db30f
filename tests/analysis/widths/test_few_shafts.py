"""Of few shafts no spread is taken for known, and no shaft more makes a jump."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from tests.analysis.widths.test_fit_recovery import invent as invent_fleet
from tests.simulation.few_shafts import AVERAGE, fleet, mean_sd
from wearstats.analysis.widths.components import COMPONENTS, couple
from wearstats.analysis.widths.data import WidthData
from wearstats.analysis.widths.fit import fit_widths, linked_classes, weigh_spreads
from wearstats.analysis.widths.fitted import (
    ASSUMED_UM,
    FEW_SHAFTS,
    LIKELY_UM,
    MANY_SHAFTS,
    ONE_IN_TWENTY_UM,
    SHAFTS_FACTOR,
    SHAFTS_UM,
    WidthFit,
    cautious,
    normal_of_spread,
    spread_of_normal,
    spread_points,
    weigh_biases,
)
from wearstats.analysis.widths.likelihood import WidthLikelihood
from wearstats.analysis.widths.prediction import predict_maps, predict_over, with_sites
from wearstats.domain.arrays import FloatArray


def first(data: WidthData, shafts: int) -> WidthData:
    """Keep the first shafts alone, by their numbers."""
    kept = (data.units["shaft"].astype(int) < shafts).to_numpy()
    looks = data.inspections["unit"].astype(int).lt(shafts).to_numpy()
    unit, look = np.cumsum(kept) - 1, np.cumsum(looks) - 1
    blocks = []
    for block in data.blocks:
        rows = np.flatnonzero(kept[block.unit])
        if rows.size:
            at, looked = unit[block.unit[rows]], look[block.inspection[rows]]
            count, mean = block.count[rows], block.mean[rows]
            blocks.append(replace(block, unit=at, inspection=looked, count=count, mean=mean))
    readings = int(sum(block.count.sum() for block in blocks))
    inspections = data.inspections[looks].reset_index(drop=True)
    units = data.units[kept].reset_index(drop=True)
    return replace(data, blocks=tuple(blocks), inspections=inspections, units=units, readings=readings)


def fine(scene: str, shafts: int, number: int) -> WidthData:
    """Give a fleet as though every gauge stepped by 1 um."""
    data = fleet(scene, shafts, number)[0]
    return replace(data, inspections=data.inspections.assign(step_um=1.0))


def as_point(fit: WidthFit, variances: FloatArray, means: FloatArray, covariance: FloatArray) -> WidthFit:
    fit = replace(fit, weighed=None, free=np.zeros_like(fit.free), variances=variances, mean_covariance=covariance)
    return replace(fit, means=fit.means.assign(value_um=means))


def test_priors_are_as_wide_as_the_stated_limits() -> None:
    biases = tuple(name for name in COMPONENTS if name.startswith(("measurer", "inspection")))
    assert {"shaft", *ONE_IN_TWENTY_UM, *biases} == set(COMPONENTS)
    for name, end in ONE_IN_TWENTY_UM.items():
        usual = LIKELY_UM[COMPONENTS.index(name)]
        assert stats.expon.sf(end, scale=usual) == pytest.approx(0.05)
        assert usual * 2**0.5 == pytest.approx(ASSUMED_UM[name], rel=0.03)


def test_places_of_spreads_go_to_and_fro() -> None:
    step, places = 1e-5, np.linspace(-2.5, 2.5, len(COMPONENTS))
    value, slope, bend = spread_of_normal(places)
    assert normal_of_spread(value) == pytest.approx(places)
    assert spread_of_normal(np.ones(len(COMPONENTS)))[0][0] == SHAFTS_UM * SHAFTS_FACTOR
    above, below = (spread_of_normal(places + sign * step) for sign in (1, -1))
    np.testing.assert_allclose(slope, (above[0] - below[0]) / (2 * step), rtol=1e-6)
    np.testing.assert_allclose(bend, (above[1] - below[1]) / (2 * step), rtol=1e-6)


@pytest.mark.parametrize(("scene", "shafts", "number"), [("shafts alike", 3, 0), ("usual", 2, 3)])
def test_predictions_are_those_of_a_dense_grid(scene: str, shafts: int, number: int) -> None:
    # independent: of three spreads, the others held, the posterior is summed over a grid
    data = fine(scene, shafts, number)
    fit = fit_widths(data, intervals=False)
    likelihood = WidthLikelihood(data, couple(data, classes=linked_classes(data)))
    active = [COMPONENTS.index(name) for name in ("shaft", "cell", "shaft_station")]
    likelihood.active = active
    few = replace(fit, weighed=weigh_spreads(likelihood, fit))
    assert few.weighed is not None
    fixed = len(likelihood.coupling.fixed)
    axis = np.linspace(-3.2, 3.2, 9)
    logs, points = [], []
    for place in np.stack(np.meshgrid(axis, axis, axis), axis=-1).reshape(-1, 3):
        variances = few.weighed.variances[0].copy()
        every = np.zeros(len(COMPONENTS))
        every[active] = place
        variances[active] = spread_of_normal(every)[0][active] ** 2
        criterion, means, covariance = likelihood.means(variances)
        logs.append(-0.5 * criterion - 0.5 * float(place @ place))
        points.append(as_point(fit, variances, means[:fixed], covariance[:fixed, :fixed]))
    weights = np.exp(np.array(logs) - max(logs))
    grid = [(float(w), point) for w, point in zip(weights / weights.sum(), points, strict=True) if w > 1e-4]
    for told, wanted in zip(predict_maps(few, data), predict_over(grid, data), strict=True):
        sd = [np.sqrt(np.einsum("i,uij,j->u", AVERAGE, each.covariance_um2, AVERAGE)) for each in (told, wanted)]
        np.testing.assert_allclose(sd[0], sd[1], rtol=0.05)
        np.testing.assert_allclose(told.sd_um, wanted.sd_um, rtol=0.05)
        np.testing.assert_allclose(told.mean_um, wanted.mean_um, atol=0.7)


def test_a_mixture_has_the_moments_of_its_points_one_by_one() -> None:
    data = fine("usual", 4, 2)
    fit = fit_widths(data, intervals=False)
    points = spread_points(fit)
    assert sum(weight for weight, _ in points) == pytest.approx(1.0)
    used = with_sites(cautious(fit), data)
    by_point = [(weight, predict_over([(1.0, point)], used)) for weight, point in points]
    for at, told in enumerate(predict_maps(fit, data)):
        mean = sum(weight * one[at].mean_um for weight, one in by_point)
        square = sum(
            weight * (one[at].covariance_um2 + one[at].mean_um[:, :, None] * one[at].mean_um[:, None, :])
            for weight, one in by_point
        )
        np.testing.assert_allclose(told.mean_um, mean, atol=1e-9)
        np.testing.assert_allclose(
            told.covariance_um2, square - told.mean_um[:, :, None] * told.mean_um[:, None, :], atol=1e-7
        )


@pytest.mark.parametrize("scene", ["usual", "shafts alike"])
def test_two_more_shafts_make_the_first_hardly_surer(scene: str) -> None:
    for number in range(6):
        data = fine(scene, 3, number)
        one, three = (fit_widths(some, intervals=False) for some in (first(data, 1), data))
        assert mean_sd(three, data)[0] >= 0.75 * mean_sd(one, first(data, 1))[0]


def test_a_spread_of_zero_from_three_shafts_alike_is_no_knowledge() -> None:
    # all shafts moved to the mean of the first: their estimated spread is zero
    data = fine("usual", 3, 1)
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
    assert fit.weighed is not None
    assert np.sqrt(fit.weighed.weights @ fit.weighed.variances[:, 0]) > 3.0
    alone = mean_sd(fit_widths(first(alike, 1), intervals=False), first(alike, 1))[0]
    assert (mean_sd(fit, alike) >= 0.7 * alone).all()
    assert (mean_sd(fit, alike) > 1.1 * mean_sd(replace(fit, weighed=None), alike)).all()


def test_estimates_stay_and_only_predictions_change() -> None:
    data = fine("usual", 5, 3)
    fit = fit_widths(data, intervals=False)
    assert fit.weighed is not None
    for k, name in enumerate(COMPONENTS):
        assert fit.components_um[name].value == pytest.approx(
            np.sqrt(fit.variances[k]) if fit.free[k] else ASSUMED_UM[name]
        )
    found = cautious(fit)
    assert found.variances == pytest.approx(fit.weighed.weights @ fit.weighed.variances)
    biases = [k for k, name in enumerate(COMPONENTS) if name.startswith(("measurer", "inspection"))]
    assert found.variances[biases] == pytest.approx(weigh_biases(fit)[0][biases])
    again = cautious(found)
    assert again.variances == pytest.approx(found.variances)
    assert again.mean_covariance == pytest.approx(found.mean_covariance)
    assert np.linalg.eigvalsh(found.mean_covariance).min() > -1e-9


def test_how_much_is_assumed_falls_with_the_shafts() -> None:
    shares = []
    for shafts in (1, 3, 10, 40):
        weighed = fit_widths(fine("usual", shafts, 5), intervals=False).weighed
        assert weighed is not None
        assert ((weighed.prior_share > 0) & (weighed.prior_share <= 1 + 1e-9)).all()
        shares.append(weighed.prior_share[0])
    assert shares[0] > 0.8
    assert np.all(np.diff(shares) < 0)
    assert shares[-1] < 0.05


def both_ways(fit: WidthFit, data: WidthData) -> FloatArray:
    return mean_sd(fit, data) / mean_sd(replace(fit, weighed=None), data)


def test_no_shaft_more_makes_a_jump() -> None:
    data, _ = invent_fleet(MANY_SHAFTS + 1, rng=np.random.default_rng(8))
    found, apart = {}, {}
    for shafts in (10, 20, 40, FEW_SHAFTS - 1, FEW_SHAFTS + 1, 90, MANY_SHAFTS - 1, MANY_SHAFTS):
        part = first(data, shafts)
        fit = fit_widths(part, intervals=False)
        found[shafts] = float(np.median(mean_sd(fit, part)[:10]))
        apart[shafts] = np.abs(both_ways(fit, part) - 1).max()
    # from one fleet to the next larger, readings tell something more as well
    assert found[FEW_SHAFTS + 1] == pytest.approx(found[FEW_SHAFTS - 1], rel=0.07)
    assert found[MANY_SHAFTS] == pytest.approx(found[MANY_SHAFTS - 1], rel=0.02)
    widths = np.array(list(found.values()))
    assert (widths[1:] / widths[:-1]).max() < 1.15
    assert (widths[1:] / widths[:-1]).min() > 0.75
    assert apart[MANY_SHAFTS] == 0.0
    assert apart[MANY_SHAFTS - 1] < 0.01
