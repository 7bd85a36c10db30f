"""Ask the program of one checkout a list of questions, all in one process, and write down what it said.

It is run by its path, in the folder in which the store lies, with the checkout alone on PYTHONPATH:

    python -P driver.py ASKED.json ANSWERS.json.gz

and knows of the program only ``wearstats.cli.main:app``. Processes that the program starts read this file again under
another name, and then only make sure that they too have the wanted checkout.
"""

from __future__ import annotations

import gzip
import hashlib
import inspect
import json
import os
import shutil
import sys
import traceback
from pathlib import Path
from typing import Any

WRONG_CHECKOUT = "another checkout's program was loaded"


def require_checkout() -> Path:
    """Give the checkout whose program is loaded, or end where it is not the wanted one."""
    import wearstats

    wanted, found = Path(os.environ["PYTHONPATH"]).resolve(), Path(wearstats.__file__).resolve().parents[1]
    if found != wanted:
        print(f"{WRONG_CHECKOUT}: {found} instead of {wanted}", file=sys.stderr, flush=True)
        os._exit(1)
    return found


def ask(runner: Any, app: Any, asked: dict[str, Any], hidden: dict[str, str]) -> dict[str, Any]:
    """Invoke once.

    Parameters
    ----------
    runner, app
        Typer's runner and the program's application.
    asked : dict
        ``args``, and ``out``: the folder whose files belong to the answer, or None.
    hidden : dict of str to str
        Paths, and what is written instead of them.

    Returns
    -------
    dict
        ``exit_code``, ``stdout``, ``stderr``, ``files``, ``traceback``; and ``processor_s``, which a busy machine
        hardly changes.
    """
    begun = processor_s()
    result = runner.invoke(app, asked["args"], prog_name="wearstats")
    seconds = processor_s() - begun
    fault = result.exception if not isinstance(result.exception, SystemExit) else None
    trace = "" if fault is None else "".join(traceback.format_exception(fault))
    stderr = result.stderr + ("" if fault is None else f"{type(fault).__name__}: {fault}\n")
    files = {} if asked["out"] is None else written(Path(asked["out"]))
    return {
        "exit_code": result.exit_code,
        "stdout": without_paths(result.stdout, hidden),
        "stderr": without_paths(stderr, hidden),
        "files": {name: without_paths(text, hidden) for name, text in files.items()},
        "processor_s": seconds,
        "traceback": trace,
    }


def processor_s() -> float:
    """Give the processor time so far, in seconds, of this process and of those that it has seen end."""
    return sum(os.times()[:4])


def written(folder: Path) -> dict[str, str]:
    """Give the text of every file in a folder, of others a digest, and remove it."""
    files = {}
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        content = path.read_bytes()
        try:
            files[str(path.relative_to(folder))] = content.decode("utf-8")
        except UnicodeDecodeError:
            files[str(path.relative_to(folder))] = hashlib.sha256(content).hexdigest()
    shutil.rmtree(folder, ignore_errors=True)
    return files


def without_paths(text: str, hidden: dict[str, str]) -> str:
    """Replace paths of this machine by what they stand for."""
    for path, name in hidden.items():
        text = text.replace(path, name)
    return text


def main(asked_path: Path, answers_path: Path) -> None:
    """Ask everything, in order."""
    checkout = require_checkout()
    from typer.testing import CliRunner

    from wearstats.cli.main import app

    # older versions mix the two streams unless told otherwise
    apart: dict[str, Any] = {"mix_stderr": False} if "mix_stderr" in inspect.signature(CliRunner).parameters else {}
    hidden = {str(Path.cwd()): "<folder>", str(checkout): "<checkout>"}
    runner = CliRunner(**apart)
    asked = json.loads(asked_path.read_text(encoding="utf-8"))
    answers = {each["name"]: ask(runner, app, each, hidden) for each in asked}
    with gzip.open(answers_path, "wt", encoding="utf-8", compresslevel=3) as file:
        json.dump(answers, file)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
elif __name__ == "__mp_main__":
    require_checkout()
