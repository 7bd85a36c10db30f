"""Every package that wearstats needs is in the table, under a licence that the MIT licence can live with."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.packaging.licences import EXTRA, PERMISSIVE, PROJECT, TABLE, can_live_with, packages

TOP = Path(__file__).resolve().parents[2]


def rows() -> dict[str, list[str]]:
    """Read the committed table: version, licence, size, who needs it."""
    cells = [line.strip("| ").split(" | ") for line in TABLE.read_text(encoding="utf-8").splitlines() if "| " in line]
    return {row[0]: row[1:] for row in cells if len(row) == 5 and row[0] != "package"}


def test_every_dependency_of_the_project_file_is_in_the_table() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [Requirement(line) for line in project["dependencies"] + project["optional-dependencies"][EXTRA]]
    table = rows()
    for wanted in asked:
        row = table.get(canonicalize_name(wanted.name))
        assert row is not None, f"{wanted.name}: not in licences.md; run python -m tests.packaging.licences"
        assert PROJECT in row[3]
        assert wanted.specifier.contains(row[0], prereleases=True)


def test_the_pinned_set_holds_the_whole_table() -> None:
    lines = (TOP / "constraints.txt").read_text(encoding="utf-8").split()
    pinned = {canonicalize_name(line.split("==")[0]): line.split("==")[1] for line in lines}
    assert {name: row[0] for name, row in rows().items()} == {name: pinned[canonicalize_name(name)] for name in rows()}


def test_every_licence_of_the_table_can_be_lived_with() -> None:
    table = rows()
    for name, (_, licence, size, by) in table.items():
        assert can_live_with(licence), f"{name}: {licence}"
        assert float(size) >= 0
        assert set(re.sub(r" \(only.*", "", by).split(", ")) <= {*table, PROJECT}


def test_what_is_installed_here_can_be_lived_with_too() -> None:
    for one in packages():
        assert can_live_with(one.licence), f"{one.name} {one.version}: {one.licence}"
        assert one.size > 0


@pytest.mark.parametrize(
    ("licence", "fits"),
    [
        ("MIT", True),
        ("BSD-3-Clause AND 0BSD AND Zlib", True),
        ("GPL-3.0-only OR MIT", True),
        ("MIT AND GPL-3.0-only", False),
        ("AGPL-3.0-or-later", False),
        ("LGPL-2.1-or-later", False),
        ("Proprietary", False),
        ("not stated", False),
    ],
)
def test_kinds_of_licences(licence: str, *, fits: bool) -> None:
    # the operators of SPDX expressions: SPDX Specification 2.3, annex D (AND: all apply; OR: a choice)
    assert can_live_with(licence) is fits


def test_permissive_means_open_source_without_a_duty_to_share_alike() -> None:
    # Open Source Initiative's list and, for CC0-1.0, the Free Software Foundation's; from memory
    assert not any(name.startswith(("GPL", "LGPL", "AGPL", "MPL", "EUPL", "CC-BY-SA")) for name in PERMISSIVE)
