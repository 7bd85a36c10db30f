"""Walk a chart's specification: a misspelt column passes silently wherever the type is written out."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

Spec = dict[str, Any]


def units(spec: Spec) -> Iterator[Spec]:
    """Give every single view in a specification, with the data it inherits and the datasets at hand."""
    datasets = spec.get("datasets", {})

    def walk(view: Spec, data: Spec | None) -> Iterator[Spec]:
        data = view.get("data", data)
        parts = [part for kind in ("layer", "hconcat", "vconcat", "concat") for part in view.get(kind, [])]
        for part in parts:
            yield from walk(part, data)
        if not parts:
            rows = [] if data is None else data.get("values", datasets.get(data.get("name", ""), []))
            yield {**view, "rows": rows}

    yield from walk(spec, None)


def figures(spec: Spec) -> list[Spec]:
    """Give of every view what it shows: its mark, the fields it encodes, stated domains, and the figures themselves."""
    told = []
    for unit in units(spec):
        mark, encoding = unit["mark"], unit["encoding"]
        fields = {channel: part["field"] for channel, part in sorted(encoding.items()) if "field" in part}
        scales = {channel: part.get("scale") or {} for channel, part in encoding.items() if isinstance(part, dict)}
        told.append(
            {
                "mark": mark if isinstance(mark, str) else mark["type"],
                "fields": fields,
                "domains": {channel: scale["domain"] for channel, scale in sorted(scales.items()) if "domain" in scale},
                "rows": [[_figure(row.get(field)) for field in dict.fromkeys(fields.values())] for row in unit["rows"]],
            }
        )
    return told


def figure_lines(spec: Spec) -> str:
    """Give the figures of a chart as golden files hold them, a view a line."""
    return "".join(json.dumps(view, ensure_ascii=False) + "\n" for view in figures(spec))


def _figure(value: object) -> object:
    return float(f"{value:.6g}") if isinstance(value, float) else value


def misspelt_columns(spec: Spec) -> list[str]:
    """Name every encoded field that its data have not."""
    return [
        f"{channel}: {encoding['field']}"
        for unit in units(spec)
        for channel, encoding in unit.get("encoding", {}).items()
        if "field" in encoding and any(encoding["field"] not in row for row in unit["rows"])
    ]


def untitled_axes(spec: Spec) -> list[str]:
    """Name every drawn x or y axis that says nothing and is not told to say nothing."""
    return [
        f"{channel}: {encoding['field']}"
        for unit in units(spec)
        for channel, encoding in unit.get("encoding", {}).items()
        if channel in {"x", "y"}
        and "field" in encoding
        and "title" not in encoding
        and encoding.get("axis", {}) is not None
    ]


def axis_titles(spec: Spec) -> list[str]:
    """Give the words on all axes."""
    titles = [
        encoding["title"]
        for unit in units(spec)
        for channel, encoding in unit.get("encoding", {}).items()
        if channel in {"x", "y"} and encoding.get("title")
    ]
    return list(dict.fromkeys(titles))


def empty_views(spec: Spec) -> int:
    """Count the views without a row."""
    return sum(not unit["rows"] for unit in units(spec))
