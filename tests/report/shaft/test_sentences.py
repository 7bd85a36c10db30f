"""What the answers say, word for word."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.report.support.made_studies import candidate, shaft_study
from wearstats.analysis.advice.remarks import First
from wearstats.report.shaft.answer import shaft_answer
from wearstats.report.shaft.sentences import send_words, shaft_sentences
from wearstats.report.words.glossary import GLOSSARY


def test_shaft() -> None:
    assert shaft_sentences(shaft_study()) == [
        "Shaft S-3 (D8): send the hub 0.05 mm (0.0020 in) undersize, to be filed and fitted by the owner: the cheapest "
        "under the limit of 5 in 100 loose.",
        "About 95 minutes of filing; of 100 such hubs 4.1 (2 to 8, 95 % sure) work loose within 12 months; 140 EUR "
        "expected in all.",
        "The register was not measured: whether the hub runs true cannot be judged from the splines.",
    ]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"second_um": 75.0}, "send the hub 0.05 mm (0.0020 in) undersize and the hub 0.075 mm (0.0030 in) undersize"),
        ({"method": "workshop-fitted"}, "have the shaft sent to the workshop, where the hub 0.05 mm (0.0020 in)"),
        ({"special": True}, "have a hub made 0.05 mm (0.0020 in) undersize"),
        ({"hub": "H7"}, "send the hub 0.05 mm (0.0020 in) undersize (number H7), to be filed and fitted by the owner"),
        ({"undersize_um": 0.0, "method": "as-supplied"}, "send the standard hub, to go on as it is supplied"),
    ],
)
def test_every_hub_is_an_order_that_cannot_be_misread(changed: dict[str, object], words: str) -> None:
    hub = replace(candidate(50.0, "owner-fitted"), **changed)  # type: ignore[arg-type]
    assert send_words(hub).startswith(words)


@pytest.mark.parametrize("first", list(First))
def test_what_comes_first_is_the_headline_and_is_not_undone(first: First) -> None:
    study = shaft_study(first=first)
    told = shaft_sentences(study)
    assert not told[0].startswith("Shaft S-3 (D8): send the hub")
    assert told[0].endswith("calipers only, which are not good enough to choose a size by.")
    named = any("0.05 mm" in line for line in told)
    assert named == (first not in (First.DO_NOT_RUN, First.SEND_SHAFT_HERE))


def test_what_has_to_come_between_is_said_before_the_hub() -> None:
    study = shaft_study(first=First.NOTHING_TO_SEND)
    told = shaft_sentences(replace(study, advice=replace(study.advice, second=First.MEASURE_FIRST)))
    assert any(line.startswith("If one is wanted, measure it first; as it is known now (2026-08-02)") for line in told)


def test_without_a_hub_it_says_why() -> None:
    told = shaft_sentences(shaft_study(None))
    assert told[0] == (
        "Shaft S-3 (D8): send no hub: no hub is sure to be free of rattle on it, not even 0.050 mm undersize."
    )


def test_the_answer_on_a_terminal_marks_what_it_speaks_of() -> None:
    lines = shaft_answer(shaft_study()).lines()
    assert lines[0].startswith("WHICH HUB FOR S-3?  0.050, filed by the owner")
    (marked,) = [line for line in lines if line.startswith("  >")]
    assert marked.split()[1:3] == ["0.050", "95"]
    assert any("may rattle" in line for line in lines)
    assert max(map(len, lines)) <= 80


def test_words_that_only_the_trade_knows_are_told_on_the_page() -> None:
    told = ", ".join(GLOSSARY)
    for word in (
        "stands home",
        "sides that marked",
        "limit",
        "model",
        "hub-months",
        "special",
        "register",
        "check piece",
    ):
        assert word in told
    for meaning in GLOSSARY.values():
        assert meaning.endswith(".")
