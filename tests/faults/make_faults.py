"""One-line faults in Python source: an operator turned round, a number changed, a condition turned over.

The kinds are those of the literature on mutation analysis (relational, arithmetic and logical operators, constants,
negation): R. A. DeMillo, R. J. Lipton, F. G. Sayward, Hints on test data selection, Computer 11 (1978) 34-41; A. J.
Offutt and others, An experimental determination of sufficient mutant operators, ACM TOSEM 5 (1996) 99-118; from memory.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

_COMPARE: Final = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "=="}
_ARITHMETIC: Final = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.Pow: "*"}
_CALLS: Final = {
    "maximum": "minimum", "minimum": "maximum", "max": "min", "min": "max", "any": "all", "all": "any", "sum": "mean",
    "mean": "sum", "argmin": "argmax", "argmax": "argmin", "floor": "ceil", "ceil": "floor", "exp": "expm1",
    "log": "log1p", "cdf": "sf", "sf": "cdf",
}  # fmt: skip

_GUARD: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One change.

    Parameters
    ----------
    path : Path
        File, from the project's root.
    line : int
        Its line.
    start, end : int
        Letters of the file that are replaced.
    old, new : str
        What stood there, and what stands there then.
    code : str
        The line as it stands in the file, without what is before and after it.
    at : int
        Where in `code` it is.
    begins : int or None
        Line on which the innermost function with the fault begins, its decorators included; None outside of all.
    """

    path: Path
    line: int
    start: int
    end: int
    old: str
    new: str
    code: str
    at: int
    begins: int | None

    @property
    def key(self) -> tuple[str, ...]:
        """What names the fault while its line stays, wherever that moves."""
        return self.path.as_posix(), self.code, str(self.at), self.old, self.new

    def put_into(self, text: str) -> str:
        """Give the file's text with the fault."""
        return text[: self.start] + self.new + text[self.end :]


def faults_of(path: Path, *, root: Path) -> list[Fault]:
    """Give every fault that can be made in a file.

    Parameters
    ----------
    path : Path
        From `root`.
    root : Path
        The project's root.
    """
    text = (root / path).read_text(encoding="utf-8")
    starts = [0]
    rows = text.splitlines(keepends=True)
    for row in rows:
        starts.append(starts[-1] + len(row))
    found = []
    tree = ast.parse(text)
    functions = sorted(_functions(tree))
    for old, new, (line, column) in _changes(tree, text):
        # columns are counted in bytes
        start = starts[line - 1] + len(rows[line - 1].encode()[:column].decode())
        end = text.find(old, start) + len(old) if old else start
        if text[end - len(old) : end] == old and "\n" not in text[start : end - len(old)]:
            indent = len(rows[line - 1]) - len(rows[line - 1].lstrip())
            at = end - len(old) - starts[line - 1] - indent
            within = [first for first, last in functions if first <= line <= last]
            found.append(
                Fault(
                    path=path, line=line, start=end - len(old), end=end, old=old, new=new, code=rows[line - 1].strip(),
                    at=at, begins=within[-1] if within else None,
                )
            )  # fmt: skip
    return found


def _functions(tree: ast.AST) -> Iterator[tuple[int, int]]:
    """Give the first and the last line of each function."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            first = min([node.lineno, *(each.lineno for each in node.decorator_list)])
            yield first, node.end_lineno or first


def _changes(tree: ast.AST, text: str) -> Iterator[tuple[str, str, tuple[int, int]]]:
    """Give what is replaced, by what, and from which line and column on it is looked for."""
    for node in _running(tree):
        if isinstance(node, ast.Compare) and type(node.ops[0]) in _COMPARE:
            left, (op, *_) = node.left, node.ops
            yield _sign(op), _COMPARE[type(op)], (left.end_lineno or 0, left.end_col_offset or 0)
        elif isinstance(node, ast.BinOp) and type(node.op) in _ARITHMETIC:
            left = node.left
            yield _sign(node.op), _ARITHMETIC[type(node.op)], (left.end_lineno or 0, left.end_col_offset or 0)
        elif isinstance(node, ast.BoolOp):
            first = node.values[0]
            old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            yield old, new, (first.end_lineno or 0, first.end_col_offset or 0)
        elif isinstance(node, ast.UnaryOp):
            sign = {ast.USub: "-", ast.Not: "not ", ast.Invert: "~"}.get(type(node.op))
            if sign is not None:
                yield sign, "", (node.lineno, node.col_offset)
        elif (
            isinstance(node, ast.Constant)
            and isinstance(node.value, int | float)
            and not isinstance(node.value, bool)
            # what is so near nought keeps a division or a logarithm from it, and no tenth of it is felt
            and not 0 < node.value < _GUARD
        ):
            old = ast.get_source_segment(text, node) or ""
            yield old, _other(node.value), (
                node.lineno, node.col_offset,
            )  # fmt: skip
        elif isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name in _CALLS:
                at = node.func.end_col_offset or 0
                yield name, _CALLS[name], (node.func.end_lineno or 0, at - len(name))


def _other(number: float) -> str:
    return repr(number + 1 if isinstance(number, int) or number == 0 else number * 1.1)


def _running(tree: ast.AST) -> Iterator[ast.AST]:
    """Walk what runs when it is asked: no annotation, no default of a field, no text, no index of a place."""
    for child in ast.iter_child_nodes(tree):
        if isinstance(child, ast.Import | ast.ImportFrom | ast.JoinedStr | ast.Raise | ast.Assert):
            continue
        if isinstance(child, ast.AnnAssign):
            if child.value is not None:
                yield from (child.value, *_running(child.value))
            continue
        if isinstance(child, ast.arg | ast.arguments):
            yield from (each for default in getattr(child, "defaults", []) for each in (default, *_running(default)))
            continue
        yield child
        yield from _running(child)


def _sign(op: ast.AST) -> str:
    return {
        ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=", ast.Add: "+",
        ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**",
    }[type(op)]  # fmt: skip
