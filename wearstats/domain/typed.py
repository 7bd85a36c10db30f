"""Reading what a person has typed: numbers, units, dates; refusing what has two meanings, and naming both.

Every function takes text and returns a value or raises `TypedValueError`, which knows what was found, what is allowed
and what to do next, but not where: the caller adds the place with `TypedValueError.at`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from wearstats.domain.units import UM_PER_UNIT, Unit, tenths_from_typed, um_exact, unit_or_none
from wearstats.errors import InputError, Problem

DecimalMark = Literal[".", ","]

PLAIN_NUMBER = r"^[+-]?[0-9]{1,9}(\.[0-9]{1,9})?$"
"""Text that `parse_number` reads exactly as SQL casts it to a decimal: columns of it need no Python."""

_SPACES = " \t\u00a0\u2007\u2009\u200a\u202f\ufeff"
_THIN = "[\u00a0\u2007\u2009\u200a\u202f]"
# groups of three digits, set apart by a thin, narrow or no-break space as the SI writes them, or none at all
_NUMBER = re.compile(
    rf"(?P<sign>[+-]?)"
    rf"(?P<whole>[0-9]*|[0-9]{{1,3}}(?:{_THIN}[0-9]{{3}})+)"
    rf"(?:(?P<mark>[.,])(?P<part>[0-9]+|(?:[0-9]{{3}}{_THIN})+[0-9]{{1,3}}))?"
)
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}(?P<group>[.,'])[0-9]{3}(?:(?P=group)[0-9]{3})*(?:[.,][0-9]+)?")
_MOST_DIGITS = 12

_COUNTS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10}
_COUNTS |= {"a": 1, "twelve": 12, "fifteen": 15, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50}
_SAID = re.compile(
    r"(?:(?P<count>[a-z]+|[0-9]+)(?:[ -]+|(?<=[0-9])))?"
    r"(?P<word>(?:thou |tenths? )?(?:under|over)(?:size)?|tenths?|mils?|thous?)"
)
_WITH_UNIT = re.compile(r"(?P<number>[+-]?[0-9.,]*[0-9]) *(?P<unit>[a-z\u00b5\u03bc\"'\u2019\u201d\u2032\u2033-]+\.?)")
_MICROMETRES = {"um", "\u00b5m", "\u03bcm"}


def quoted(text: str) -> str:
    """Quote a typed text for a message, at most 40 characters of it."""
    return f"'{text if len(text) <= 40 else text[:39] + chr(0x2026)}'"


class TypedValueError(InputError):
    """A typed value that cannot be accepted; the caller says where it stood.

    Parameters
    ----------
    found : str
        What stood there, quoted, and what is the matter with it.
    allowed : str
        What would have been accepted.
    next_step : str
        What the user can do about it.
    """

    def __init__(self, found: str, *, allowed: str = "", next_step: str = "") -> None:
        self.found = found
        self.allowed = allowed
        self.next_step = next_step
        super().__init__(self.at("value"))

    def at(self, place: str) -> Problem:
        """Make the full problem: ``readings.csv, row 14, width`` and what was wrong there."""
        return Problem(place=place, found=self.found, allowed=self.allowed, next_step=self.next_step)


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedNumber:
    """A number as it was typed.

    Parameters
    ----------
    text : str
        As typed, untouched.
    value : decimal.Decimal
        What it says, exactly.
    decimals : int
        Digits after the decimal mark.
    """

    text: str
    value: Decimal
    decimals: int

    @property
    def resolution(self) -> Decimal:
        """Step of the last digit typed, in the number's own unit."""
        return Decimal(1).scaleb(-self.decimals)


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedSize:
    """A measured size as it was typed, and what it comes to.

    Parameters
    ----------
    text : str
        As typed, untouched.
    unit : {"mm", "in", "thou", "tenth-thou"}
        Unit it was typed in.
    tenths : int
        The size in whole tenths of a micrometre.
    decimals : int
        Digits after the decimal mark.
    resolution_um : float
        Step of the last digit typed, in micrometres.
    """

    text: str
    unit: Unit
    tenths: int
    decimals: int
    resolution_um: float


def parse_number(text: str, *, decimal_mark: DecimalMark | None = None) -> TypedNumber:
    """Read a typed number.

    Parameters
    ----------
    text : str
        As typed. Decimal point or comma; thin, narrow and no-break spaces between groups of three digits; ``.98``.
    decimal_mark : {".", ","}, optional
        The file's decimal mark where it is known (see `decimal_mark_of`). Where it is not, ``1,234`` is refused: it
        is 1.234 to one writer and 1234 to another. A point is a decimal point unless the mark is known to be a comma.

    Returns
    -------
    TypedNumber

    Raises
    ------
    TypedValueError
        Anything else: no number, NaN or infinity, exponents, hexadecimal, underscores, thousands separators, trade
        words with two meanings; the message names the meanings.
    """
    bare = text.strip(_SPACES).replace("\u2212", "-")
    match = _NUMBER.fullmatch(bare)
    if match is None or not (match["whole"] or match["part"]):
        raise _refusal(text, bare)
    whole = re.sub(_THIN, "", match["whole"])
    part = re.sub(_THIN, "", match["part"] or "")
    mark = match["mark"]
    if mark is not None and _could_group(whole, part) and (mark != decimal_mark if decimal_mark else mark == ","):
        raise TypedValueError(
            f"{quoted(text)} may be {whole}.{part} (decimal '{mark}') or {whole}{part} (thousands '{mark}')",
            allowed="a number without thousands separators",
            next_step=f"write {whole}.{part} or {whole}{part}",
        )
    if len(whole.lstrip("0")) + len(part) > _MOST_DIGITS:
        raise TypedValueError(
            f"{quoted(text)} has {len(whole) + len(part)} digits",
            allowed=f"at most {_MOST_DIGITS} digits",
            next_step="write it as it was read off the gauge",
        )
    return TypedNumber(text=text, value=Decimal(f"{match['sign']}{whole or '0'}.{part or '0'}"), decimals=len(part))


def _could_group(whole: str, part: str) -> bool:
    """Whether ``whole,part`` could be thousands: 1 to 3 digits without a leading zero, then exactly 3."""
    return len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")


def decimal_mark_of(texts: list[str]) -> DecimalMark | None:
    """Find the decimal mark that a column of typed numbers uses.

    Parameters
    ----------
    texts : list of str
        Typed numbers.

    Returns
    -------
    {".", ","} or None
        The mark of those numbers that can be read in one way only (``5,98``, ``0,123``); None where there are none or
        where they disagree.
    """
    marks: set[str] = set()
    for text in texts:
        match = _NUMBER.fullmatch(text.strip(_SPACES))
        if match is None or match["mark"] is None:
            continue
        if not _could_group(re.sub(_THIN, "", match["whole"]), re.sub(_THIN, "", match["part"])):
            marks.add(match["mark"])
    if marks == {","}:
        return ","
    return "." if marks == {"."} else None


def _refusal(text: str, bare: str) -> TypedValueError:
    """Say why a text is no number, with both meanings where it has two."""
    allowed = "a plain number, such as 5.98 or 5,98"
    low = re.sub(rf"[{_SPACES}]+", " ", bare.lower())
    if not low:
        return TypedValueError("nothing is written", allowed=allowed)
    said = _SAID.fullmatch(low)
    if said is not None:
        count = said["count"] or "one"
        if count in _COUNTS or (count.isdigit() and len(count) <= 4):
            return _two_meanings(text, _COUNTS.get(count) or int(count), said["word"])
    if re.fullmatch(r"[+-]?(nan|inf|infinity|none|null|n/?a|[-\u2013\u2014]+|\?+)", low):
        return TypedValueError(
            f"{quoted(text)} is no number", allowed=allowed, next_step="leave the cell empty if not known"
        )
    if re.fullmatch(r"[+-]?[0-9.,]+e[+-]?[0-9]+", low):
        return TypedValueError(f"{quoted(text)} is written with an exponent", allowed=allowed, next_step="write it out")
    if re.fullmatch(r"[+-]?0x[0-9a-f]+", low) or ("_" in low and re.fullmatch(r"[0-9][0-9_.,]*", low)):
        return TypedValueError(
            f"{quoted(text)} is a programmer's notation", allowed=allowed, next_step="write the digits only"
        )
    if re.fullmatch(r"[0-9]+( [0-9]+)?/[0-9]+", low):
        return TypedValueError(
            f"{quoted(text)} is a fraction", allowed=allowed, next_step="write it as a decimal number"
        )
    grouped = _GROUPED.fullmatch(low)
    if grouped is not None:
        plain = low.replace(grouped["group"], "").replace(",", ".")
        slip = low.replace(grouped["group"], ".", 1)
        meaning = f"{plain} (thousands '{grouped['group']}')"
        other = f" or, with a mark typed twice, a number that begins {slip[: slip.index('.') + 4]}"
        return TypedValueError(
            f"{quoted(text)} may be {meaning}{other}",
            allowed="a number without thousands separators",
            next_step=f"write {plain}" if "." in plain or plain.isdigit() else "write it with one decimal mark",
        )
    with_unit = _WITH_UNIT.fullmatch(low)
    if with_unit is not None:
        return TypedValueError(
            f"{quoted(text)} is more than a number",
            allowed=allowed,
            next_step=f"write {with_unit['number']} alone; the unit has a place of its own ({', '.join(UM_PER_UNIT)})",
        )
    return TypedValueError(f"{quoted(text)} is no number", allowed=allowed)


def _two_meanings(text: str, count: int, word: str) -> TypedValueError:
    """Refuse a trade word that means one size in an inch shop and another in a metric one."""
    n = Decimal(count)

    def inches(thousandths: Decimal) -> str:
        return f"{thousandths / 1000:.4f} in = {(thousandths * UM_PER_UNIT['thou']).normalize():f} um"

    def millimetres(um: Decimal) -> str:
        return f"{um / 1000:.2f} mm = {um:f} um"

    if word.startswith("mil"):
        meanings = f"{inches(n)} (thousandths of an inch) or {n} mm = {n * 1000} um (millimetres)"
    elif word.startswith("thou"):
        return TypedValueError(
            f"{quoted(text)} names its unit in the number's place",
            allowed="a plain number in the column's or the inspection's unit",
            next_step=f"write the number alone; it comes to {inches(n)}",
        )
    elif word.startswith("tenth"):
        meanings = f"{inches(n / 10)} (inch shop) or {millimetres(n * 100)} (metric shop)"
    else:
        meanings = f"{inches(n)} (inch shop) or {millimetres(n * 10)} (metric shop)"
    return TypedValueError(
        f"{quoted(text)} may mean {meanings}",
        allowed="a plain number in the column's or the inspection's unit",
        next_step="write which of the two is meant, as a number",
    )


def parse_integer(text: str) -> int:
    """Read a typed whole number; ``10`` and ``10.0`` but not ``10.5``; raises `TypedValueError`."""
    typed = parse_number(text, decimal_mark=None)
    if typed.value != typed.value.to_integral_value():
        raise TypedValueError(f"{quoted(text)} is not whole", allowed="a whole number")
    return int(typed.value)


def parse_unit(text: str) -> Unit:
    """Read the unit of an inspection or a gauge.

    Raises
    ------
    TypedValueError
        For anything but ``mm``, ``in``, ``thou``, ``tenth-thou`` and other ways of writing these (``inch``, ``"``);
        "tenth" and "mil" with both their meanings.
    """
    unit = unit_or_none(text)
    if unit is not None:
        return unit
    allowed = ", ".join(UM_PER_UNIT)
    name = text.strip(_SPACES).lower().rstrip(".")
    if name in {"mil", "mils"}:
        raise TypedValueError(
            f"{quoted(text)} may mean 0.001 in = 25.4 um (a thousandth of an inch) or 1 mm = 1000 um (a millimetre)",
            allowed=allowed,
            next_step="write thou or mm",
        )
    if name in {"tenth", "tenths", "ten"}:
        raise TypedValueError(
            f"{quoted(text)} may mean 0.0001 in = 2.54 um (inch shop) or 0.1 mm = 100 um (metric shop)",
            allowed=allowed,
            next_step="write tenth-thou, or convert to mm",
        )
    raise TypedValueError(f"{quoted(text)} is no unit known here", allowed=allowed, next_step="write one of these")


def without_unit(text: str, unit: Unit | Literal["um"]) -> str:
    """Take a unit off the end of a typed number where it is the one that the number's place has anyway.

    Parameters
    ----------
    text : str
        As typed: ``5.98``, ``5.98 mm``, ``0.2354"``.
    unit : {"mm", "in", "thou", "tenth-thou", "um"}
        The unit of its place.

    Returns
    -------
    str
        The number alone; the text itself where no unit stands behind a number.

    Raises
    ------
    TypedValueError
        Where another unit stands there, with what the number comes to in the right one.
    """
    match = _WITH_UNIT.fullmatch(text.strip(_SPACES).replace("\u2212", "-").lower())
    if match is None:
        return text
    said = "um" if match["unit"] in _MICROMETRES else unit_or_none(match["unit"])
    if said is None:
        return text
    if said == unit:
        return text.strip(_SPACES)[: len(match["number"])]
    um = {"um": Decimal(1)} | {str(name): um for name, um in UM_PER_UNIT.items()}
    comes_to = parse_number(match["number"]).value * um[said] / um[unit]
    raise TypedValueError(
        f"{quoted(text)} bears the unit {said} where its place has {unit}",
        allowed=f"a number in {unit}",
        next_step=f"write {round(comes_to, 5).normalize():f}, or correct the unit",
    )


def parse_size(text: str, unit: Unit, *, decimal_mark: DecimalMark | None = None) -> TypedSize:
    """Read a measured size, such as a spline width, in the unit of its inspection.

    Parameters
    ----------
    text : str
        As typed.
    unit : {"mm", "in", "thou", "tenth-thou"}
        Unit said on the inspection.
    decimal_mark : {".", ","}, optional
        See `parse_number`.

    Returns
    -------
    TypedSize

    Raises
    ------
    TypedValueError
        Not a number, negative or zero, or over 200 mm. Whether it fits the pattern is the caller's question.
    """
    typed = parse_number(without_unit(text, unit), decimal_mark=decimal_mark)
    if not 0 < um_exact(typed.value, unit) <= 200_000:
        raise TypedValueError(f"{quoted(text)} {unit} is no size of a shaft", allowed="a size over 0 and up to 200 mm")
    return TypedSize(
        text=text,
        unit=unit,
        tenths=tenths_from_typed(typed.value, unit),
        decimals=typed.decimals,
        resolution_um=float(um_exact(typed.resolution, unit)),
    )


def text_of_number(value: float) -> str:
    """Write a number from a spreadsheet cell as it was most likely typed: 12 digits, no exponent, no trailing zeros."""
    text = f"{Decimal(f'{value:.12g}'):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
