"""The driver run for one checkout and one store, and what is kept of its answers."""

from __future__ import annotations

import gzip
import hashlib
import importlib.metadata
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.golden.driver import WRONG_CHECKOUT
from tests.golden.questions import Asked
from tests.golden.stores import GoldenStore
from tests.golden.tables import Tables, write_tables

_HERE = Path(__file__).resolve().parent
_UPDATE = "update"
_ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
"""Sums on several threads differ in their last digits, and drivers beside each other have no cores to spare."""

_DECIDING = ("driver.py", "odd_rows.py", "questions.py", "running.py", "stores.py", "tables.py")
"""The files on which it hangs what is asked, and of which stores."""


class GoldenError(Exception):
    """The check itself could not be made."""


def checked_checkout(path: Path) -> Path:
    """Give the folder of a checkout in full, or refuse it."""
    path = path.resolve()
    if not (path / "wearstats" / "cli" / "main.py").is_file():
        raise GoldenError(f"{path}: no checkout with wearstats/cli/main.py")
    return path


def kept_folder(keep: Path, checkout: Path) -> Path | None:
    """Give where answers of a checkout are kept: by its commit, by what is asked, and by what is installed.

    None where it has changes that are in no commit.
    """
    commit, changes = (
        subprocess.run(["git", "-C", str(checkout), *command], check=True, capture_output=True, text=True).stdout
        for command in (("rev-parse", "HEAD"), ("status", "--porcelain"))
    )
    if changes.strip():
        return None
    installed = sorted(f"{each.name} {each.version}" for each in importlib.metadata.distributions())
    texts = [(_HERE / name).read_text(encoding="utf-8") for name in _DECIDING]
    tool = hashlib.sha256("\n".join([platform.python_version(), *installed, *texts]).encode()).hexdigest()
    return keep.resolve() / f"{commit.strip()[:12]}-{tool[:12]}"


def run_driver(
    checkout: Path, folder: Path, asked: Sequence[Mapping[str, Any]], answers: Path, environment: Mapping[str, str]
) -> None:
    """Have the program of a checkout asked in a folder, and the answers written to a file."""
    to_ask = folder / "asked.json"
    to_ask.write_text(json.dumps(list(asked)), encoding="utf-8")
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(("WEARSTATS_", "PYTHON"))}
    settings = {"PYTHONPATH": str(checkout), "NO_COLOR": "1", "COLUMNS": "100", **_ONE_THREAD, **environment}
    # -P: the driver's own folder is no place to import from
    command = [sys.executable, "-P", str(_HERE / "driver.py"), str(to_ask), str(answers)]
    ran = subprocess.run(command, cwd=folder, env=inherited | settings, capture_output=True, text=True, check=False)
    if ran.returncode or WRONG_CHECKOUT in ran.stderr or not answers.is_file():
        raise GoldenError(f"{checkout}: the driver ended with {ran.returncode}\n{ran.stderr.strip()}")


def read_answers(path: Path) -> dict[str, Any]:
    """Read the answers that a driver wrote down, by the names of what was asked."""
    with gzip.open(path, "rt", encoding="utf-8") as file:
        answers: dict[str, Any] = json.load(file)
    return answers


def make_store(checkout: Path, store: GoldenStore, tables: Tables, path: Path) -> None:
    """Have a checkout make a store."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=path.parent) as name:
        folder = Path(name)
        files = [path.relative_to(folder) for path in write_tables(tables, folder / "files")]
        asked = [{"name": " ".join(args[:2]), "args": args, "out": None} for args in store.commands(files)]
        run_driver(checkout, folder, asked, folder / "answers.json.gz", {})
        made = read_answers(folder / "answers.json.gz")
        allowed = {"store new": 0, "store add": 3 if store.rejects else 0}
        for command, exit_code in allowed.items():
            if made[command]["exit_code"] != exit_code:
                found = made[command]
                raise GoldenError(
                    f"{checkout}: {command} of {store.name} ended with {found['exit_code']} instead of {exit_code}\n"
                    f"{found['stderr']}"
                )
        (folder / store.file).replace(path)


def ask_store(
    checkout: Path, store: GoldenStore, path: Path, asked: Sequence[Asked], answers: Path, *, folder: Path
) -> None:
    """Have a checkout asked about its own copy of a store, brought up to date first; write its answers whole or not."""
    folder.mkdir(parents=True)
    shutil.copy(path, folder / store.file)
    up_to_date = {"name": _UPDATE, "args": ["store", "info", "--update", "--store", store.file], "out": None}
    building = folder / "answers.json.gz"
    run_driver(checkout, folder, [up_to_date, *(each.to_dict() for each in asked)], building, store.environment)
    if (update := read_answers(building)[_UPDATE])["exit_code"]:
        raise GoldenError(f"{checkout}: {store.name} could not be brought up to date: {update['stderr']}")
    answers.parent.mkdir(parents=True, exist_ok=True)
    shutil.copy(building, answers.with_suffix(".new"))
    answers.with_suffix(".new").replace(answers)
    shutil.rmtree(folder)
