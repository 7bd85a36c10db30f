"""Mails as owners write them: what their words and sizes say, what is left open, and that nothing is guessed."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, make_store
from wearstats.errors import InputError, UsageError
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.store.intake.add import add_files, add_mail
from wearstats.store.intake.reports import IntakeReport
from wearstats.store.parsing.mail import Pasted, decoded_message, read_mail
from wearstats.store.parsing.phone_text import plain_text

MAIL = """From: Jan <jan@example.org>
Date: Sat, 21 Nov 2026 10:12:33 +0100
Subject: our pump

Hello,
the hub rattles again. Shaft P-17, pattern 8x36x40, measured 2026-11-20
by Jan with a flat micrometer, in mm:
1: 6.98 6.97 6.96 / 2: 6.97 6.97 6.97
3: 6.97 6.96 6.97
Thanks, Jan
"""
WIDTHS = {
    1: (69800, 69700, 69600),
    2: (69700, 69700, 69700),
    3: (69700, 69600, 69700),
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    create_store(tmp_path / "bench.duckdb")
    with open_store(tmp_path / "bench.duckdb", write=True) as opened:
        yield opened


def mailed(store: Store, text: str, *shafts: str) -> IntakeReport:
    return add_mail(store, Pasted(text=text, place="mail.txt", is_mail=True), added_on=LATE, shafts=shafts)


def widths(store: Store, shaft: str = "P-17") -> dict[int, tuple[int, ...]]:
    rows = store.rows(
        "select spline, list(width_tenth_um order by list_position(['shoulder', 'middle', 'nut-end'], station)) "
        "from readings join inspections using (inspection) where shaft = $shaft group by 1 order by 1",
        {"shaft": shaft},
    )
    return {spline: tuple(found) for spline, found in rows}


def test_a_mail_is_read_as_it_was_meant(store: Store) -> None:
    report = mailed(store, MAIL)
    assert report.measured == ("P-17",)
    assert widths(store) == WIDTHS
    inspection = "select measured_on::varchar, measured_by, measured_at, unit from inspections"
    assert store.rows(inspection) == [("2026-11-20", "Jan", "home", "mm")]
    assert store.rows("select kind, resolution_um from gauges") == [("micrometer-flat", 10.0)]
    # what was taken for granted is said
    assert (
        "mail.txt, shaft P-17: assumed, as nothing else is said: sizes in the order shoulder / middle / nut-end; "
        "measured at home; a gauge that reads to 0.01, as the sizes are written"
    ) in report.notes


# what was done to the mail, and where it ends as though nothing had been done
SAME = {
    "lines that say it": (
        "Shaft P-17, pattern 8x36x40, measured 2026-11-20\nby Jan with a flat micrometer, in mm:",
        "shaft: P-17\npattern: 8x36x40\nmeasured on: 2026-11-20\nmeasured by: Jan\nkind: micrometer-flat\nunit: mm",
    ),
    "the standard named": ("pattern 8x36x40", "ISO 14 8 x 36 x 40"),
    "the standard in words": ("pattern 8x36x40", "8 splines 36 x 40"),
    "a multiplication sign": ("8x36x40", "8\u00d736\u00d740"),
    "a month in words": ("2026-11-20", "20 Nov 2026"),
    "a month first, in words": ("2026-11-20", "November 20th, 2026"),
    "another day beside the day of measuring": ("Thanks", "We bought the pump on 2019-03-01. Thanks"),
    "decimal commas": ("6.9", "6,9"),
    "commas between": ("6.97 6.96 6.97", "6.97, 6.96, 6.97"),
    "slashes between": ("6.97 6.96 6.97", "6.97/6.96/6.97"),
    "units behind the sizes": ("6.97 6.96 6.97", "6.97 mm 6.96 mm 6.97 mm"),
    "a bracket": ("3: ", "3) "),
    "a point": ("3: ", "3. "),
    "nothing but a blank": ("3: ", "3 "),
    "the word spline": ("3: ", "Spline 3: "),
    "an equals sign": ("3: ", "#3 = "),
    "words behind the sizes": ("3: 6.97 6.96 6.97", "3: 6.97 6.96 6.97 (looks worn)"),
    "stations named": ("in mm:", "in mm, at the shoulder, in the middle and at the nut end:"),
    "from end to end": ("in mm:", "in mm, from shoulder to nut end:"),
    "a table": ("/ 2:", "\n2:"),
    "a reply": (MAIL, "".join(f"> {line}\n" for line in MAIL.splitlines()[4:])),
    "a quotation": ("Shaft P-17", "Shaft \u201cP-17\u201d"),
}


@pytest.mark.parametrize("done", SAME)
def test_ways_of_writing_the_same(done: str, store: Store) -> None:
    old, new = SAME[done]
    assert old in MAIL
    report = mailed(store, MAIL.replace(old, new))
    assert widths(store) == WIDTHS
    assert store.rows("select shaft, pattern, measured_by from shafts join inspections using (shaft)") == [
        ("P-17", "8x36x40", "Jan")
    ]
    # the mail as it was is the same inspection
    assert mailed(store, MAIL).measured == report.measured
    assert store.value("select count(*) from inspections") == 1


def test_sizes_from_the_nut_end_stand_the_other_way_round(store: Store) -> None:
    mailed(store, MAIL.replace("in mm:", "in mm, from the nut end to the shoulder:"))
    assert widths(store) == {spline: found[::-1] for spline, found in WIDTHS.items()}


def test_three_decimals_with_commas_are_no_thousands(store: Store) -> None:
    text = MAIL
    for size in ("6.98", "6.97", "6.96"):
        text = text.replace(size, size.replace(".", ",") + "0")
    mailed(store, text)
    assert widths(store) == WIDTHS
    assert store.rows("select resolution_um from gauges") == [(1.0,)]


def test_places_that_were_not_measured_stay_empty(store: Store) -> None:
    mailed(store, MAIL.replace("3: 6.97 6.96 6.97", "3;;6.96;6.97").replace("2: 6.97 6.97 6.97", "2: 6.97 - 6.97"))
    assert store.rows(
        "select spline, list(station order by station) from readings where spline > 1 group by 1 order by 1"
    ) == [(2, ["nut-end", "shoulder"]), (3, ["middle", "nut-end"])]


def test_inches_by_the_mark_behind_the_sizes(store: Store) -> None:
    # 0.2745 in = 6.9723 mm
    text = 'Shaft P-17, 8x36x40, measured 2026-11-20 by Jan with a blade micrometer\n1: 0.2745" 0.2740" 0.2745"\n'
    mailed(store, text)
    assert store.rows("select unit from inspections") == [("in",)]
    assert widths(store)[1][0] == 69723


# what was done; the column asked for, words of the problem, and the example that it shows
OPEN = {
    "no shaft": ("Shaft P-17, ", "", "shaft", "is not said", "shaft: P-17"),
    "no pattern": ("pattern 8x36x40, ", "", "pattern", "a size of ISO 14", "pattern: 8x36x40"),
    "two patterns": ("8x36x40", "8x36x40 or 8x36x42", "pattern", "8x36x40 and 8x36x42 are said", "pattern: 8x36x40"),
    "no such size": ("8x36x40", "8x36x41", "pattern", "ISO 14 has 40 or 42 for 8x36", "pattern: 8x36x40"),
    "a pattern that is not known": ("8x36x40", "D8", "pattern", "'D8' is not on record", "pattern: 8x36x40"),
    "no day": ("2026-11-20", "", "measured_on", "YYYY-MM-DD", "measured_on: 2026-11-20"),
    "a day with two meanings": ("2026-11-20", "03/04/2026", "measured_on", "3 April 2026", "measured_on: 2026-11-20"),
    "nobody": ("by Jan", "", "measured_by", "is not said", "measured_by: Jan"),
    "no gauge": ("with a flat micrometer", "", "kind", "is not said", "kind: micrometer-flat"),
    "a micrometer": ("flat micrometer", "micrometer", "kind", "micrometer-blade (narrow", "kind: micrometer-flat"),
    "two gauges": ("with a flat", "with a caliper and a flat", "kind", "caliper and micrometer-flat", "kind: caliper"),
    "no unit": (", in mm", "", "unit", "mm, in, thou or tenth-thou", "unit: mm"),
    "a crack": ("rattles", "has a crack", "condition", "is not to be run", "condition: cracked"),
}


@pytest.mark.parametrize("done", OPEN)
def test_what_a_mail_leaves_open_is_named_with_a_line_that_would_say_it(done: str, store: Store) -> None:
    old, new, column, words, example = OPEN[done]
    assert old in MAIL
    with pytest.raises(InputError) as refused:
        mailed(store, MAIL.replace(old, new))
    (problem, last) = refused.value.problems
    assert problem.place.endswith(f", {column}")
    assert words in str(problem)
    assert str(problem).endswith(f"for example: {example}")
    assert "write what is missing into the text" in str(last)
    # nothing is half loaded, and the line that was shown mends it
    assert [store.value(f"select count(*) from {name}") for name in ("intakes", "patterns", "shafts", "rejects")] == [
        0
    ] * 4
    mailed(store, MAIL.replace(old, new) + example)
    assert store.value("select count(*) from readings") == 9


def test_everything_missing_is_named_at_once(store: Store) -> None:
    with pytest.raises(InputError) as refused:
        mailed(store, "1: 6.98 6.97\n2: 6.98 6.97\n")
    places = [problem.place.rpartition(", ")[2] for problem in refused.value.problems[:-1]]
    assert places == ["shaft", "pattern", "measured_on", "measured_by", "kind", "unit", "station"]


def test_a_mail_without_sizes_says_how_they_are_written(store: Store) -> None:
    with pytest.raises(InputError, match=r"for example: 1: 6\.98 6\.97 6\.96"):
        mailed(store, "Hello, my hub rattles. Regards, Jan\n")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("3: 6.97", "3: 69.7", "row 9, shoulder: '69.7' is far from 8x36x40's 7.000 mm"),
        ("3: 6.97 6.96 6.97", "3: 6.97 6.9o 6.97", "'6.9o' is more than a number"),
        ("3: 6.97 6.96 6.97", "3: 6.97 6.96", "row 9: has 3 cells where there are 4 columns"),
        ("3: 6.97", "9: 6.97", "spline 9 of 8"),
        ("3: 6.97", "2: 6.99", "where an earlier row of this intake has"),
    ],
)
def test_one_size_that_cannot_be_right_keeps_all_out(old: str, new: str, words: str, store: Store) -> None:
    assert old in MAIL
    with pytest.raises(InputError) as refused:
        mailed(store, MAIL.replace(old, new))
    assert words in str(refused.value)
    assert [store.value(f"select count(*) from {name}") for name in ("intakes", "readings", "rejects")] == [0] * 3


def test_a_mail_of_a_day_to_come_is_not_kept(store: Store) -> None:
    year = f"{LATE.year + 10}"
    with pytest.raises(InputError, match=rf"dated {year}-11-20, which is still to come; a day up to {LATE}"):
        mailed(store, MAIL.replace("2026-11-20", f"{year}-11-20").replace("20 November 2026", f"{year}-11-20"))
    assert store.value("select count(*) from intakes") == 0
    assert mailed(store, MAIL).measured == ("P-17",)


def test_a_shaft_s_name_in_other_letters(store: Store) -> None:
    assert mailed(store, MAIL.replace("P-17", "\u0412\u0430\u043b-17")).measured == ("\u0412\u0430\u043b-17",)


def test_two_shafts_in_one_mail(store: Store) -> None:
    second = MAIL.partition("Shaft")[2].replace("P-17", "P-18").replace("1: 6.98", "1: 6.95").partition("Thanks")[0]
    report = mailed(store, MAIL + "\nShaft" + second)
    assert report.measured == ("P-17", "P-18")
    assert widths(store) == WIDTHS
    assert widths(store, "P-18")[1] == (69500, 69700, 69600)


def test_what_stands_above_the_first_shaft_holds_for_all(store: Store) -> None:
    rows = "1: 6.98 6.97 6.96\n2: 6.98 6.97 6.96\n"
    head = "Two shafts 8x36x40, measured 2026-11-20 by Jan with a caliper, in mm.\n"
    mailed(store, f"{head}Shaft A-1\n{rows}Shaft A-2\n{rows}")
    assert store.rows("select shaft, measured_by, pattern from inspections join shafts using (shaft) order by 1") == [
        ("A-1", "Jan", "8x36x40"),
        ("A-2", "Jan", "8x36x40"),
    ]


def test_a_pattern_said_of_one_shaft_is_not_taken_for_another(store: Store) -> None:
    rows = "1: 6.98 6.97 6.96\n"
    head = "Measured 2026-11-20 by Jan with a caliper, in mm.\n"
    with pytest.raises(InputError, match="shaft A-2, pattern: pattern is not said"):
        mailed(store, f"{head}Shaft A-1, 8x36x40\n{rows}Shaft A-2\n{rows}")


def test_a_mail_of_another_shaft_than_the_one_asked_about_is_not_kept(store: Store) -> None:
    with pytest.raises(UsageError, match="P-18: the mail speaks of P-17"):
        mailed(store, MAIL, "P-18")
    assert store.value("select count(*) from intakes") == 0
    assert mailed(store, MAIL, "p-17").measured == ("P-17",)


def test_a_number_that_was_not_read_is_told_with_its_line(store: Store) -> None:
    report = mailed(store, MAIL + "Yours, call 0123 456789\n")
    assert "mail.txt, line 11: 'Yours, call 0123 456789' was not read" in report.notes


@pytest.mark.parametrize(
    ("words", "hours"),
    [
        ("The engine has run 4500 hours.", 4500),
        ("4500 running hours.", 4500),
        ("hours: 4500", 4500),
        ("Please answer within 24 hours.", None),
        ("It has run 4,500 hours.", None),
    ],
)
def test_hours_are_the_engine_s(words: str, hours: int | None, store: Store) -> None:
    mailed(store, f"{MAIL}{words}\n")
    assert store.value("select hours from inspections") == hours


def test_an_owner_s_workshop_is_not_ours(store: Store) -> None:
    mailed(store, MAIL + "I measured it in my workshop.\n")
    assert store.value("select measured_at from inspections") == "home"
    other = MAIL.replace("2026-11-20", "2026-11-21") + "measured_at: workshop\n"
    mailed(store, other)
    assert store.value("select count(*) from inspections where measured_at = 'workshop'") == 1


def test_a_known_shaft_needs_no_pattern_and_a_known_gauge_no_kind(tmp_path: Path) -> None:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as store:
        text = "Shaft S1 measured 2026-11-20 by Jan, gauge: G1\n1: 5.98 5.97 5.96\n"
        mailed(store, text.replace(", gauge: G1", " in mm\ngauge: G1"))
        assert store.rows("select gauge from inspections where measured_by = 'Jan'") == [("G1",)]
        assert store.value("select count(*) from gauges") == 1


def test_store_add_takes_a_mail_too(store: Store, tmp_path: Path) -> None:
    (tmp_path / "from Jan.txt").write_text(MAIL)
    report = add_files(store, [tmp_path / "from Jan.txt"], added_on=LATE)
    assert report.kept_out == 0
    assert widths(store) == WIDTHS


def test_a_message_saved_by_a_mail_program() -> None:
    body = "Shaft P-17=2C 8x36x40\n1: 6=2E98 6.97 6.96\n"
    head = "Subject: pump\nMIME-Version: 1.0\nContent-Type: text/plain; charset=utf-8\n"
    saved = f"{head}Content-Transfer-Encoding: quoted-printable\n\n{body}"
    assert decoded_message(saved) == "pump\n\nShaft P-17, 8x36x40\n1: 6.98 6.97 6.96\n"
    page = saved.replace("text/plain", "text/html").replace(body, "<p>Shaft P-17</p><div>1: 6.98</div>\n")
    assert read_mail(decoded_message(page), place="mail").sheets[0].rows == ((4, ("1", "6.98")),)
    assert decoded_message(MAIL) == MAIL


@pytest.mark.parametrize("words", ["DIN 5480 W40x2x18", "involute", "ISO 4156"])
def test_involute_splines_are_refused_as_such(words: str, store: Store) -> None:
    with pytest.raises(InputError, match="names involute splines, which cannot be kept here; straight-sided"):
        mailed(store, MAIL.replace("8x36x40", words))


def test_rows_of_another_table_are_no_mail_of_a_shaft(store: Store) -> None:
    with pytest.raises(InputError, match="no shaft was measured in it"):
        mailed(store, "hubs\nhub,pattern,undersize_um\nH9,8x36x40,50\n")
    assert store.value("select count(*) from intakes") == 0


def test_a_sheet_that_names_its_inspection_alone(tmp_path: Path) -> None:
    with open_store(make_store(tmp_path / "bench.duckdb"), write=True) as store:
        assert mailed(store, "readings\ninspection: I1\nspline,nut-end\n1,5.98\n").measured == ("S1",)


SPOILT = [
    " ",
    ";",
    ",",
    "\n",
    "/",
    '"',
    ":",
    "shaft ",
    "mm",
    "\t",
    "|",
    "(",
    ")",
    "x",
    "9",
    "-",
    "\u00a0",
    "#",
    "spline",
    ".",
]


def test_no_size_is_lost_without_a_word() -> None:
    """However a mail is spoilt, each size is a cell of a row, for intake to judge, or its line is told as not read."""
    body = MAIL.partition("\n\n")[2]
    for seed in range(1500):
        rng = random.Random(seed)
        text = body
        for _ in range(rng.randint(1, 6)):
            at = rng.randrange(len(text))
            spoilt = rng.random() < 0.35
            text = text[:at] + text[at + rng.randint(1, 6) :] if spoilt else text[:at] + rng.choice(SPOILT) + text[at:]
        mail = read_mail(plain_text(text), place="mail")
        if not mail.sheets:
            continue
        sizes = re.findall(r"(?<![\w.])6[.,]9[678](?!\w)", plain_text(text))
        read = " ".join(cell for sheet in mail.sheets for _, cells in sheet.rows for cell in cells[1:])
        told = any("was not read" in note for note in mail.notes)
        assert told or len(re.findall(r"6[.,]9[678]", read)) >= len(sizes), f"seed {seed}:\n{text}"
