"""What an answer looks like on stdout."""

from __future__ import annotations

import datetime
import json

import numpy as np
import pytest

from wearstats.analysis.estimate import Estimate
from wearstats.cli.running.output import print_document, print_note, print_sentences
from wearstats.report.remarks.document import plain

AS_OF = datetime.date(2026, 9, 30)


def test_document_is_json_with_its_head_first(capsys: pytest.CaptureFixture[str]) -> None:
    print_document("wear", {"shafts": np.int64(3), "mean": Estimate(value=0.1 + 0.2), "as_of": "other"}, as_of=AS_OF)
    out = capsys.readouterr().out
    document = json.loads(out)
    assert list(document) == ["answer", "version", "as_of", "shafts", "mean"]
    assert (document["answer"], document["version"], document["as_of"]) == ("wear", 1, "2026-09-30")
    # unrounded: seventeen digits come back as they went
    assert document["mean"]["value"] == 0.1 + 0.2


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), np.float64("nan"), np.float32("inf")])
def test_what_is_no_number_is_null(value: float) -> None:
    assert plain({"a": [value], "b": np.array([[1.0, value]])}) == {"a": [None], "b": [[1.0, None]]}


def test_kinds_of_values() -> None:
    assert plain({0.5: (np.bool_(True), True, None, "\u00b5")}) == {"0.5": [True, True, None, "\u00b5"]}
    with pytest.raises(TypeError, match="object"):
        plain(object())


def test_sentences_go_to_stdout_whole_and_notes_to_stderr(capsys: pytest.CaptureFixture[str]) -> None:
    print_sentences(["A hub " * 40 + ".", "B."])
    print_note("reading files")
    captured = capsys.readouterr()
    assert captured.out == "A hub " * 40 + ".\nB.\n"
    assert captured.err == "reading files\n"
