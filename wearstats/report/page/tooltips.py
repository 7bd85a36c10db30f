"""What a mark tells when it is pointed at: at most three written fields, rounded, the name of a shaft or hub first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

_MOST: Final = 3
_NAMES: Final = ("shaft", "fitting", "hub", "measured_by", "inspection", "pattern", "size", "name", "spline", "group")
"""Columns that name what a row is about, the most telling first."""

_PARTS: Final = ("layer", "hconcat", "vconcat", "concat")


def with_tooltips(spec: Mapping[str, Any]) -> dict[str, Any]:
    """Give a copy of a chart's specification in which every mark tells what it stands for.

    Parameters
    ----------
    spec : mapping
        Full, in the house style. Only fields with a title are told: what has none is internal. A whisker tells its two
        ends as such, never under the name of the estimate.
    """
    datasets: Mapping[str, list[dict[str, Any]]] = spec.get("datasets", {})

    def told(view: Mapping[str, Any], data: Mapping[str, Any] | None) -> dict[str, Any]:
        data = view.get("data", data)
        copy = dict(view)
        for kind in _PARTS:
            if kind in copy:
                copy[kind] = [told(part, data) for part in copy[kind]]
        if "mark" in copy:
            rows = (data or {}).get("values") or datasets.get((data or {}).get("name", ""), [])
            # the row that a curve has at hand is not the one that is pointed at
            kind = copy["mark"] if isinstance(copy["mark"], str) else copy["mark"]["type"]
            silent = kind in {"line", "area"}
            fields = [] if silent else _fields(copy.get("encoding", {}), rows[0] if rows else {})
            copy["encoding"] = {**copy.get("encoding", {}), "tooltip": fields or None}
        return copy

    return told(spec, None)


def _fields(encoding: Mapping[str, Any], row: Mapping[str, Any]) -> list[dict[str, Any]]:
    name = next((column for column in _NAMES if column in row), None)
    found = [] if name is None else [{"field": name, "type": "nominal", "title": name.replace("_", " ")}]
    for channel in ("y", "x", "color"):
        part = encoding.get(channel)
        if not isinstance(part, Mapping) or "field" not in part or not (title := _title(part)):
            continue
        other = encoding.get(f"{channel}2", {})
        ends = [(part["field"], f"{title}, from"), (other["field"], "to")] if "field" in other else []
        found += [_field(field, words, part) for field, words in ends or [(part["field"], title)]]
    unlike: dict[str, dict[str, Any]] = {}
    for each in found:
        unlike.setdefault(str(each["field"]), each)
    return list(unlike.values())[:_MOST]


def _title(part: Mapping[str, Any]) -> str:
    for told in (part, part.get("axis") or {}, part.get("legend") or {}):
        if told.get("title"):
            text = told["title"]
            return " ".join(text) if isinstance(text, list) else str(text)
    # an axis of names needs no title where its labels say what they are
    written = part.get("type") in {"nominal", "ordinal"} and str(part["field"]).isalpha()
    return str(part["field"]) if written else ""


def _field(field: str, title: str, part: Mapping[str, Any]) -> dict[str, Any]:
    told = {"field": field, "title": title, "type": part.get("type", "nominal")}
    if told["type"] == "quantitative":
        told["format"] = ",.3~r"
    if told["type"] == "temporal":
        told["format"] = "%-d %b %Y"
    return told
