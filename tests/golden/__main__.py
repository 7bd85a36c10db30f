"""The command: ``python -m tests.golden OLD NEW``."""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

from tests.golden.compare import RTOL
from tests.golden.comparison import compare
from tests.golden.running import GoldenError


def main(arguments: list[str] | None = None) -> int:
    """Compare two checkouts and tell; 0 where all is equal, 1 where not, 2 where that could not be found out."""
    said = _parser().parse_args(arguments)
    try:
        outcome = compare(
            said.old, said.new, quick=said.quick, jobs=said.jobs, keep=said.keep, rtol=said.rtol, ignore=said.ignore
        )
    except GoldenError as refused:
        print(refused, file=sys.stderr)
        return 2
    for line in outcome.told():
        print(line)
    if said.all is not None:
        outcome.write(said.all)
    return 1 if outcome.differences else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.golden", description="Compare two checkouts' answers.")
    parser.add_argument("old", type=Path, metavar="OLD", help="folder of the checkout that makes the stores")
    parser.add_argument("new", type=Path, metavar="NEW", help="folder of the checkout that is to answer the same")
    parser.add_argument("--quick", action="store_true", help="two stores, their last day, one seed")
    parser.add_argument("--jobs", type=_positive, default=2, metavar="N", help="drivers that run at a time; 2")
    parser.add_argument("--rtol", type=float, default=RTOL, metavar="SHARE", help="how far numbers may differ; 1e-9")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep stores and OLD's answers for the next time")
    parser.add_argument(
        "--ignore", type=_pattern, action="append", default=[], metavar="REGEX",
        help="leave out differences whose line, as it is printed, has this; may be given again",
    )  # fmt: skip
    parser.add_argument("--all", type=Path, metavar="FILE", help="write every difference to a file")
    return parser


def _pattern(text: str) -> re.Pattern[str]:
    try:
        return re.compile(text)
    except re.error as refused:
        raise argparse.ArgumentTypeError(f"{text!r} is no regular expression: {refused}") from None


def _positive(text: str) -> int:
    if (number := int(text)) < 1:
        raise ValueError(text)
    return number


if __name__ == "__main__":
    sys.exit(main())
