"""What a remark says of cracks, in the words of owners."""

from __future__ import annotations

import pytest

from wearstats.studies.shaft.facts import speaks_of_crack


@pytest.mark.parametrize(
    "text",
    [
        "cracked at the root",
        "crak at root",
        "no cracks seen except at spline 3",
        "not sure whether it is cracked",
        "no bruises but a crack by the keyway",
        "No crack seen. Crack at spline 5.",
        "Riss am Grund",
        "ein Zahn gerissen",
        "трещина",
        "fissure at the nut end",
        "cracks: see photo",
    ],
)
def test_a_crack_is_heard(text: str) -> None:
    assert speaks_of_crack(text)


@pytest.mark.parametrize(
    "text",
    ["no cracks", "no cracks seen", "not cracked", "no visible cracks", "cracks? none", "Cracks: none", "keine Risse",
     "measured twice, good light", "free of cracks"],
)  # fmt: skip
def test_a_plain_denial_is_believed(text: str) -> None:
    assert not speaks_of_crack(text)
