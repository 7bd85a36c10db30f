"""Every question asked of a store through the command line, and what must never stand in an answer.

``python -m tests.robustness.walk`` walks all odd stores and writes the table ``odd_stores.md``.
"""

from __future__ import annotations

import html
import json
import re
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from unittest import mock

from typer.testing import CliRunner

from tests.robustness.odd_stores import AS_OF, ODD_NAMES, ODD_STORES, make_odd_store
from wearstats.cli import questions, report, review
from wearstats.cli.main import app
from wearstats.cli.running.options import Options
from wearstats.store.database.connection import open_store
from wearstats.studies.snapshot import Snapshot

QUESTIONS: Final = ("wear", "gauging", "loosening", "methods", "stock", "calls", "review", "contact", "shelf")
ALLOWED: Final = {0, 5}
_NONSENSE = re.compile(r"(?<![\w'-])(nan|NaN|NaT|inf|None|<NA>)(?![\w'-])")
_ONE_OF_MANY = re.compile(
    r"(?<![\d.,\u202f-])1 (?:rows|hubs|shafts|fittings|failures|readings|inspections|returns|splines|owners|months|"
    r"batches|sizes|orders|records|files|cells|tables|measurers|quarters|hours|minutes|places|days|patterns)\b"
)
_LONG_NUMBER = re.compile(r"(?<![\w.'])\d{9,}(?!\w)")
_EMPTY = re.compile(r"(?:^|\. )\.(?:$|\s)|: \.|\(\)| {2,}\.|,\s*,")
_WARNED = re.compile(r"Warning:|Traceback|site-packages")
_TAGS = re.compile(r"<(style|script|svg)\b.*?</\1>|<[^>]+>", re.DOTALL)
_SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Something that must not be.

    Parameters
    ----------
    asked : str
        The command.
    what : str
        Of which kind.
    words : str
        Where it stands.
    """

    asked: str
    what: str
    words: str

    def __str__(self) -> str:
        return f"{self.asked}: {self.what}: {self.words}"


def commands(shafts: list[str], folder: Path) -> Iterator[list[str]]:
    """List the commands that are run of a store, with the first and the last of its shafts."""
    asked = [question.split() for question in QUESTIONS]
    asked += [["shaft", "--", name] for name in dict.fromkeys([*shafts[:1], *shafts[-1:]])]
    for words in [*asked, ["shaft", "--all"]]:
        yield words
        yield [*_before(words, "--full")]
        yield [*_before(words, "--json")]
    yield ["store", "info"]
    yield ["store", "check"]
    yield ["report", "--out", str(folder / "page"), "--force"]


def _before(words: list[str], option: str) -> list[str]:
    at = words.index("--") if "--" in words else len(words)
    return [*words[:at], option, *words[at:]]


def walk(path: Path, shafts: list[str], *, folder: Path, names: tuple[str, ...] = ODD_NAMES) -> list[Found]:
    """Ask a store all questions and give what must not be.

    Parameters
    ----------
    path : pathlib.Path
        The store.
    shafts : list of str
        Names of its shafts.
    folder : pathlib.Path
        For the page.
    names : tuple of str
        What shafts may be called: taken out before words are looked at, which may be names then.
    """
    with open_store(path) as store, _answered_once(Snapshot(store=store, known_on=AS_OF)):
        return list(dict.fromkeys(_walk(path, shafts, folder=folder, names=names)))


@contextmanager
def _answered_once(snapshot: Snapshot) -> Iterator[None]:
    """Let all commands ask one snapshot, so that what they share is worked out once."""

    @contextmanager
    def opened(_: Options, **__: Any) -> Iterator[Snapshot]:
        yield snapshot

    with ExitStack() as stack:
        for module in (questions, review, report):
            stack.enter_context(mock.patch.object(module, "opened", opened))
        yield


def _walk(path: Path, shafts: list[str], *, folder: Path, names: tuple[str, ...]) -> list[Found]:
    found = []
    # the day may not stand behind the names
    given = ["--store", str(path), "--as-of", AS_OF.isoformat()]
    for words in commands(shafts, folder):
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            result = CliRunner().invoke(app, [*given, *words])
        asked = " ".join(words if len(" ".join(words)) < 60 else words[:2])
        found += [Found(asked=asked, what="warning", words=str(each.message)[:80]) for each in caught
                  if not issubclass(each.category, ResourceWarning | DeprecationWarning)]  # fmt: skip
        if result.exit_code not in ALLOWED | ({6} if words[:2] == ["store", "check"] else set()):
            cause = "" if result.exception is None else repr(result.exception)
            found.append(
                Found(asked=asked, what=f"exit {result.exit_code}", words=f"{cause[:90]} {result.stderr[:90]}")
            )
        text, notes = result.stdout, result.stderr
        if "--json" in words and result.exit_code == 0:
            document = json.loads(text)
            found += [Found(asked=asked, what=what, words=where) for what, where in look_at_document(document)]
            text = "\n".join(_strings(document))
        if words[0] == "report":
            pages = [page.read_text(encoding="utf-8") for page in sorted((folder / "page").glob("*.html"))]
            text += html.unescape(_TAGS.sub(" ", " ".join(pages)))
        for name in sorted({*names, *shafts}, key=len, reverse=True):
            text, notes = (re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", "N", part) for part in (text, notes))
        found += [Found(asked=asked, what=what, words=where) for what, where in look_at_words(text)]
        found += [Found(asked=asked, what=what, words=where) for what, where in look_at_words(notes)]
    return found


def look_at_words(text: str) -> Iterator[tuple[str, str]]:
    """Find what must not stand in words."""
    for what, sign in {
        "nonsense": _NONSENSE, "plural": _ONE_OF_MANY, "long number": _LONG_NUMBER, "empty": _EMPTY, "warned": _WARNED
    }.items():  # fmt: skip
        for hit in list(sign.finditer(text))[:3]:
            yield what, " ".join(text[max(hit.start() - 50, 0) : hit.end() + 30].split())


def look_at_document(document: Any, where: str = "") -> Iterator[tuple[str, str]]:
    """Find numbers outside their own interval in a document."""
    if isinstance(document, dict):
        yield from _estimate(document, where)
        for key, value in document.items():
            yield from look_at_document(value, f"{where}.{key}")
    elif isinstance(document, list):
        for at, value in enumerate(document):
            yield from look_at_document(value, f"{where}[{at}]" if at < 3 else f"{where}[…]")


def _estimate(document: dict[str, Any], where: str) -> Iterator[tuple[str, str]]:
    ends = [("value", "low", "high")]
    ends += [(name.removesuffix("_low"), name, name.removesuffix("_low") + "_high") for name in document
             if name.endswith("_low")]  # fmt: skip
    for name, low, high in ends:
        value, least, most = (document.get(each) for each in (name, low, high))
        if not isinstance(value, int | float):
            continue
        scale = _SLACK * max(abs(value), 1.0)
        if (isinstance(least, int | float) and value < least - scale) or (
            isinstance(most, int | float) and value > most + scale
        ):
            yield "outside its interval", f"{where}.{name} {value:.6g} ({least} to {most})"


def _strings(document: Any) -> Iterator[str]:
    if isinstance(document, dict):
        for value in document.values():
            yield from _strings(value)
    elif isinstance(document, list):
        for value in document:
            yield from _strings(value)
    elif isinstance(document, str):
        yield document


def shafts_of(name: str) -> list[str]:
    """Name the shafts of an odd store."""
    return list(dict.fromkeys(str(row["shaft"]) for row in ODD_STORES[name]().get("shafts", [])))


def main(names: list[str]) -> None:
    """Walk some odd stores, or all, and write the table."""
    rows = []
    for name in names or list(ODD_STORES):
        begun = time.process_time()
        with tempfile.TemporaryDirectory() as made:
            folder = Path(made)
            found = walk(make_odd_store(folder / "s.duckdb", name), shafts_of(name), folder=folder)
        seconds = time.process_time() - begun
        print(f"{name}: {len(found)} found, {seconds:.0f} s", flush=True)
        for each in found:
            print(f"    {each}", flush=True)
        rows.append(f"| {name} | {len(found)} | {seconds:.0f} |")
    if names:
        return
    head = [
        "# Odd stores",
        "",
        f"Every question of {len(ODD_STORES)} invented stores: in short, in full, as `--json`, and the page",
        "(`python -m tests.robustness.walk`). Found: tracebacks, `nan` and its like, numbers outside their interval,",
        "warnings of libraries, wrong plurals, numbers of nine digits and more, empty sentences.",
        "",
        "| store | found | processor s |",
        "| --- | ---: | ---: |",
    ]
    Path(__file__).with_name("odd_stores.md").write_text("\n".join([*head, *rows, ""]), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
