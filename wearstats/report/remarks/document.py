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
            told[name] = plain(item)
            if (code := _code(item)) is not None:
                told[f"{name}_code"] = code
        return told
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, PurePath):
        return str(value)
    if hasattr(value, "to_dict"):
        return plain(value.to_dict("records") if hasattr(value, "columns") else value.to_dict())
    if is_dataclass(value):
        return plain({each.name: getattr(value, each.name) for each in fields(value)})
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, Iterable):
        return [plain(item) for item in value]
    raise TypeError(f"no JSON form for {type(value).__name__}")


def _code(value: Any) -> str | list[str] | None:
    if isinstance(value, Remark):
        return str(value.code)
    if isinstance(value, list | tuple) and value and all(isinstance(item, Remark) for item in value):
        return [str(item.code) for item in value]
    return None
