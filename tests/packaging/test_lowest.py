"""The table of the run with the lowest versions is of the floors that the project file names today."""

import re
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

TOP = Path(__file__).resolve().parents[2]
LOWEST = Path(__file__).with_name("lowest.md").read_text(encoding="utf-8")


def test_every_floor_was_run_at() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    asked = [Requirement(line) for line in project["dependencies"] + extras["pdf"] + extras["dev"]]
    ran = {row[0]: (row[1], row[2]) for row in re.findall(r"^\| ([\w-]+) \| (>=\S+) \| (\S+) \|", LOWEST, flags=re.M)}
    assert set(ran) == {canonicalize_name(wanted.name) for wanted in asked}
    for wanted in asked:
        floor, version = ran[canonicalize_name(wanted.name)]
        assert floor == str(wanted.specifier), (
            f"{wanted.name}: the floor has moved; run the commands of lowest.md again"
        )
        assert version.startswith(floor.removeprefix(">="))


def test_nothing_failed() -> None:
    passed = re.search(r"(\d+) tests passed, none failed", " ".join(LOWEST.split()))
    assert passed is not None
    assert int(passed[1]) > 2000
