"""An engine's type finds the pattern, where the shop has said which takes which."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, PATTERN, make_store, small_rows
from wearstats.errors import InputError
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files, add_mail
from wearstats.store.parsing.mail import Pasted

TYPES = "engine_types\nengine_type,pattern\ntwin 40,D8\ntwin 40 marine,D10\nbeam,D8\nbeam,D10\n"
MAIL = "Shaft P-17\n{}measured 2026-11-20 by Jan with a flat micrometer, in mm:\n1: 5.44 5.43 5.43\n2: 5.44 5.43 5.43\n"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    other = {**PATTERN, "pattern": "D10", "splines": "10", "width_mm": "5.448", "space_width_mm": "5.46"}
    rows = small_rows()
    path = make_store(tmp_path / "bench.duckdb", {**rows, "patterns": [*rows["patterns"], other]})
    with open_store(path, write=True) as opened:
        assert add_files(opened, [], text=TYPES, added_on=LATE).kept_out == 0
        yield opened


def test_a_shaft_and_an_order_that_name_an_engine_have_its_pattern(store: Store) -> None:
    text = "shafts\nshaft,engine\nS7,Twin 40 no. 12\nS8,TWIN-40 Marine\n\n"
    text += "orders\norder,ordered_on,engine\nO1,2026-11-01,twin 40\n"
    report = add_files(store, [], text=text, added_on=LATE)
    assert report.kept_out == 0, report.files
    # of two types that are named the longer one counts
    assert store.rows("select shaft, pattern from shafts where shaft in ('S7', 'S8') order by 1") == [
        ("S7", "D8"),
        ("S8", "D10"),
    ]
    assert store.rows("select pattern from orders where \"order\" = 'O1'") == [("D8",)]
    assert any("engine 'TWIN-40 Marine' takes pattern D10, as engine_types has it" in note for note in report.notes)


def test_a_pattern_that_is_typed_stays_and_one_of_several_is_asked_for(store: Store) -> None:
    report = add_files(store, [], text="shafts\nshaft,engine,pattern\nS7,twin 40,D10\nS8,beam,\n", added_on=LATE)
    assert store.rows("select pattern from shafts where shaft = 'S7'") == [("D10",)]
    assert any("engine 'beam' takes D10 or D8: say which in a column pattern" in note for note in report.notes)
    assert report.kept_out == 1


def test_a_mail_that_names_an_engine_need_not_say_the_pattern(store: Store) -> None:
    add_mail(store, Pasted(text=MAIL.format("engine: Twin-40 marine no. 1077\n"), is_mail=True), added_on=LATE)
    assert store.rows("select pattern, engine from shafts where shaft = 'P-17'") == [("D10", "Twin-40 marine no. 1077")]


def test_a_mail_of_an_engine_that_takes_several_is_asked(store: Store) -> None:
    with pytest.raises(InputError, match=r"engine 'beam no. 3' takes D10 or D8; D10, D8, or a size of ISO 14"):
        add_mail(store, Pasted(text=MAIL.format("engine: beam no. 3\n"), is_mail=True), added_on=LATE)


def test_an_unknown_engine_finds_nothing(store: Store) -> None:
    with pytest.raises(InputError, match="pattern: column pattern missing"):
        add_files(store, [], text="shafts\nshaft,engine\nS7,triple 60\n", added_on=LATE)


def test_a_mail_names_its_engine_in_running_words(store: Store) -> None:
    words = "It is off our old twin-40 Marine, the one by the sluice.\n"
    report = add_mail(store, Pasted(text=MAIL.format(words), is_mail=True), added_on=LATE)
    assert store.rows("select pattern, engine from shafts where shaft = 'P-17'") == [("D10", "twin 40 marine")]
    assert any("engine 'twin 40 marine' takes pattern D10" in note for note in report.notes)


def test_what_a_mail_says_of_pattern_or_engine_goes_before_its_other_words(store: Store) -> None:
    words = "pattern: D8\nNot the twin 40 marine any more.\n"
    add_mail(store, Pasted(text=MAIL.format(words), is_mail=True), added_on=LATE)
    assert store.rows("select pattern from shafts where shaft = 'P-17'") == [("D8",)]


def test_a_number_in_running_words_is_no_engine(store: Store) -> None:
    assert add_files(store, [], text="engine_types\nengine_type,pattern\n4500,D10\n", added_on=LATE).kept_out == 0
    with pytest.raises(InputError, match="pattern is not said"):
        add_mail(store, Pasted(text=MAIL.format("It has run 4500 hours.\n"), is_mail=True), added_on=LATE)


def test_of_several_engines_it_is_asked_which(store: Store) -> None:
    assert add_files(store, [], text="engine_types\nengine_type,pattern\nold single,D8\n", added_on=LATE).kept_out == 0
    with pytest.raises(
        InputError, match="engines twin 40 marine and old single are named; D10, D8, or a size of ISO 14"
    ):
        add_mail(
            store, Pasted(text=MAIL.format("Not the twin 40 marine, the old single.\n"), is_mail=True), added_on=LATE
        )


def test_words_in_a_mail_of_two_shafts_or_of_a_known_one_name_no_engine(store: Store) -> None:
    both = MAIL.format("It is a twin 40.\n") + MAIL.format("Of a twin 40 marine.\n").replace("P-17", "P-18")
    with pytest.raises(InputError, match="pattern is not said"):
        add_mail(store, Pasted(text=both, is_mail=True), added_on=LATE)
    known = MAIL.format("The twin 40 marine beside it is fine.\n").replace("P-17", "S1").replace("5.4", "5.9")
    assert add_mail(store, Pasted(text=known, is_mail=True), added_on=LATE).kept_out == 0
