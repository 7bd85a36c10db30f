"""Results are held against the columns that their frames declare, whenever the program makes one in a test.

What a test makes by hand, to show one thing of it, is not held to anything.
"""

from __future__ import annotations

import dataclasses
import functools
import importlib
import pkgutil
import sys
import typing
from collections.abc import Iterator
from typing import Annotated, Any

import pandas as pd
from pandas.api import types

from wearstats.domain.frames import Columns, Kind

FLOORS = ("analysis", "studies")


def result_classes() -> Iterator[type]:
    """Give the dataclasses of the floors whose results others read."""
    for floor in FLOORS:
        package = importlib.import_module(f"wearstats.{floor}")
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            module = importlib.import_module(found.name)
            for kind in vars(module).values():
                if isinstance(kind, type) and dataclasses.is_dataclass(kind) and kind.__module__ == found.name:
                    yield kind


def declared(kind: type) -> dict[str, Columns]:
    """Give the columns that a dataclass declares, by field."""
    found = {}
    names = vars(sys.modules[kind.__module__]) | {"pd": pd, "Annotated": Annotated}
    for field in dataclasses.fields(kind):
        text = field.type if isinstance(field.type, str) else ""
        if "Annotated[pd.DataFrame" not in text:
            continue
        for part in typing.get_args(eval(text, names)) or ():
            if isinstance(part, Columns):
                found[field.name] = part
            for inner in typing.get_args(part):
                if isinstance(inner, Columns):
                    found[field.name] = inner
    return found


def kinds_of(frame: pd.DataFrame) -> dict[str, Kind | None]:
    """Say what every column of a frame holds; None where nothing in it tells."""
    return {str(name): _kind(frame[name]) for name in frame.columns}


def _kind(values: pd.Series[Any]) -> Kind | None:
    there = values.dropna()
    if there.empty:
        return None
    if types.is_bool_dtype(values):
        return "flag"
    if types.is_integer_dtype(values):
        return "whole"
    if types.is_float_dtype(values):
        return "number"
    if types.is_datetime64_any_dtype(values):
        return "day"
    seen = {type(value).__name__ for value in there.head(200)}
    if seen <= {"str", "str_"}:
        return "text"
    if seen <= {"date", "datetime", "Timestamp"}:
        return "day"
    if seen <= {"bool", "bool_"}:
        return "flag"
    if seen <= {"int", "int64", "int32"}:
        return "whole"
    if seen <= {"float", "int", "float64", "int64"}:
        return "number"
    return "any"


def hold_results_to_their_columns() -> None:
    """Have every result that is made from now on checked."""
    for kind in result_classes():
        hold_to_columns(kind)


def hold_to_columns(kind: type, *, maker: str = "wearstats") -> None:
    """Have the frames of one class checked whenever a package, or a module, makes one."""
    if not (frames := declared(kind)):
        return
    made: Any = kind.__init__  # type: ignore[misc]

    @functools.wraps(made)
    def checked(self: Any, *args: Any, **kwargs: Any) -> None:
        made(self, *args, **kwargs)
        if not _made_by(maker):
            return
        for name, columns in frames.items():
            # a frame without any column stands for nothing at all
            if isinstance(frame := getattr(self, name), pd.DataFrame) and len(frame.columns):
                problems = columns.problems(kinds_of(frame))
                assert not problems, f"{kind.__name__}.{name}: {'; '.join(problems)}"

    setattr(kind, "__init__", checked)  # noqa: B010


def _made_by(maker: str) -> bool:
    """Whether the code that makes a result, or a changed copy of one, is that package's."""
    caller: Any = sys._getframe(2)
    while caller is not None and caller.f_globals.get("__name__") in ("dataclasses", "copy"):
        caller = caller.f_back
    return caller is not None and str(caller.f_globals.get("__name__")).startswith(maker)
