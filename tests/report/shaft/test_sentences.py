"""What the answers say, word for word."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tests.report.support.made_studies import candidate, estimate, shaft_study, wear_study
from wearstats.analysis.advice.remarks import First
from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import refused
from wearstats.report.shaft.answer import shaft_answer
from wearstats.report.shaft.sentences import send_words, shaft_sentences
from wearstats.report.wear.growth_sentences import growth_sentences
from wearstats.report.wear.sentences import wear_sentences
from wearstats.report.words.glossary import GLOSSARY
from wearstats.studies.wear.growth import GrowthStudy


def test_wear() -> None:
    assert wear_sentences(wear_study()) == [
        "Up to 30 September 2026, 8 shafts gave 1\u202f200 readings.",
        "On average a shaft's splines have lost 0.033 mm (0.0013 in; between 0.029 and 0.036 mm, 95 % sure) of their "
        "width. Half the shafts have lost more than 0.026 mm (0.0010 in; between 0.022 and 0.029 mm, 95 % sure) and "
        "one shaft in ten more than 0.078 mm (0.0031 in; between 0.067 and 0.086 mm, 95 % sure).",
        "By pattern, on average: D8 0.033 mm (0.0013 in; between 0.029 and 0.036 mm, 95 % sure) on 5 shafts; D10 0.033 "
        "mm (0.0013 in; between 0.029 and 0.036 mm, 95 % sure) on 5 shafts.",
        "How many are as good as new: not told apart.",
        "The two hubs that serve most D8 shafts, as the loosest that grip: 0.00 mm (0.0000 in) undersize, 10 in 100 "
        "and 0.05 mm (0.0020 in) undersize, 70 in 100; no hub on offer serves 20 in 100.",
        "The two hubs that serve most D10 shafts, as the loosest that grip: 0.00 mm (0.0000 in) undersize, 10 in 100 "
        "and 0.05 mm (0.0020 in) undersize, 70 in 100; no hub on offer serves 20 in 100.",
        "How fast wear grows with running hours: not worked out in this version.",
        "How unlike they are, as one standard deviation: shafts of one pattern and duty differ by 0.032 mm (0.0013 "
        "in), the splines of a shaft by 0.004 mm (0.0002 in).",
        "Taken again by the same hand, a reading differs by 0.005 mm (0.0002 in) at home, as one standard deviation.",
        "All readings of a home inspection share an error that more readings do not cure but a pin of known size, "
        "measured along with them, does: as one standard deviation 0.008 mm (0.0003 in) for the hand with its gauge "
        "(assumed).",
    ]


def test_wear_that_knows_more() -> None:
    said = wear_sentences(wear_study(unworn=estimate(0.2, 0.15, 0.26)))
    assert "As good as unworn are 20 in 100 shafts (between 15 and 26, 95 % sure)." in said


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


def test_growth() -> None:
    none = no_estimate(refused("too few shafts"))
    tight = Estimate(value=1.58, low=0.92, high=2.24)
    needed = pd.DataFrame({"shaft": ["S-1", "S-2", "S-3"], "needed_h": [5400.0, 1200.0, np.nan]})
    study = GrowthStudy(
        as_of=datetime.date(2026, 9, 30),
        pattern=None,
        shafts=402,
        shafts_again=71,
        growth=tight,
        growth_of="tight",
        by_duty={"daily": tight, "standby": none},
        by_between={"tight": tight, "loose": Estimate(value=3.81, low=2.15, high=5.48), "not known": none},
        while_loose=none,
        loose_minus_tight=Estimate(value=2.23, low=0.48, high=3.98),
        by_age=none,
        own_rate_sd=none,
        residual_sd=none,
        hours_on_record={},
        left_out={},
        by_pattern={},
        points=pd.DataFrame(),
        band=pd.DataFrame(),
        needed=needed,
    )
    assert growth_sentences(study) == [
        "While its hub stays tight a shaft loses 1.6 µm (between 0.9 and 2.2, 95 % sure) in 1000 running hours (71 "
        "shafts measured again after a hub had run).",
        "Over hours in which a hub was found loose it lost 3.8 µm (between 2.1 and 5.5, 95 % sure) in 1000 hours: a "
        "loose hub wears its shaft faster.",
        "Of 3 shafts with hours 2 are told when the next undersize will be due, the others not, for it lies beyond the "
        "hours on record; the first is S-2, after about 1\u202f200 hours more.",
    ]


def test_words_that_only_the_trade_knows_are_told_on_the_page() -> None:
    told = ", ".join(GLOSSARY)
    for word in (
        "stands home",
        "sides that marked",
        "limit",
        "law",
        "hub-months",
        "special",
        "register",
        "check piece",
    ):
        assert word in told
    for meaning in GLOSSARY.values():
        assert meaning.endswith(".")
