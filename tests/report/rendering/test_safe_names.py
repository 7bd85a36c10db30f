"""Names of files: readable where they can be, all different on every system, the same in every run."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from wearstats.report.rendering.write_files import safe_names


def test_plain_names_stay_and_others_do_not_meet() -> None:
    assert safe_names(["S0001", "D8-12"]) == {"S0001": "S0001", "D8-12": "D8-12"}
    cyrillic = safe_names(["Вал", "Ось", "Вал-7"])
    assert len(set(cyrillic.values())) == 3
    assert cyrillic["Вал-7"].startswith("7_")
    # the same file whatever other shafts there are
    assert safe_names(["Вал-7"])["Вал-7"] == cyrillic["Вал-7"]
    meeting = safe_names(["s1", "S1", "S 1", "S-1"])
    assert len({name.casefold() for name in meeting.values()}) == 4
    assert all(name.casefold() != "con" for name in safe_names(["CON", "con", "Con"]).values())


@given(st.lists(st.text(max_size=120), unique=True, max_size=12))
def test_all_differ_even_where_case_does_not_count(names: list[str]) -> None:
    safe = safe_names(names)
    assert list(safe) == names
    assert len({name.casefold() for name in safe.values()}) == len(names)
    assert all(
        name and re.fullmatch(r"([A-Za-z0-9]+(-[A-Za-z0-9]+)*)?(_[0-9a-f]{8})?", name) and len(name) <= 80
        for name in safe.values()
    )
