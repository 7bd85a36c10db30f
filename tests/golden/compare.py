"""Two answers set against each other: documents value by value, text line by line."""

from __future__ import annotations

import difflib
import itertools
import json
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

RTOL = 1e-9
_NOTHING = 1e-12
"""Beside a 0, so small a number counts as 0."""

_SHOWN = 70
_ABSENT = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that is not the same.

    Parameters
    ----------
    place : str
        Where in the answer: a path in its document, a line of its text.
    old, new : str
        What stands there.
    relative : float or None
        Of two numbers, the difference over the larger of them.
    """

    place: str
    old: str
    new: str
    relative: float | None = None

    def __str__(self) -> str:
        """Give the line that is printed."""
        much = "" if self.relative is None else f" (relative difference {self.relative:.2g})"
        return f"{self.place}: {self.old} -> {self.new}{much}"


def compare_answers(old: Mapping[str, Any], new: Mapping[str, Any], *, rtol: float = RTOL) -> Iterator[Difference]:
    """Compare what two programs answered to one invocation.

    Parameters
    ----------
    old, new : mapping
        ``exit_code``, ``stdout``, ``stderr`` and ``files``, as the driver writes them down.
    rtol : float
        How far numbers of a document may differ, in parts of the larger one.

    Yields
    ------
    Difference
    """
    if old["exit_code"] != new["exit_code"]:
        yield Difference(place="exit code", old=str(old["exit_code"]), new=str(new["exit_code"]))
    documents = _document(old["stdout"]), _document(new["stdout"])
    if None in documents:
        yield from compare_texts(old["stdout"], new["stdout"], name="stdout")
    else:
        yield from compare_values(*documents, rtol=rtol)
    yield from compare_texts(old["stderr"], new["stderr"], name="stderr")
    for name in sorted({*old["files"], *new["files"]}):
        yield from compare_texts(old["files"].get(name, ""), new["files"].get(name, ""), name=name)


def compare_values(old: Any, new: Any, *, path: str = "", rtol: float = RTOL) -> Iterator[Difference]:
    """Compare two values of a document and all that they hold.

    Parameters
    ----------
    old, new
        As they come out of JSON.
    path : str
        Where they stand: ``wear_um.quantiles.0.5.value``, ``plan[3].splines``.
    rtol : float
        How far floats may differ, in parts of the larger one; everything else must be equal, its kind too.

    Yields
    ------
    Difference
    """
    if isinstance(old, dict) and isinstance(new, dict):
        for key in [*old, *(key for key in new if key not in old)]:
            place = f"{path}.{key}" if path else key
            if key in old and key in new:
                yield from compare_values(old[key], new[key], path=place, rtol=rtol)
            else:
                yield Difference(place=place, old=_told(old, key), new=_told(new, key))
    elif isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            yield Difference(place=path, old=f"{len(old)} items", new=f"{len(new)} items")
        else:
            for number, (one, other) in enumerate(zip(old, new, strict=True)):
                yield from compare_values(one, other, path=f"{path}[{number}]", rtol=rtol)
    elif type(old) is float and type(new) is float:
        if not _close(old, new, rtol):
            yield Difference(place=path, old=repr(old), new=repr(new), relative=_relative(old, new))
    elif type(old) is not type(new) or old != new:
        yield Difference(place=path, old=_shortened(json.dumps(old)), new=_shortened(json.dumps(new)))


def compare_texts(old: str, new: str, *, name: str) -> Iterator[Difference]:
    """Compare two texts.

    Parameters
    ----------
    old, new : str
        The texts.
    name : str
        What they are called.

    Yields
    ------
    Difference
        One a line that is not the same, numbered as in the old text; of long lines what stands about the first sign
        that differs.
    """
    if old == new:
        return
    ours, theirs = old.split("\n"), new.split("\n")
    matched = difflib.SequenceMatcher(None, ours, theirs, autojunk=False)
    for kind, begin, end, other_begin, other_end in matched.get_opcodes():
        if kind != "equal":
            pairs = itertools.zip_longest(ours[begin:end], theirs[other_begin:other_end])
            for number, (one, other) in enumerate(pairs, start=begin + 1):
                yield _line_difference(f"{name} line {number}", one, other)


def ignored(line: str, patterns: list[re.Pattern[str]]) -> bool:
    """Say whether a difference, as it is printed, was named as one to leave out."""
    return any(pattern.search(line) for pattern in patterns)


def _document(text: str) -> Any:
    """Read a document; None where the text is something else."""
    try:
        found = json.loads(text)
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def _close(old: float, new: float, rtol: float) -> bool:
    if 0.0 in (old, new):
        return max(abs(old), abs(new)) < _NOTHING
    return math.isclose(old, new, rel_tol=rtol, abs_tol=0.0)


def _relative(old: float, new: float) -> float:
    return abs(new - old) / max(abs(old), abs(new))


def _told(values: dict[str, Any], key: str) -> str:
    return _shortened(json.dumps(values[key])) if key in values else _ABSENT


def _shortened(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def _line_difference(place: str, old: str | None, new: str | None) -> Difference:
    """Show two lines about the first sign that differs."""
    if old is None or new is None:
        shown = (_ABSENT if line is None else repr(_shortened(line)) for line in (old, new))
        return Difference(place=place, old=next(shown), new=next(shown))
    pairs = enumerate(zip(old, new, strict=False))
    at = next((number for number, (one, other) in pairs if one != other), min(len(old), len(new)))
    begin = max(0, at - _SHOWN // 2)
    cut = [f"{'…' if begin else ''}{_shortened(line[begin:])}" for line in (old, new)]
    return Difference(place=place, old=repr(cut[0]), new=repr(cut[1]))
