"""Inspections that contradict each other are found, and honest ones are left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.analysis.widths.test_fit_recovery import invent
from wearstats.analysis.gauging.agreement import DISAGREE_SDS, all_equal, widest_disagreement
from wearstats.analysis.widths.data import WidthBlock, WidthData
from wearstats.analysis.widths.fit import fit_widths


def _units(data: WidthData) -> list[WidthData]:
    """Take the units with two inspections, one at a time."""
    return [
        replace(data, blocks=(_unit(block, row),))
        for block in data.blocks
        if block.inspection.shape[1] == 2
        for row in range(block.unit.size)
    ]


def _unit(block: WidthBlock, row: int) -> WidthBlock:
    at = slice(row, row + 1)
    parts = {name: getattr(block, name)[at] for name in ("unit", "inspection", "count", "mean")}
    return replace(block, **parts)


def test_honest_inspections_lie_as_far_apart_as_is_said() -> None:
    data, _ = invent(600, rng=np.random.default_rng(1))
    fit = fit_widths(data, intervals=False)
    found = [widest_disagreement(fit, unit) for unit in _units(data)]
    sds = np.array([each.sds for each in found if each is not None])
    assert sds.size > 150
    # the root mean square of standard normals is 1; a gauge's steps are allowed for on the safe side
    assert 0.75 < np.sqrt(np.mean(sds**2)) < 1.1
    assert np.mean(sds > DISAGREE_SDS) < 0.01


def test_an_inspection_off_by_a_size_is_found() -> None:
    data, _ = invent(300, rng=np.random.default_rng(2))
    fit = fit_widths(data, intervals=False)
    caught = []
    for unit in _units(data):
        block = unit.blocks[0]
        mean = block.mean.copy()
        mean[0, 1] -= 70.0
        found = widest_disagreement(fit, replace(unit, blocks=(replace(block, mean=mean),)))
        assert found is not None
        caught.append(found.sds > DISAGREE_SDS)
    assert np.mean(caught) > 0.97


def test_a_single_inspection_contradicts_nobody() -> None:
    data, _ = invent(30, rng=np.random.default_rng(3))
    fit = fit_widths(data, intervals=False)
    alone = next(block for block in data.blocks if block.inspection.shape[1] == 1)
    assert widest_disagreement(fit, replace(data, blocks=(_unit(alone, 0),))) is None


@pytest.mark.parametrize(("value", "named"), [(-20.0, True), (None, False)])
def test_readings_that_are_all_the_same_are_named(value: float | None, named: bool) -> None:
    data, _ = invent(30, rng=np.random.default_rng(4))
    alone = next(block for block in data.blocks if block.inspection.shape[1] == 1)
    block = _unit(alone, 0)
    if value is not None:
        block = replace(block, mean=np.where(block.count > 0, value, 0.0))
    assert bool(all_equal(replace(data, blocks=(block,)))) is named
