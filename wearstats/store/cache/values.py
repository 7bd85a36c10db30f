"""Results as bytes and back, to the last bit: records, frames, arrays and plain values, and nothing that runs.

A record is of one of this package's classes, named by module and name; it comes back field by field, and nothing is
called. Arrays are those of an ``npz`` file, read without pickles; everything else is one JSON text in it.
"""

from __future__ import annotations

import dataclasses
import datetime
import enum
import importlib
import io
import json
import zipfile
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import pandas as pd

from wearstats.store.cache.entries import MOST_OF_ONE

_TREE: Final = "tree"
_OURS: Final = "wearstats."
_PLAIN_KINDS: Final = "biufcUmM"
_OBJECT_BYTES: Final = 64
"""What an element of a column of texts is taken to need, generously: most of it while it is written."""
_SPOILED: Final = (
    ValueError,
    KeyError,
    IndexError,
    TypeError,
    AttributeError,
    ImportError,
    EOFError,
    OSError,
    RecursionError,
    NotImplementedError,
    MemoryError,
    zipfile.BadZipFile,
)


class NotKeptError(Exception):
    """Something that is no record, frame, array or plain value, or too much of it."""


class SpoiledError(ValueError):
    """Bytes that are not what was written."""


def to_bytes(value: Any) -> bytes:
    """Write a result.

    Raises
    ------
    NotKeptError
        When there is something in it that is not kept.
    """
    writer = _Writer()
    tree = json.dumps(writer.tree(value)).encode()
    file = io.BytesIO()
    arrays: dict[str, Any] = {_TREE: np.frombuffer(tree, dtype=np.uint8), **writer.arrays}
    np.savez(file, **arrays)
    return file.getvalue()


def from_bytes(content: bytes) -> Any:
    """Read a result again; SpoiledError where the bytes are not what `to_bytes` wrote."""
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
            return _Reader(arrays).value(json.loads(arrays[_TREE].tobytes()))
    except _SPOILED as spoiled:
        raise SpoiledError(str(spoiled)) from spoiled


class _Writer:
    """Makes a JSON tree, and puts arrays aside."""

    def __init__(self) -> None:
        self.arrays: dict[str, np.ndarray] = {}
        self._names: dict[int, str] = {}
        self._records: dict[int, tuple[int, Any]] = {}
        self._bytes = 0

    def tree(self, value: Any) -> Any:
        """Give what JSON has: plain values as they are, everything else as a list that begins with its kind."""
        kind = type(value)
        if value is None or kind in (bool, int, float, str):
            return value
        if kind in _BY_TYPE:
            return [_BY_TYPE[kind], *(self.tree(each) for each in value)]
        if isinstance(value, (dict, MappingProxyType)) and kind in (dict, MappingProxyType):
            pairs = [[self.tree(key), self.tree(each)] for key, each in value.items()]
            return ["dict" if kind is dict else "proxy", *pairs]
        if isinstance(value, enum.Enum):
            return ["enum", *_named(kind), value.name]
        if isinstance(value, np.ndarray):
            return self._array(value)
        if isinstance(value, np.generic):
            return ["number", self._array(np.asarray(value))]
        if (dated := self._dated(value)) is not None:
            return dated
        if isinstance(value, (pd.DataFrame, pd.Series, pd.Index)):
            return self._framed(value)
        # a record that stands in two places is one: whoever asks whether this is the chosen one must find that it is
        if id(value) in self._records:
            return ["same", self._records[id(value)][0]]
        self._records[id(value)] = (len(self._records), value)
        number, named = self._records[id(value)][0], _named(kind)
        return ["record", number, *named, {name: self.tree(each) for name, each in _fields(value).items()}]

    def _dated(self, value: Any) -> list[Any] | None:
        if value is pd.NaT or value is pd.NA:
            return ["none", "NaT" if value is pd.NaT else "NA"]
        if type(value) is pd.Timestamp and value.tz is None:
            return ["stamp", int(value.asm8.astype(np.int64)), value.unit]
        if type(value) is datetime.datetime and value.tzinfo is None:
            return ["datetime", value.isoformat()]
        if type(value) is datetime.date:
            return ["date", value.isoformat()]
        if type(value) is datetime.timedelta:
            return ["pause", value.days, value.seconds, value.microseconds]
        return None

    def _framed(self, value: Any) -> list[Any]:
        if type(value) is pd.DataFrame:
            columns = [self._values(value.iloc[:, at]) for at in range(value.shape[1])]
            return ["frame", self.tree(value.columns), self.tree(value.index), self.tree(value.attrs), *columns]
        if type(value) is pd.Series:
            return ["series", self._values(value), self.tree(value.index), self.tree(value.name)]
        if type(value) is pd.RangeIndex:
            return ["range", value.start, value.stop, value.step, self.tree(value.name)]
        if type(value) in (pd.Index, pd.DatetimeIndex, pd.CategoricalIndex):
            return ["index", self._values(value), self.tree(value.name)]
        raise NotKeptError(f"{type(value).__module__}.{type(value).__qualname__}")

    def _take(self, size: int) -> None:
        """Count what is written; a large fleet's rows are refused before they are held twice."""
        self._bytes += size
        if self._bytes > MOST_OF_ONE:
            raise NotKeptError(f"more than {MOST_OF_ONE} bytes")

    def _values(self, column: Any) -> list[Any]:
        dtype = column.dtype
        if not isinstance(dtype, np.dtype):
            self._take(_OBJECT_BYTES * len(column))
        if isinstance(dtype, pd.CategoricalDtype):
            codes = pd.Categorical(column).codes
            return ["kinds", self._array(np.array(codes)), self.tree(dtype.categories), bool(dtype.ordered)]
        if isinstance(dtype, np.dtype):
            kind, name, _, *values = self._array(column.to_numpy())
            # what a frame lends out is not to be written to, but the frame is
            return ["plain", [kind, name, True, *values]]
        if isinstance(dtype, (pd.StringDtype, pd.BooleanDtype)) or str(dtype).lower().startswith(("int", "float")):
            words = ["str" if isinstance(dtype, pd.StringDtype) and dtype.na_value is not pd.NA else str(dtype)]
            return ["typed", *words, self._array(np.array(column.to_numpy(dtype=object), dtype=object))]
        raise NotKeptError(f"a column of {dtype}")

    def _array(self, array: np.ndarray) -> list[Any]:
        if type(array) is not np.ndarray or array.dtype.kind not in _PLAIN_KINDS + "O":
            raise NotKeptError(f"an array of {array.dtype}")
        if array.dtype.kind == "O":
            self._take(_OBJECT_BYTES * array.size)
            values = [self.tree(each) for each in array.ravel()]
            return ["objects", list(array.shape), bool(array.flags.writeable), *values]
        # what several fields share is written once; it is held here, so that no other has its number
        name = self._names.setdefault(id(array), str(len(self.arrays)))
        if name not in self.arrays:
            self._take(array.nbytes)
        self.arrays[name] = array
        return ["array", name, bool(array.flags.writeable)]


_BY_TYPE: Final[dict[type, str]] = {tuple: "tuple", list: "list", set: "set", frozenset: "frozenset"}


def _named(kind: type) -> tuple[str, str]:
    """Name a class of this package."""
    if not kind.__module__.startswith(_OURS) or "<" in kind.__qualname__:
        raise NotKeptError(f"{kind.__module__}.{kind.__qualname__}")
    return kind.__module__, kind.__qualname__


def _fields(record: Any) -> dict[str, Any]:
    """Give what a record holds, by name."""
    if dataclasses.is_dataclass(record):
        return {each.name: getattr(record, each.name) for each in dataclasses.fields(record)}
    if not hasattr(record, "__dict__"):
        raise NotKeptError(type(record).__qualname__)
    told: dict[str, Any] = vars(record)
    return told


class _Reader:
    """Makes values of a tree and the arrays beside it."""

    def __init__(self, arrays: Mapping[str, np.ndarray]) -> None:
        self._arrays = arrays
        self._read: dict[str, np.ndarray] = {}
        self._records: dict[int, Any] = {}

    def value(self, tree: Any) -> Any:
        """Give the value again; any error where the tree is not one."""
        if not isinstance(tree, list):
            return tree
        kind, *rest = tree
        if kind not in _KINDS:
            raise ValueError(f"no kind {kind!r}")
        return getattr(self, f"_{kind}")(*rest)

    def _tuple(self, *values: Any) -> tuple[Any, ...]:
        return tuple(map(self.value, values))

    def _list(self, *values: Any) -> list[Any]:
        return [self.value(each) for each in values]

    def _set(self, *values: Any) -> set[Any]:
        return set(map(self.value, values))

    def _frozenset(self, *values: Any) -> frozenset[Any]:
        return frozenset(map(self.value, values))

    def _dict(self, *pairs: Any) -> dict[Any, Any]:
        return {self.value(key): self.value(each) for key, each in pairs}

    def _proxy(self, *pairs: Any) -> Mapping[Any, Any]:
        return MappingProxyType(self._dict(*pairs))

    def _enum(self, module: str, name: str, member: str) -> Any:
        kind = _found(module, name)
        if not issubclass(kind, enum.Enum):
            raise ValueError(f"{name} has no members")
        return kind[member]

    def _same(self, number: int) -> Any:
        return self._records[number]

    def _record(self, number: int, module: str, name: str, told: dict[str, Any]) -> Any:
        kind = _found(module, name)
        if dataclasses.is_dataclass(kind) and {each.name for each in dataclasses.fields(kind)} != set(told):
            raise ValueError(f"{name} is another record")
        record = self._records[number] = object.__new__(kind)
        for field, value in told.items():
            object.__setattr__(record, field, self.value(value))
        return record

    def _number(self, array: Any) -> Any:
        return self.value(array)[()]

    def _array(self, name: str, writeable: bool) -> np.ndarray:
        if name not in self._read:
            self._read[name] = self._arrays[name]
        array = self._read[name]
        array.flags.writeable = writeable
        return array

    def _objects(self, shape: list[int], writeable: bool, *values: Any) -> np.ndarray:
        array = np.empty(len(values), dtype=object)
        for at, each in enumerate(values):
            array[at] = self.value(each)
        array = array.reshape(shape)
        array.flags.writeable = writeable
        return array

    def _none(self, name: str) -> Any:
        return {"NaT": pd.NaT, "NA": pd.NA}[name]

    def _stamp(self, at: int, unit: str) -> pd.Timestamp:
        stamp: Any = np.array(at, dtype=f"datetime64[{unit}]")[()]
        return pd.Timestamp(stamp)

    def _datetime(self, text: str) -> datetime.datetime:
        return datetime.datetime.fromisoformat(text)

    def _date(self, text: str) -> datetime.date:
        return datetime.date.fromisoformat(text)

    def _pause(self, days: int, seconds: int, microseconds: int) -> datetime.timedelta:
        return datetime.timedelta(days, seconds, microseconds)

    def _frame(self, columns: Any, index: Any, attrs: Any, *values: Any) -> pd.DataFrame:
        rows = self.value(index)
        frame = pd.DataFrame({at: self._column(each, rows) for at, each in enumerate(values)}, index=rows)
        frame.columns = self.value(columns)
        frame.attrs = self.value(attrs)
        return frame

    def _series(self, values: Any, index: Any, name: Any) -> pd.Series:
        column = self._column(values, self.value(index))
        column.name = self.value(name)
        return column

    def _range(self, start: int, stop: int, step: int, name: Any) -> pd.RangeIndex:
        return pd.RangeIndex(start, stop, step, name=self.value(name))

    def _index(self, values: Any, name: Any) -> pd.Index:
        index: pd.Index = pd.Index(self._column(values, None), name=self.value(name))
        return index

    def _column(self, told: list[Any], index: Any) -> pd.Series:
        """Give the values of a column or an index, of their type."""
        kind, *rest = told
        if kind == "plain":
            values = self.value(rest[0])
        elif kind == "kinds":
            values = pd.Categorical.from_codes(self.value(rest[0]), self.value(rest[1]), ordered=rest[2])
        else:
            values = pd.array(self.value(rest[1]), dtype=rest[0])
        column: pd.Series = pd.Series(values, index=index, dtype=values.dtype)
        return column


_KINDS: Final = frozenset(
    {name.removeprefix("_") for name in vars(_Reader) if name.startswith("_") and not name.startswith("__")}
    - {"column", "arrays", "read", "records"}
)


def _found(module: str, name: str) -> Any:
    if not module.startswith(_OURS):
        raise ValueError(f"{module} is not of this package")
    found: Any = importlib.import_module(module)
    for each in name.split("."):
        found = getattr(found, each)
    if not isinstance(found, type):
        raise ValueError(f"{name} is no class")
    return found
