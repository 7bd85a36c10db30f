"""The cautions speak of every danger that a fitter meets."""

from __future__ import annotations

import pytest

from wearstats.report.words.cautions import CAUTIONS, caution_sentences

# common workshop safety practice, no single source
SUBJECTS = [
    ("throw parts", "approve no part"),
    ("competent person", "manual", "local rules"),
    ("rattle", "nut lock", "crack", "guards"),
    ("eyes", "handle", "wet", "air"),
    ("puller", "straight", "stand in line", "under load"),
    ("manual allows", "crankshaft", "never hammer", "maker's torque", "skates", "stop and ask"),
    ("ignition", "fuel", "proves no fit", "shoulder", "runs true", "first hours", "before the next start"),
    ("upper bound", "not by zero", "not on record"),
]


@pytest.mark.parametrize(("number", "words"), list(enumerate(SUBJECTS)))
def test_each_caution_names_its_dangers(number: int, words: tuple[str, ...]) -> None:
    assert all(word.lower() in CAUTIONS[number].lower() for word in words)


def test_a_terminal_gets_them_numbered() -> None:
    lines = caution_sentences()
    assert len(lines) == len(CAUTIONS) + 1 == 9
    assert lines[1].startswith("  1. ")
