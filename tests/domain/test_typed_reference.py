"""What may be typed, what it means, and what is refused with both its meanings."""

from decimal import Decimal

import pytest

from wearstats.domain.typed import (
    DecimalMark,
    TypedValueError,
    decimal_mark_of,
    parse_integer,
    parse_number,
    parse_size,
    parse_unit,
    text_of_number,
    without_unit,
)
from wearstats.domain.units import Unit
from wearstats.errors import InputError, Problem


@pytest.mark.parametrize(
    ("text", "value", "decimals"),
    [
        ("5.98", "5.98", 2),
        ("5,98", "5.98", 2),
        ("5.980", "5.980", 3),
        (".2145", "0.2145", 4),
        ("0,234", "0.234", 3),
        (" 6 ", "6", 0),
        ("+6", "6", 0),
        ("-3.5", "-3.5", 1),
        ("\u22123,5", "-3.5", 1),
        ("1\u202f234,5", "1234.5", 1),
        ("12\u2009345.6", "12345.6", 1),
        ("1\u00a0234\u00a0567", "1234567", 0),
        ("5.980\u200912", "5.98012", 5),
        ("\u00a05.98\u00a0", "5.98", 2),
        ("1.234", "1.234", 3),
    ],
)
def test_numbers_as_people_write_them(text: str, value: str, decimals: int) -> None:
    typed = parse_number(text)
    assert typed.value == Decimal(value)
    assert typed.decimals == decimals
    assert typed.resolution == Decimal(10) ** -decimals
    assert typed.text == text


@pytest.mark.parametrize(
    ("text", "meanings"),
    [
        ("1,234", ["1.234", "1234"]),
        ("12,345", ["12.345", "12345"]),
        ("1.234,5", ["1234.5", "1.234"]),
        ("1,234.5", ["1234.5", "1.234"]),
        ("1'234", ["1234"]),
        ("1.234.567", ["1234567"]),
    ],
)
def test_thousands_separators_are_refused_with_the_meanings(text: str, meanings: list[str]) -> None:
    with pytest.raises(TypedValueError) as refused:
        parse_number(text)
    for meaning in [text, *meanings]:
        assert meaning in refused.value.found


@pytest.mark.parametrize(
    ("text", "mark", "value"), [("5,980", ",", "5.980"), ("1,234", ",", "1.234"), ("1.234", ".", "1.234")]
)
def test_a_known_decimal_mark_settles_it(text: str, mark: DecimalMark, value: str) -> None:
    assert parse_number(text, decimal_mark=mark).value == Decimal(value)


@pytest.mark.parametrize(("text", "mark"), [("1.234", ","), ("1,234", ".")])
def test_the_other_mark_than_the_file_s_is_refused(text: str, mark: DecimalMark) -> None:
    with pytest.raises(TypedValueError, match=r"1\.234 .* or 1234 "):
        parse_number(text, decimal_mark=mark)


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["5,980", "5,98"], ","),
        (["5,980", "0,234"], ","),
        (["5,980", "5,981"], None),
        (["5.98", "6"], "."),
        (["5.98", "5,98"], None),
        (["", "x", "6"], None),
    ],
)
def test_the_decimal_mark_of_a_column(texts: list[str], mark: DecimalMark | None) -> None:
    assert decimal_mark_of(texts) == mark


# common practice, no source: 254 um in one shop is 100 in another
@pytest.mark.parametrize(
    ("text", "meanings"),
    [
        ("ten under", ["0.0100 in = 254 um", "0.10 mm = 100 um"]),
        ("10 under", ["0.0100 in = 254 um", "0.10 mm = 100 um"]),
        ("Ten  Undersize", ["0.0100 in = 254 um", "0.10 mm = 100 um"]),
        ("twenty over", ["0.0200 in = 508 um", "0.20 mm = 200 um"]),
        ("tenth", ["0.0001 in = 2.54 um", "0.10 mm = 100 um"]),
        ("a tenth", ["0.0001 in = 2.54 um", "0.10 mm = 100 um"]),
        ("3 tenths", ["0.0003 in = 7.62 um", "0.30 mm = 300 um"]),
        ("mil", ["0.0010 in = 25.4 um", "1 mm = 1000 um"]),
        ("4 mils", ["0.0040 in = 101.6 um", "4 mm = 4000 um"]),
    ],
)
def test_trade_words_are_refused_with_both_meanings(text: str, meanings: list[str]) -> None:
    with pytest.raises(TypedValueError) as refused:
        parse_number(text)
    for meaning in [text, *meanings]:
        assert meaning in refused.value.found


@pytest.mark.parametrize(
    "text",
    [
        *["", " ", "nan", "NaN", "inf", "-Infinity", "1e308", "6e0", "0x1F", "1_000", "5.", ".", "-", "+", "5..98"],
        *["5,98,1", "5 980", "7/32", "7 7/32", "5.98 mm", '0.234"', "4thou", "\u0665", "6\n7", "five", "--5"],
        *["9" * 400, "0." + "1" * 13, "None", "#N/A", "1234,567,8"],
    ],
)
def test_everything_else_is_refused(text: str) -> None:
    with pytest.raises(TypedValueError) as refused:
        parse_number(text)
    assert refused.value.allowed
    assert len(str(refused.value)) < 250


def test_a_unit_behind_the_number_is_told_where_it_belongs() -> None:
    with pytest.raises(TypedValueError, match=r"write 5\.98 alone; the unit has a place of its own"):
        parse_number("5.98 mm")
    with pytest.raises(TypedValueError, match=r"it comes to 0\.0040 in = 101\.6 um"):
        parse_number("4 thou")


def test_the_caller_adds_the_place() -> None:
    with pytest.raises(InputError) as refused:
        parse_number("nan")
    assert isinstance(refused.value, TypedValueError)
    problem = refused.value.at("readings.csv, row 14, width")
    assert problem == Problem(
        place="readings.csv, row 14, width",
        found="'nan' is no number",
        allowed="a plain number, such as 5.98 or 5,98",
        next_step="leave the cell empty if not known",
    )


@pytest.mark.parametrize(
    ("text", "unit", "tenths", "resolution_um"),
    [
        ("5.98", "mm", 59800, 10.0),
        ("5,980", "mm", 59800, 1.0),
        ("0.2145", "in", 54483, 2.54),
        (".215", "in", 54610, 25.4),
        ("214.5", "thou", 54483, 2.54),
        ("2145", "tenth-thou", 54483, 2.54),
    ],
)
def test_sizes_keep_the_resolution_typed(text: str, unit: Unit, tenths: int, resolution_um: float) -> None:
    size = parse_size(text, unit, decimal_mark="," if "," in text else None)
    assert (size.text, size.unit, size.tenths) == (text, unit, tenths)
    assert size.resolution_um == resolution_um


@pytest.mark.parametrize(("text", "unit"), [("0", "mm"), ("-5.98", "mm"), ("214.5", "in"), ("201", "mm")])
def test_no_size_of_a_shaft(text: str, unit: Unit) -> None:
    with pytest.raises(TypedValueError, match="up to 200 mm"):
        parse_size(text, unit)


def test_whole_numbers() -> None:
    assert parse_integer("10") == 10
    assert parse_integer("10.0") == 10
    with pytest.raises(TypedValueError, match="not whole"):
        parse_integer("10.5")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("mil", r"25\.4 um .* or 1 mm"),
        ("tenth", r"0\.0001 in = 2\.54 um .* or 0\.1 mm = 100 um"),
        ("cubit", "no unit known here; mm, in, thou, tenth-thou"),
        ("", "no unit known here"),
    ],
)
def test_other_units_are_refused(text: str, says: str) -> None:
    with pytest.raises(TypedValueError, match=says):
        parse_unit(text)


def test_units_known() -> None:
    assert [parse_unit(text) for text in ("mm", " IN", "Thou", "tenth-thou")] == ["mm", "in", "thou", "tenth-thou"]


@pytest.mark.parametrize("text", ["in", "inch", "Inches", '"', "in.", "\u2033", "\u201d", "''"])
def test_inches_are_inches_however_they_are_written(text: str) -> None:
    assert parse_unit(text) == "in"
    assert parse_unit("Millimetres") == "mm"
    assert parse_size(f"0.2145{text}", "in").tenths == parse_size(f"0.2145 {text}", "in").tenths == 54483


@pytest.mark.parametrize(
    ("text", "unit", "write"),
    # 0.2346 in x 25.4 = 5.95884 mm; 5.98 / 25.4 = 0.23543 in
    [('0.2346"', "mm", "5.95884"), ("5.98 mm", "in", "0.23543"), ("234.6 thou", "mm", "5.95884")],
)
def test_another_unit_than_its_place_has_is_refused_with_the_number_to_write(text: str, unit: Unit, write: str) -> None:
    with pytest.raises(TypedValueError, match=rf"bears the unit .*write {write}, or correct the unit"):
        parse_size(text, unit)


def test_a_unit_that_its_place_has_anyway_is_taken_off() -> None:
    assert without_unit("12.5 \u00b5m", "um") == "12.5"
    assert without_unit("5,98mm", "mm") == "5,98"
    assert without_unit("5.98 cubits", "mm") == "5.98 cubits"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        *[(5.98, "5.98"), (5.9799999999999995, "5.98"), (6.0, "6"), (1e-7, "0.0000001"), (1e15, "1000000000000000")],
        *[(0.1 + 0.2, "0.3"), (-0.5, "-0.5"), (7, "7"), (100.0, "100")],
    ],
)
def test_spreadsheet_numbers_are_written_as_typed(value: float, text: str) -> None:
    assert text_of_number(value) == text


def test_spreadsheet_errors_stay_no_numbers() -> None:
    for value in (float("nan"), float("inf")):
        with pytest.raises(TypedValueError):
            parse_number(text_of_number(value))


WORDS = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "twelve", "fifteen", "twenty",
         "thirty", "forty", "fifty"]  # fmt: skip
NUMBERS = [*range(1, 11), 12, 15, 20, 30, 40, 50]


@pytest.mark.parametrize(("word", "number"), [*zip(WORDS, NUMBERS, strict=True), ("a", 1)])
def test_a_count_said_in_words_is_that_number_of_thousandths(word: str, number: int) -> None:
    with pytest.raises(TypedValueError) as refused:
        parse_number(f"{word} under")
    # a thousandth of an inch is 25.4 um, and a hundredth of a millimetre 10
    assert f"{number / 1000:.4f} in = {25.4 * number:g} um" in str(refused.value)
    assert f"{number / 100:.2f} mm = {10 * number} um" in str(refused.value)
