"""A result becomes what JSON has, its remarks words."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from numbers import Integral, Real
from pathlib import PurePath
from typing import Any

from wearstats.analysis.remark import Remark
from wearstats.report.remarks.say import say


def plain(value: Any) -> Any:
    """Turn a result into what JSON has.

    Parameters
    ----------
    value
        A dataclass is told by its `to_dict`, or else by its fields; frames are rows; days ISO text; NumPy's numbers
        Python's; what is no number None. Remarks become words, and beside their key stands ``<key>_code``.
    """
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, Remark):
        return say(value)
    if isinstance(value, Mapping):
        told: dict[str, Any] = {}
        for key, item in value.items():
            name = say(key) if isinstance(key, Remark) else str(key)
            told[name] = {str(one): say(why) for one, why in item.items()} if _are_remarks(item) else plain(item)
            if (code := _code(item)) is not None:
                told[f"{name}_code"] = code
        return told
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, datetime.date):
        # days come as midnights where they stood in a frame; what is no day at all differs from itself
        return None if value != value else value.isoformat().removesuffix("T00:00:00")
    if isinstance(value, PurePath):
        return str(value)
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if hasattr(value, "to_dict"):
        return plain(value.to_dict("records") if hasattr(value, "columns") else value.to_dict())
    if is_dataclass(value):
        return plain({each.name: getattr(value, each.name) for each in fields(value)})
    if isinstance(value, Iterable):
        return [plain(item) for item in value]
    raise TypeError(f"no JSON form for {type(value).__name__}")


def _code(value: Any) -> str | list[str] | dict[str, str] | None:
    if isinstance(value, Remark):
        return str(value.code)
    if _are_remarks(value):
        return {str(key): str(item.code) for key, item in value.items()}
    if isinstance(value, list | tuple) and value and all(isinstance(item, Remark) for item in value):
        return [str(item.code) for item in value]
    return None


def _are_remarks(value: Any) -> bool:
    """Whether it is a mapping of names to remarks: the codes then stand in one beside it, not among the names."""
    return isinstance(value, Mapping) and bool(value) and all(isinstance(item, Remark) for item in value.values())
