"""What an answer for a shaft may never do, whatever the shaft: tried on the designed ones and on many of the demo's."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping

import pytest

from tests.studies.shaft.conftest import OF_THE_DEMO
from tests.studies.support.designed_shafts import DESIGNED
from wearstats.analysis.advice.limits import WARN_FROM
from wearstats.analysis.advice.remarks import NO_HUB, Finding, First, Reason
from wearstats.analysis.remark import remark
from wearstats.report.folder.render import render
from wearstats.report.folder.shaft_page import ShaftPage, shaft_page
from wearstats.report.folder.shaft_sentences import measure_again_lines
from wearstats.report.remarks.document import plain
from wearstats.report.remarks.say import say
from wearstats.report.rendering.short_answer import WIDTH, SmallTable
from wearstats.report.rendering.tables import DataTable
from wearstats.report.shaft.answer import shaft_answer
from wearstats.report.shaft.sentences import shaft_sentences
from wearstats.report.shaft.tables import choices_table, map_table
from wearstats.report.words.phrases import in_hundred
from wearstats.studies.forecast.study import study_forecast
from wearstats.studies.review.calls import study_calls
from wearstats.studies.review.study import ReviewStudy
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.background import shaft_background
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

MOST_LINES = 22
_SENDS = {"send", "send-two", "make-special"}
_UNDOES = re.compile(
    r"measured? (it )?(again|first)|have it measured|read again|send no hub|do not run|dress it|check for rattle"
    r"|nothing to send"
)
_HUB = re.compile(r"\bundersize\b|\b0\.\d{3} (mm|\()|\bH\d{4}\b|\bd-[a-z0-9]+\b|standard hub|special")
ALL = (*DESIGNED, *OF_THE_DEMO)


@pytest.fixture(scope="module")
def studies(answers: Mapping[str, ShaftStudy], demo_answers: Mapping[str, ShaftStudy]) -> dict[str, ShaftStudy]:
    return {**answers, **demo_answers}


def forbidden(studies: Mapping[str, ShaftStudy]) -> list[ShaftStudy]:
    return [study for study in studies.values() if study.advice.first in NO_HUB]


def in_one(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def page_words(page: ShaftPage) -> str:
    """Give all that a page says of this shaft, its pictures and tables too; not what stands on every page."""
    text = render(page, "shaft")
    return html.unescape(re.sub(r"<[^>]*>", " ", text[text.index("<body") : text.index('id="cautions"')]))


def table_words(table: DataTable) -> list[str]:
    return [*table.head, *(cell for row in table.rows for cell in row)]


def leaves(value: object) -> Iterator[tuple[str, object]]:
    """Walk through a document: every key with what stands beside it."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield str(key), item
            yield from leaves(item)
    elif isinstance(value, list):
        for item in value:
            yield from leaves(item)


def test_enough_is_tried(studies: Mapping[str, ShaftStudy]) -> None:
    assert len(OF_THE_DEMO) >= 35
    assert len(forbidden(studies)) >= 4
    assert {study.advice.first for study in studies.values()} >= {None, *First} - {First.MEASURE_FIRST}


def test_no_hub_is_named_where_none_may_be(studies: Mapping[str, ShaftStudy]) -> None:
    for study in forbidden(studies):
        told = plain(study)
        assert told["choices"] == []
        naming = {"undersize_um", "second_um", "hub", "then", "runner_up"}
        assert [(key, item) for key, item in leaves(told) if key in naming and item is not None] == []
        assert told["advice"]["method"] is None
        assert {each["code"] for each in told["advice"]["because"]} <= {*map(str, Finding), Reason.NO_HUB_HOLDS}
        for lines in (shaft_answer(study).lines(), shaft_sentences(study)):
            assert not _HUB.search(in_one(lines)), lines
        assert not study.map_frame()["filing_um"].notna().any()
        assert choices_table(study).rows == ()
        assert not _HUB.search(" ".join(table_words(map_table(study))))


@pytest.mark.parametrize("label", ["cracked", "twisted"])
def test_page_names_no_hub_where_none_may_be(label: str, studies: Mapping[str, ShaftStudy]) -> None:
    page = shaft_page(studies[label], invented=True)
    assert not re.search(r"undersize|standard hub|special|advised|to file|\bH\d{4}\b", page_words(page))


def test_nothing_is_sent_while_a_reading_that_matters_stands(studies: Mapping[str, ShaftStudy]) -> None:
    seen = 0
    for study in studies.values():
        if any(told.code == Finding.STRAY_READING for told in study.advice.because):
            seen += 1
            assert study.advice.first is not None
            assert study.advice.sent_now is None
            assert study.advice.do not in _SENDS
            assert plain(study)["advice"]["undersize_um"] is None
    assert seen >= 4


@pytest.mark.parametrize("shaft", ALL)
def test_headline_is_never_undone(shaft: str, studies: Mapping[str, ShaftStudy]) -> None:
    study = studies[shaft]
    lines = in_one([*shaft_answer(study).lines(), *shaft_sentences(study), *measure_again_lines(study)])
    if study.advice.do in _SENDS:
        assert study.advice.first is None
        assert not _UNDOES.search(lines.lower().replace("nothing has to be measured again", "")), lines
    else:
        # and where nothing is sent there is no order to send: what would be sent then is told as such
        orders = re.findall(r"\bsend (?!no hub)[^.]*", lines.lower())
        assert orders == [], lines


@pytest.mark.parametrize("shaft", ALL)
def test_mark_stands_on_the_hub_spoken_of_alone(shaft: str, studies: Mapping[str, ShaftStudy]) -> None:
    study = studies[shaft]
    hub = study.advice.hub
    marked = [line for line in shaft_answer(study).lines() if line.startswith("  >")]
    advised = [row[0] for row in choices_table(study).rows if "advised" in row[0]]
    if hub is None:
        assert (marked, advised) == ([], [])
        return
    (line,), (row,) = marked, advised
    assert line.split()[1].rstrip("*") == f"{hub.undersize_um / 1000:.3f}"
    assert hub.hub is None or hub.hub in row
    assert study.choice_of(hub) is not None
    if study.advice.first is None:
        # what is sent is what is kept as given
        assert study.given(version="x").undersize_um == hub.undersize_um


@pytest.mark.parametrize("shaft", ALL)
def test_one_chance_is_one_number(shaft: str, studies: Mapping[str, ShaftStudy]) -> None:
    study = studies[shaft]
    told = plain(study)
    for choice, document in zip(study.choices, told["choices"], strict=True):
        (within,) = (each for each in document["risk"] if each["months"] == study.horizon_months)
        assert within["value"] == choice.candidate.risk.value
    hub = study.advice.hub
    if hub is None or hub.risk.value is None:
        return
    assert told["advice"]["then"]["risk"]["value"] == hub.risk.value
    (line,) = (line for line in shaft_answer(study).lines() if line.startswith("  >"))
    printed = in_hundred(hub.risk.value)
    assert f" {printed} (" in line
    assert f"of 100 such hubs {printed} (" in in_one(shaft_sentences(study))
    (row,) = (row for row in choices_table(study).rows if "advised" in row[0])
    assert row[7].startswith(f"{printed} (")


@pytest.mark.parametrize("shaft", ALL)
def test_answer_fits_a_terminal(shaft: str, studies: Mapping[str, ShaftStudy]) -> None:
    lines = shaft_answer(studies[shaft]).lines()
    assert len(lines) <= MOST_LINES
    assert [line for line in lines if len(line) > WIDTH] == []


@pytest.mark.parametrize("shaft", ALL)
def test_what_is_not_allowed_says_why(shaft: str, studies: Mapping[str, ShaftStudy]) -> None:
    study = studies[shaft]
    for choice in study.choices:
        told = choice.to_dict()
        assert told["allowed"] == (not told["refused_because"])
        assert choice.candidate.allowed or all(say(remark(code)) for code in choice.candidate.refused)
    # in the table no reason is cut short
    reasons = {say(remark(code)) for choice in study.choices for code in choice.candidate.refused}
    answer = shaft_answer(study)
    for table in (part for part in answer.body if isinstance(part, SmallTable)):
        for *_, why in table.rows:
            assert why in reasons | {"at the limit", "a special", ""}
            assert not why or any(line.endswith(why) for line in answer.lines())


def test_hub_in_use_has_the_chance_that_review_and_calls_give(demo: Snapshot, demo_review: ReviewStudy) -> None:
    running = study_forecast(demo, past=False).running.set_index("shaft")
    calls = study_calls(demo).calls.set_index("shaft")
    warned = 0
    shafts = [*OF_THE_DEMO, *calls.index[calls["risk"] >= WARN_FROM][:10]]
    for shaft in shafts:
        if shaft not in running.index:
            continue
        now, soon = (float(running.loc[shaft, name]) for name in ("loose_now", "risk_quarter"))
        assert (calls.loc[shaft, "loose_now"], calls.loc[shaft, "risk"]) == (now, soon)
        told = {told.code: told.facts for told in study_shaft(demo, shaft).advice.because}
        if Finding.HUB_MAY_BE_LOOSE in told:
            warned += 1
            assert (told[Finding.HUB_MAY_BE_LOOSE]["now"], told[Finding.HUB_MAY_BE_LOOSE]["soon"]) == (now, soon)
        # who is called first is warned first
        assert (soon >= WARN_FROM) == (Finding.HUB_MAY_BE_LOOSE in told) or Finding.HUB_LOOSE in told
    assert warned >= 10
    at_risk = demo_review.forecast.running.set_index("shaft") if demo_review.forecast else running
    assert float(at_risk.loc[shafts[-1], "risk_quarter"]) == float(running.loc[shafts[-1], "risk_quarter"])


def test_chance_of_a_hub_in_use_comes_back_from_what_is_kept(demo: Snapshot) -> None:
    kept = shaft_background(demo).at_risk
    running = study_forecast(demo, past=False).running
    assert sorted(soon for _, soon in kept.values()) == sorted(running["risk_quarter"].dropna().astype(float))
