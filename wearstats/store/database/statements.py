"""The SQL files: found by name, one statement each, with a header that says what for and with which parameters."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from wearstats.errors import StoreError
from wearstats.resources import resource

_PURPOSE = re.compile(r"^-- purpose: (?P<text>\S.*)$", re.MULTILINE)
_PARAMS = re.compile(r"^-- params: (?P<text>\S.*)$", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One SQL file.

    Parameters
    ----------
    name : str
        Its path below its folder, without the ending: ``widths/moments``.
    purpose : str
        What its rows are, in one line.
    params : tuple of str
        Names of its parameters, without the ``$``.
    sql : str
        Its text.
    """

    name: str
    purpose: str
    params: tuple[str, ...]
    sql: str


def quoted_name(name: str) -> str:
    """Write the name of a column, a table or a database as SQL has it, whatever signs are in it."""
    return '"' + name.replace('"', '""') + '"'


def read_statement(path: Path, name: str) -> Statement:
    """Read one SQL file and its header; ValueError when the header is not there."""
    text = path.read_text(encoding="utf-8")
    purpose, params = _PURPOSE.search(text), _PARAMS.search(text)
    if purpose is None or params is None:
        raise ValueError(f"{path.name}: no '-- purpose:' or no '-- params:' line")
    names = () if params["text"] == "none" else tuple(name.strip() for name in params["text"].split(","))
    return Statement(name=name, purpose=purpose["text"], params=names, sql=text)


@lru_cache
def statement(name: str, folder: str = "queries") -> Statement:
    """Find a statement by its name.

    Parameters
    ----------
    name : str
        Its path below the folder, without the ending; a check, which is called by its code, by its file's name alone.
    folder : str
        Which folder under ``sql``: ``queries``, ``checks``, ``intake``.

    Raises
    ------
    StoreError
        When there is no such file.
    """
    paths = statement_paths(folder)
    if name not in paths:
        raise StoreError(f"no statement '{name}' in sql/{folder}; there are: {', '.join(paths)}")
    return read_statement(paths[name], name)


@lru_cache
def statement_paths(folder: str = "queries") -> dict[str, Path]:
    """Find the statements of a folder under ``sql`` by name, in the order of the alphabet."""
    top = resource(f"sql/{folder}")
    named = {
        path.stem if folder == "checks" else path.relative_to(top).with_suffix("").as_posix(): path
        for path in top.rglob("*.sql")
    }
    return dict(sorted(named.items()))
