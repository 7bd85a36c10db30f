"""What a gauge was called, and right lines of a file, as they would be typed."""

from __future__ import annotations

import pytest

from wearstats.domain.examples import example_lines, example_of, example_said
from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.domain.typed import TypedValueError
from wearstats.domain.words import gauge_kind


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("Micrometer-Flat", "micrometer-flat"),
        ("flat anvil micrometer", "micrometer-flat"),
        ("knife mike", "micrometer-blade"),
        ("outside micrometre, spherical", None),
        ("ball anvil mic", "micrometer-ball"),
        ("vernier calliper", "caliper"),
        ("plug gauge", "plug"),
        # no instrument is named, or two
        ("flat", None),
        ("ball pen", None),
        ("flat and ball micrometer", None),
        ("ruler", None),
    ],
)
def test_a_gauge_is_known_by_the_words_of_the_trade(said: str, kind: str | None) -> None:
    assert gauge_kind(said) == kind


@pytest.mark.parametrize("said", ["micrometer", "Outside Mic", "micrometre"])
def test_a_bare_micrometer_is_asked_which(said: str) -> None:
    with pytest.raises(TypedValueError):
        gauge_kind(said)


def test_a_right_line_has_what_is_required_and_what_is_wanted_besides() -> None:
    for table in TABLE_BY_NAME.values():
        required = [column.name for column in table.columns if column.required]
        names, values = example_lines(table).split(" / ", 1)
        assert names.split(",") == required
        assert values.split(",") == [example_of(column) for column in table.columns if column.required]
        for column in table.columns:
            wanted = example_lines(table, besides=[column.name]).split(" / ", 1)[0].split(",")
            assert set(wanted) == {*required, column.name}
    said = example_said(["shaft", "nothing of that name", "hours"], TABLE_BY_NAME.values())
    assert said == f"shaft: {said.split('shaft: ')[1].split(' / ')[0]} / hours: {said.rsplit('hours: ', 1)[1]}"
