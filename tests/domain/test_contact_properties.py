import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from wearstats.domain import contact
from wearstats.domain.arrays import FloatArray

lengths = st.floats(-500, 500, allow_subnormal=False)
maps = arrays(np.float64, array_shapes(min_dims=2, max_dims=3, max_side=8), elements=lengths)
undersize = st.floats(-300, 300)
gap_sets = arrays(np.float64, st.tuples(st.integers(1, 3), st.integers(1, 16)), elements=st.floats(0, 100))


@given(width=maps, space=lengths)
def test_filing_and_gap_left_are_never_negative(width: FloatArray, space: float) -> None:
    assert (contact.filing(width, space) >= 0).all()
    assert (contact.gap_left(width, space) >= 0).all()


@given(width=maps)
def test_way_in_falls_towards_the_nut_end(width: FloatArray) -> None:
    way_in = contact.way_in(width)
    assert (np.diff(way_in, axis=-1) <= 0).all()
    assert (way_in >= width).all()
    np.testing.assert_array_equal(way_in[..., -1], width[..., -1])
    np.testing.assert_array_equal(way_in[..., 0], width.max(axis=-1))


@given(width=maps, more=arrays(np.float64, (8,), elements=st.floats(0, 50)))
def test_way_in_rises_with_every_width(width: FloatArray, more: FloatArray) -> None:
    wider = width + more[: width.shape[-1]]
    assert (contact.way_in(wider) >= contact.way_in(width)).all()


@given(width=maps, space=lengths, tighter_by=st.floats(0, 200))
def test_a_tighter_hub_never_leaves_a_larger_gap_and_never_needs_less_filing(
    width: FloatArray, space: float, tighter_by: float
) -> None:
    tighter = space - tighter_by
    assert (contact.gap_left(width, tighter) <= contact.gap_left(width, space)).all()
    assert (contact.filing(width, tighter) >= contact.filing(width, space)).all()
    assert (contact.mean_gap_left(width, tighter) <= contact.mean_gap_left(width, space) + 1e-9).all()
    assert (
        contact.contact_share(contact.gap_left(width, tighter)) >= contact.contact_share(contact.gap_left(width, space))
    ).all()


@given(width=maps, space=lengths)
def test_no_hub_goes_below_the_floor_and_a_tight_one_reaches_it(width: FloatArray, space: float) -> None:
    floor = contact.gap_floor(width)
    assert (contact.gap_left(width, space) >= floor).all()
    np.testing.assert_array_equal(contact.gap_left(width, width.min()), floor)
    assert (contact.deepest_hollow(width) <= contact.gap_left(width, space).max(axis=(-2, -1))).all()


@given(
    splines=st.integers(1, 16),
    level=lengths,
    hollow=st.floats(0, 200),
    space=lengths,
    stations=st.integers(3, 9),
)
def test_full_ends_and_a_hollow_middle_leave_the_hollow_whatever_the_mean(
    splines: int, level: float, hollow: float, space: float, stations: int
) -> None:
    width = np.full((splines, stations), level)
    width[:, stations // 2] -= hollow
    gap = contact.gap_left(width, space)
    assert (gap[:, stations // 2] >= hollow - 1e-9).all()
    assert contact.deepest_hollow(width) == pytest.approx(hollow, abs=1e-9)


@given(width=maps, space=lengths, shift=lengths)
def test_only_differences_count(width: FloatArray, space: float, shift: float) -> None:
    np.testing.assert_allclose(
        contact.gap_left(width + shift, space + shift), contact.gap_left(width, space), atol=1e-9
    )
    np.testing.assert_allclose(contact.filing(width + shift, space + shift), contact.filing(width, space), atol=1e-9)


@given(width=maps, space=lengths)
def test_gap_left_is_filing_and_clearance_in_one(width: FloatArray, space: float) -> None:
    # what is left is the hub as supplied plus what was filed off it, less the shaft
    np.testing.assert_allclose(contact.gap_left(width, space), space + contact.filing(width, space) - width, atol=1e-9)
    assert (contact.mean_gap_left(width, space) >= contact.clearance(width, space) - 1e-9).all()


@given(gaps=gap_sets, data=st.data())
def test_play_is_never_more_than_the_smallest_clearance(gaps: FloatArray, data: st.DataObject) -> None:
    index_error = data.draw(arrays(np.float64, gaps.shape, elements=st.floats(-50, 50)))
    assert (contact.play(gaps, index_error) <= gaps.min(axis=-1) + 1e-9).all()
    np.testing.assert_allclose(contact.play(gaps), gaps.min(axis=-1), atol=1e-300)


@given(clearance=st.floats(0, 100), index_error=arrays(np.float64, (10,), elements=st.floats(-50, 50)))
def test_play_of_equal_clearances_loses_the_range_of_the_index_errors(
    clearance: float, index_error: FloatArray
) -> None:
    expected = clearance - (index_error.max() - index_error.min())
    assert contact.play(np.full(10, clearance), index_error) == pytest.approx(expected, abs=1e-9)


@given(gaps=gap_sets, shift=st.floats(-100, 100), force=st.floats(1, 1e5), stiffness=st.floats(10, 1000))
def test_loads_add_up_and_a_constant_gap_changes_no_share(
    gaps: FloatArray, shift: float, force: float, stiffness: float
) -> None:
    found = contact.share_load(gaps, force_n=force, stiffness_n_per_um=stiffness)
    np.testing.assert_allclose(found.load_n.sum(axis=-1), force, rtol=1e-6)
    assert (found.load_n >= 0).all()
    assert ((found.engaged >= 1) & (found.engaged <= gaps.shape[-1])).all()
    moved = contact.share_load(gaps + shift, force_n=force, stiffness_n_per_um=stiffness)
    np.testing.assert_allclose(moved.share, found.share, atol=1e-6)
    order = np.argsort(gaps, axis=-1)
    assert (np.diff(np.take_along_axis(found.load_n, order, axis=-1), axis=-1) <= 1e-9).all()


@given(gaps=gap_sets)
def test_load_share_lies_between_one_spline_and_all(gaps: FloatArray) -> None:
    found = contact.load_share(contact.share_load(gaps, force_n=1000.0, stiffness_n_per_um=100.0).load_n)
    assert (found >= 1 / gaps.shape[-1] - 1e-12).all()
    assert (found <= 1 + 1e-12).all()


@given(width=maps, space=lengths)
def test_several_shafts_at_once_are_as_one_by_one(width: FloatArray, space: float) -> None:
    stack = np.stack([width, width + 1.0])
    np.testing.assert_allclose(contact.mean_gap_left(stack, space)[0], contact.mean_gap_left(width, space))
    np.testing.assert_array_equal(contact.deepest_hollow(stack)[0], contact.deepest_hollow(width))
    np.testing.assert_array_equal(
        contact.play_bound(contact.gap_left(stack, space))[0], contact.play_bound(contact.gap_left(width, space))
    )


@given(st.integers(0, 10_000))
def test_sums_of_a_fit_are_those_of_its_places(seed: int) -> None:
    rng = np.random.default_rng(seed)
    widths, space = rng.normal(-20, 15, (4, 6, 3)), rng.normal(-20, 10, 4)
    sums = contact.sum_up_fit(contact.way_in(widths), widths.mean(axis=(1, 2)), space)
    off, left = contact.filing(widths, space[:, None, None]), contact.gap_left(widths, space[:, None, None])
    np.testing.assert_allclose(sums.gap_left_um, left.mean(axis=(1, 2)), atol=1e-9)
    np.testing.assert_allclose(sums.total_filing_um, off.sum(axis=(1, 2)), atol=1e-9)
    np.testing.assert_allclose(sums.largest_filing_um, off.max(axis=(1, 2)), atol=1e-9)
    np.testing.assert_allclose(sums.gripped_share, (widths.max(axis=2) >= space[:, None]).mean(axis=1))
