"""Every number that the review says in words stands in its answer, rounded as it is said."""

import datetime
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.studies.support.fitting_store import AS_OF, make_store, plain_frames
from wearstats.domain.quarters import parse_quarter
from wearstats.report.remarks.document import plain
from wearstats.report.review.sentences import review_sentences
from wearstats.report.review.tables import review_tables
from wearstats.store.database.connection import open_store
from wearstats.studies.review.actions import FIRST
from wearstats.studies.review.study import ReviewStudy, study_review
from wearstats.studies.snapshot import Snapshot

# how sure, out of how many, three months ahead, the four quarters before and the five together, the horizon
FIXED = {"95", "90", "100", "10"}
NAMES = re.compile(r"\b(?:owner-\d+|[A-Z]\d+[A-Z]?\d*|\d{4}Q\d|\d{4}-\d\d-\d\d|p = )")
NUMBER = re.compile(r"-?\d+(?:[.,\u202f]\d+)*(?:e-?\d+)?")


def numbers_in(value: Any) -> Iterator[float]:
    """Give all numbers of a document, and how many its lists hold."""
    if isinstance(value, bool | None):
        return
    if isinstance(value, int | float):
        yield float(value)
    elif isinstance(value, str):
        yield from (float(text) for text in re.findall(r"\d+(?:\.\d+)?", value))
    elif isinstance(value, dict):
        for part in value.values():
            yield from numbers_in(part)
    elif isinstance(value, list):
        yield float(len(value))
        for part in value:
            yield from numbers_in(part)


def known_numbers(study: ReviewStudy) -> set[float]:
    """Give the numbers of the answer, and the sums that its sentences say."""
    document = plain(study)
    found = set(numbers_in(document))
    found |= {float(len(study.counts.changes())), float(sum(study.returns_before.values()))}
    found.add(float(sum(study.counts.other_ends.values())))
    at_risk = study.at_risk_frame()
    if len(at_risk):
        found.add(float((~at_risk["told"]).sum()))
    batches = study.batches.frame
    found |= {float(len(batches)), float((batches["gauged"] > 0).sum())}
    by_method = study.advice.by_method
    otherwise = by_method[by_method["method_sent"] != by_method["method_done"]]
    found |= {float(by_method["hubs"].sum()), float(otherwise["hubs"].sum())}
    found |= {float(abs(study.counts.failures - study.seen))}
    if study.in_use is not None:
        first = study.in_use.held_by_first(FIRST)
        found |= {first} if first is not None else set()
    if study.forecast is not None:
        earlier = study.forecast.earlier
        found |= {float(len(earlier)), float(earlier["happened"].sum()), float(earlier["expected"].sum())}
        found |= {float(len(study.forecast.running))}
        loose = study.forecast.running["loose_now"]
        found |= {float(loose.sum())}
    found |= {number / 1000 for number in found} | {number / 25400 for number in found}
    return found | {100 * number for number in found}


def is_known(text: str, known: np.ndarray[Any, Any]) -> bool:
    """Whether a number as written is one of those known, rounded to the places it is written with."""
    plain = text.replace("\u202f", "").replace(",", "")
    exponent = Decimal(plain).as_tuple().exponent
    assert isinstance(exponent, int)
    step = 10.0**exponent
    return bool((np.abs(known - float(plain)) <= 0.5 * step * (1 + 1e-9)).any())


def unknown_numbers(study: ReviewStudy, lines: list[str]) -> list[tuple[str, str]]:
    known = np.array(sorted(number for number in known_numbers(study) if np.isfinite(number)))
    return [
        (text, line)
        for line in lines
        for text in NUMBER.findall(NAMES.sub("", line))
        if text not in FIXED and not is_known(text, known)
    ]


@pytest.fixture(scope="module")
def study(demo_review: ReviewStudy) -> ReviewStudy:
    return demo_review


def test_of_the_demo(study: ReviewStudy) -> None:
    lines = review_sentences(study)
    assert len(lines) > 15
    assert unknown_numbers(study, lines) == []
    # and one that is made up is found out
    assert unknown_numbers(study, ["It was 987654.3 in all."]) == [("987654.3", "It was 987654.3 in all.")]


@pytest.mark.parametrize(
    ("quarter", "as_of"), [("2024Q2", AS_OF), ("2023Q2", AS_OF), ("2024Q1", datetime.date(2024, 2, 20))]
)
def test_of_a_small_shop(tmp_path: Path, quarter: str, as_of: datetime.date) -> None:
    path = make_store(tmp_path / "small.duckdb", plain_frames())
    with open_store(path) as store:
        small = study_review(Snapshot(store=store, known_on=as_of), quarter=parse_quarter(quarter))
    assert unknown_numbers(small, review_sentences(small)) == []
    assert all("nan" not in cell.lower() for table in review_tables(small) for row in table.rows for cell in row)


def test_rows_of_the_compared_are_rows_of_the_answer(study: ReviewStudy) -> None:
    document = plain(study)
    reasons = {row["group"]: row["number"] for row in document["returns_groups"] if row["by"] == "reason"}
    assert {reason: count for reason, count in reasons.items() if count} == study.returns
    causes = {row["group"]: row["number"] for row in document["other_ends_groups"]}
    assert {cause: count for cause, count in causes.items() if count} == study.counts.other_ends
    told = [row["counted"] for name in ("groups", "other_ends_groups", "returns_groups") for row in document[name]]
    assert sum(told) == document["groups_compared"]
    by_pattern = [row["number"] for row in document["returns_groups"] if row["by"] == "pattern"]
    assert sum(by_pattern) == document["returned"]


def test_up_to_the_last_word_there_are_fewer_months(study: ReviewStudy) -> None:
    document = plain(study)
    heard, all_months = (document[f"failures_per_100_hub_months{end}"]["value"] for end in ("_heard", ""))
    assert heard > all_months
    assert f"{heard:.2f} in 100 hub-months, too many" in " ".join(review_sentences(study))


def test_every_hub_at_risk_has_its_reason(study: ReviewStudy) -> None:
    assert all(row["reason"] for row in plain(study)["at_risk"])
