"""Results come back to the last bit, and bytes that are something else are refused without running anything."""

from __future__ import annotations

import datetime
import io
import json
import math
import os
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Quoted, Remark
from wearstats.domain.quarters import Quarter
from wearstats.store.cache.values import NotKeptError, SpoiledError, from_bytes, to_bytes

plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.dates(),
    lambda inner: (
        st.lists(inner)
        | st.tuples(inner, inner)
        | st.dictionaries(st.text() | st.integers(), inner)
        | st.sets(st.text())
    ),
    max_leaves=12,
)


def same(one: Any, other: Any) -> bool:
    """Whether two values have the same types and bits, all the way down."""
    return repr(one) == repr(other) and type(one) is type(other)


@given(plain)
def test_plain_values_come_back(value: Any) -> None:
    back = from_bytes(to_bytes(value))
    if isinstance(value, set):
        assert back == value
    elif "{" not in repr(value):
        assert same(back, value)
    else:
        assert to_bytes(back) == to_bytes(value) or back == value


@pytest.mark.parametrize(
    "array",
    [
        np.arange(6.0).reshape(2, 3),
        np.asfortranarray(np.arange(6.0).reshape(2, 3)),
        np.array([], dtype=np.int8),
        np.array([math.nan, -0.0, math.inf, 5e-324]),
        np.array(["2026-01-01", "NaT"], dtype="datetime64[D]"),
        np.array(["µ", ""]),
        np.array([[1, None], ["x", (1, 2)]], dtype=object),
        np.array(True),
    ],
)
def test_arrays_come_back_with_their_order_and_their_lock(array: np.ndarray) -> None:
    for locked in (False, True):
        array.flags.writeable = not locked
        back = from_bytes(to_bytes(array))
        assert (back.dtype, back.shape, back.flags.writeable) == (array.dtype, array.shape, not locked)
        assert back.flags.f_contiguous == array.flags.f_contiguous
        assert repr(back) == repr(array)
        assert array.dtype.kind == "O" or back.tobytes() == array.tobytes()


def test_frames_come_back_with_the_types_of_their_columns() -> None:
    frame = pd.DataFrame(
        {
            "whole": np.array([1, 2, 3], dtype=np.int16),
            "number": [0.1, math.nan, -0.0],
            "text": ["a", None, "µ"],
            "mixed": pd.Series(["a", 1, None], dtype=object),
            "kind": pd.Categorical(["x", "y", "x"], categories=["y", "x"], ordered=True),
            "day": pd.to_datetime(pd.Series(["2026-01-01", None, "2026-01-03"])),
            "maybe": pd.array([True, None, False], dtype="boolean"),
            "count": pd.array([1, None, 3], dtype="Int64"),
            "told": [Estimate(value=1.0), Estimate(value=None), None],
        },
        index=pd.Index([5, 7, 9], name="at"),
    )
    frame.attrs["of"] = 3
    back = from_bytes(to_bytes(frame))
    pd.testing.assert_frame_equal(back.drop(columns="told"), frame.drop(columns="told"), check_exact=True)
    assert back["told"].tolist() == frame["told"].tolist()
    assert back.attrs == frame.attrs
    assert to_bytes(back) == to_bytes(frame)
    # it can be written to, as the first could
    back.loc[5, "number"] = 2.0
    back.loc[5, "mixed"] = "b"
    for series in (frame["kind"], frame["text"], frame["day"].rename(None)):
        pd.testing.assert_series_equal(from_bytes(to_bytes(series)), series)
    for index in (frame.columns, pd.RangeIndex(2, 9, 3, name="n"), pd.Index([], dtype=object), pd.Index(frame["day"])):
        pd.testing.assert_index_equal(from_bytes(to_bytes(index)), index, exact=True)


def test_records_of_this_package_come_back_with_their_codes() -> None:
    why = Remark(Quoted.REFUSAL, {"n": np.float64(1.5), "on": datetime.date(2026, 1, 2), "in": Remark("b", {})})
    value = {
        "estimate": Estimate(value=0.1, low=None, method=why),
        "quarter": Quarter.of(datetime.date(2026, 5, 1)),
        "at": pd.Timestamp("2026-05-01 10:00"),
        "never": pd.NaT,
        "pause": datetime.timedelta(days=3, seconds=5),
        "proxy": MappingProxyType({("a", 1): frozenset({1})}),
    }
    back = from_bytes(to_bytes(value))
    assert repr(back) == repr(value)
    assert back["estimate"].method.code is Quoted.REFUSAL
    assert type(back["estimate"].method.facts["n"]) is np.float64


def test_what_several_fields_share_is_written_once() -> None:
    array = np.arange(1000.0)
    one, two = from_bytes(to_bytes((array, array)))
    assert one is two
    estimate = Estimate(value=1.0)
    several, chosen = from_bytes(to_bytes(([Estimate(value=1.0), estimate], estimate)))
    assert [each is chosen for each in several] == [False, True]
    assert len(to_bytes((array, array))) < 1.5 * len(to_bytes(array))


@dataclass
class Foreign:
    """Of no room of the package."""

    number: int


@pytest.mark.parametrize("value", [Foreign(1), print, os, object(), 1j, b"x", int, lambda: 1, io.BytesIO()])
def test_what_is_of_another_package_or_runs_is_not_kept(value: object) -> None:
    with pytest.raises(NotKeptError):
        to_bytes([value])


def _forged(tree: Any) -> bytes:
    file = io.BytesIO()
    np.savez(file, tree=np.frombuffer(json.dumps(tree).encode(), dtype=np.uint8))
    return file.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"PK",
        b"x" * 100,
        to_bytes([1, 2])[:-30],
        _forged(["record", 0, "os", "stat_result", {}]),
        _forged(["record", 0, "wearstats.analysis.estimate", "Estimate", {"value": 1}]),
        _forged(["record", 0, "wearstats.store.database.file", "os.path", {}]),
        _forged(["record", 0, "wearstats.resources", "resource", {}]),
        _forged(["enum", "wearstats.analysis.estimate", "Estimate", "value"]),
        _forged(["enum", "wearstats.analysis.remark", "Quoted", "NOBODY"]),
        _forged(["array", "nowhere", True]),
        _forged(["column", ["plain", 1]]),
        _forged(["__init__", {}]),
        _forged(["unheard-of"]),
        _forged([]),
        _forged([["list"]]),
        _forged(["tuple", ["stamp", "x", "ns"]]),
    ],
)
def test_bytes_that_are_something_else_are_refused(content: bytes) -> None:
    with pytest.raises(SpoiledError):
        from_bytes(content)


def test_a_pickle_is_not_run() -> None:
    file = io.BytesIO()
    np.savez(file, tree=np.array([print], dtype=object))
    with pytest.raises(SpoiledError):
        from_bytes(file.getvalue())


@pytest.mark.parametrize(
    "value",
    [np.zeros(2_000), [np.zeros(600), np.ones(600)], pd.Series(["a"] * 200), np.array([None] * 200, dtype=object)],
)
def test_what_is_too_much_is_refused_before_it_is_written(value: object, monkeypatch: pytest.MonkeyPatch) -> None:
    assert to_bytes(value)
    monkeypatch.setattr("wearstats.store.cache.values.MOST_OF_ONE", 9_000)
    with pytest.raises(NotKeptError, match="more than 9000 bytes"):
        to_bytes(value)
