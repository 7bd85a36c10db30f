"""The house keeps its own rules: files of one idea, folders one can look through, and no circles."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import wearstats

PACKAGE = Path(wearstats.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
MOST_LINES, MOST_FILES = 400, 12


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__")


MODULES = {module_of(path) for path in FILES}


def imported(path: Path) -> set[str]:
    """Name the modules of the package that a file needs, whenever it is read; for types alone does not count."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for_types = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and id(node) not in for_types:
            names = (f"{node.module}.{alias.name}" for alias in node.names)
            found |= {name if name in MODULES else node.module for name in names} & MODULES
    return found - {module_of(path)}


def room_of(module: str) -> str:
    """Give the folder of a file in a room; files that stand on their floor by themselves are rooms of their own."""
    room = module.rpartition(".")[0]
    return room if room.count(".") >= 2 else module


def circle(graph: Mapping[str, Iterable[str]]) -> list[str]:
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_file_is_too_long() -> None:
    lines = {str(path): path.read_text(encoding="utf-8").count("\n") for path in FILES}
    assert {path: count for path, count in lines.items() if count > MOST_LINES} == {}


def test_no_folder_holds_more_than_one_looks_through() -> None:
    folders = {path.parent for path in FILES}
    counts = {str(folder): len([path for path in folder.glob("*.py") if path.stem != "__init__"]) for folder in folders}
    assert {folder: count for folder, count in counts.items() if count > MOST_FILES} == {}


def test_no_files_need_each_other_in_a_circle() -> None:
    assert circle({module_of(path): imported(path) for path in FILES}) == []


def test_no_rooms_need_each_other_in_a_circle() -> None:
    rooms: dict[str, set[str]] = {}
    for path in FILES:
        room = room_of(module_of(path))
        rooms.setdefault(room, set()).update(room_of(name) for name in imported(path))
        rooms[room].discard(room)
    assert circle(rooms) == []


@pytest.mark.parametrize(("graph", "found"), [({"a": ["b"], "b": ["a"]}, True), ({"a": ["b"], "b": ["c"]}, False)])
def test_a_circle_is_found(graph: dict[str, list[str]], found: bool) -> None:
    assert bool(circle(graph)) == found


def test_frames_of_results_declare_their_columns() -> None:
    blind = [
        f"{path.relative_to(PACKAGE)}: {part.name}.{ast.unparse(field.target)}"
        for floor in ("analysis", "studies")
        for path in (PACKAGE / floor).rglob("*.py")
        for part in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(part, ast.ClassDef)
        for field in part.body
        if isinstance(field, ast.AnnAssign) and ast.unparse(field.annotation).startswith("pd.DataFrame")
    ]
    # the rows as they came, while histories are put together: they go nowhere
    assert blind == ["analysis/histories/codes.py: Names.dispatches"]
