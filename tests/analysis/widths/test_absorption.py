"""Eliminating by splines and by places give the same, for whatever is asked of a block."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.analysis.support.width_layout import crossed_readings, layout
from wearstats.analysis.widths import absorption as width_absorb
from wearstats.analysis.widths.components import COMPONENTS, map_covariances
from wearstats.analysis.widths.data import WidthBlock

VARIANCES = np.array([5.0, 3, 2, 1.5, 4, 2, 0, 3, 1, 0, 6, 2, 1])
NONE_OF = [(), ("spline",), ("cell",), ("shaft", "shaft_station"), ("shaft", "spline", "shaft_station", "cell")]


def blocks() -> list[WidthBlock]:
    return list(layout(crossed_readings(3), splines=4, stations=3).blocks)


@pytest.mark.parametrize("none_of", NONE_OF)
def test_both_ways_agree(none_of: tuple[str, ...]) -> None:
    variances = VARIANCES.copy()
    variances[[COMPONENTS.index(name) for name in none_of]] = 0.0
    rng = np.random.default_rng(1)
    for block in blocks():
        units, inspections, slots = block.count.shape
        reading = rng.uniform(1, 5, (units, inspections, slots))
        root = rng.normal(size=(units, inspections, inspections))
        bias = root @ np.swapaxes(root, 1, 2)
        ways = [getattr(width_absorb, name)(block, variances, reading, bias) for name in ("_by_splines", "_by_places")]
        one, other = ways
        shared = rng.normal(size=(units, 3 + inspections, 3 + inspections))
        shared = 0.01 * shared @ np.swapaxes(shared, 1, 2)
        columns = rng.normal(size=(units, inspections, slots, 2)) * (block.count > 0)[..., None]
        assert one.log_determinant == pytest.approx(other.log_determinant, rel=1e-12)
        for found, expected in [
            (one.gram, other.gram),
            (one.solved, other.solved),
            (one.apply(columns), other.apply(columns)),
            (one.map_traces(shared), other.map_traces(shared)),
            (one.reading_diagonal(shared), other.reading_diagonal(shared)),
        ]:
            np.testing.assert_allclose(found, expected, rtol=1e-8, atol=1e-9)


def test_the_inverse_is_that_of_the_full_covariance() -> None:
    # independent computation: the covariance of a unit's readings written out and inverted
    block = blocks()[-1]
    units, inspections, slots = block.count.shape
    reading = np.full((units, inspections, 1), 2.0)
    bias = np.broadcast_to(0.5 + np.eye(inspections), (units, inspections, inspections))
    way = width_absorb.absorb(block, VARIANCES, reading, bias)
    maps = np.einsum("k,kst->st", VARIANCES[:4], map_covariances(block.shape))
    for unit in range(units):
        seen = np.flatnonzero(block.count[unit].ravel() > 0)
        full = np.tile(maps, (inspections, inspections)) + np.kron(bias[unit], np.ones((slots, slots)))
        full = full[np.ix_(seen, seen)] + np.diag(2.0 / block.count[unit].ravel()[seen])
        columns = width_absorb.own_columns(block)[unit].reshape(inspections * slots, -1)[seen]
        found = way.solved[unit].reshape(inspections * slots, -1)[seen]
        np.testing.assert_allclose(full @ found, columns, atol=1e-9)


def test_products_with_the_map_are_those_of_its_covariances() -> None:
    block = blocks()[0]
    vector = np.random.default_rng(2).normal(size=(block.unit.size, block.shape.slots))
    vector[:, block.shape.places :] = 0.0
    _, spline, _, cell = map_covariances(block.shape)
    places = slice(0, block.shape.places)
    for found, covariance in zip(width_absorb.map_products(block, vector), (spline, cell), strict=True):
        np.testing.assert_allclose(found[:, places], (vector @ covariance)[:, places], atol=1e-12)


def test_units_with_averages_go_by_places() -> None:
    block = blocks()[-1]
    count = block.count.copy()
    count[..., block.shape.places] = 1.0
    averaged = dataclasses.replace(block, count=count)
    assert averaged.has_averages
    assert not block.has_averages
