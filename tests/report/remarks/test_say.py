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
