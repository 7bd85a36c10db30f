"""Every code has its sentence, and every sentence its facts."""

from __future__ import annotations

import importlib
import pkgutil
from enum import StrEnum

import wearstats.analysis
import wearstats.studies
from wearstats.analysis.estimate import no_estimate
from wearstats.analysis.remark import Quoted, Remark, refused, remark
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.say import SENTENCES, say
from wearstats.report.words.phrases import filled
from wearstats.studies.review.remarks import ActionRemark

ROOMS = [
    found.name
    for floor in (wearstats.analysis, wearstats.studies)
    for found in pkgutil.walk_packages(floor.__path__, f"{floor.__name__}.")
    if found.name.endswith(".remarks")
]
CODES = [
    code
    for room in ROOMS
    for kind in vars(importlib.import_module(room)).values()
    if isinstance(kind, type) and issubclass(kind, StrEnum) and kind is not StrEnum
    for code in kind
]


def test_every_code_has_one_sentence_and_every_sentence_a_code() -> None:
    assert len(set(map(str, CODES))) == len(CODES)
    assert {str(code) for code in SENTENCES} == {*map(str, CODES), str(Quoted.REFUSAL)}


def test_facts_that_are_remarks_become_words_first() -> None:
    inner = refused(AnalysisError("too few", needed="more"))
    assert say(Remark(Quoted.REFUSAL, {"message": inner})) == say(inner)
    assert say(None) == ""


def test_a_document_has_the_words_and_beside_them_the_code() -> None:
    told = plain(
        {
            "share": no_estimate(remark(Quoted.REFUSAL, message="so it is")),
            "notes": [Remark(Quoted.REFUSAL, {"message": "one"})],
        }
    )
    assert told["share"]["method"] == "so it is"
    assert told["share"]["method_code"] == "refused-because"
    assert told["notes"] == ["one"]
    assert told["notes_code"] == ["refused-because"]


def test_a_batch_that_fails_often_is_told_with_the_shafts_it_went_to_however_many() -> None:
    told = say(remark(ActionRemark.BATCH_LOOSE, failures=3, hubs=40, went_to=["S1", "S2"]))
    assert told == "3 of its 40 hubs worked loose, more than of the others by more than chance; it went to S1, S2"
    many = say(remark(ActionRemark.BATCH_LOOSE, failures=30, hubs=2000, went_to=[f"S{n}" for n in range(1000)]))
    assert many.endswith("S10, S11, and 988 others")


def test_no_template_is_filled_by_what_does_not_count_its_nouns() -> None:
    facts = {"failures": 2, "hubs": 3}
    assert filled("{failures:failure/failures} of {hubs:hub/hubs}, {hubs}", facts) == "2 failures of 3 hubs, 3"
