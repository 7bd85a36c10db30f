"""What the words of a mail say of a measured shaft: whose it is, when, by whom, with what, in which unit.

Every reader here finds what can mean one thing only, and leaves the rest to be asked for.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass, field

from wearstats.domain.tables import GAUGE_KINDS, TABLES
from wearstats.domain.tolerances.standard_splines import DESIGNATION_IN_TEXT, designation_of
from wearstats.domain.typed import TypedValueError
from wearstats.domain.units import unit_or_none
from wearstats.domain.words import gauge_kind

COLUMNS = {column.name for table in TABLES for column in table.columns} | {"remark"}
_OTHER_NAMES = {
    "by": "measured_by",
    "measured": "measured_on",
    "measurer": "measured_by",
    "micrometer": "kind",
    "size": "pattern",
    "splines": "pattern",
    "units": "unit",
}
_LINE = re.compile(r"\s*(?P<name>[A-Za-z][A-Za-z_0-9 ]{0,30}?)\s*[:=]\s*(?P<value>\S.*?)\s*")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = r"(?P<month>jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_DATES = (
    re.compile(r"(?P<iso>\b[0-9]{4}-[0-9]{2}-[0-9]{2}\b)"),
    re.compile(rf"\b(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th)?\.?\s+(?:of\s+)?{_MONTH},?\s+(?P<year>[0-9]{{4}})\b", re.I),
    re.compile(rf"\b{_MONTH}\s+(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th)?,?\s+(?P<year>[0-9]{{4}})\b", re.I),
    re.compile(r"(?<![0-9.])(?P<other>[0-9]{1,2}[./][0-9]{1,2}[./](?:[0-9]{4}|[0-9]{2}))(?![0-9])"),
)
_MEASURED = re.compile(r"\b(?:measured|measurements?|taken|read|readings?|gauged)\b[^.\n]{0,40}$", re.I)
_SHAFT = re.compile(
    r"\bshafts?(?:\s+(?:no\.?|nr\.?|number|id|called|named|is))?\s*[:#=]?\s*[\"'\u201c\u201d\u2018]?"
    r"(?P<value>[^\W_][\w./-]*)",
    re.I,
)
_PATTERN = re.compile(r"\bpattern(?:\s+is)?\s*[:=]?\s*[\"'\u201c]?(?P<value>[^\W_][\w./-]*)", re.I)
_BY = re.compile(
    r"\bby\s+(?:me,?\s+)?(?!(?:Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)day)"
    r"(?P<value>[^\W\d_a-z][\w'\u2019-]*(?:[ ][^\W\d_a-z][\w'\u2019-]*)?|owner[ -]\w+)"
)
_GAUGE = re.compile(
    r"(?P<value>\b(?:(?:flat|blade|ball)\w*[ -](?:\w+[ -])?)?(?:outside[ -])?(?:micromet(?:er|re)s?|mics?|mikes?)\b"
    r"(?:[ -](?:flat|blade|ball)\b|\s+with\s+(?:flat|blade|ball)\w*)?|\bcall?ipers?\b|\bvernier\b)",
    re.I,
)
_RESOLUTION = re.compile(
    r"\b(?:resolution|reads?\s+to|graduat\w+|to\s+the\s+nearest|divisions?|steps?)\b[^0-9\n]{0,12}"
    r"(?P<value>[0-9]*[.,][0-9]+)(?:\s*(?:mm|inch|in)\b)?",
    re.I,
)
_UNIT = re.compile(r"(?<![0-9])(?<![0-9] )\b(?P<value>mm|millimet(?:er|re)s?|inch(?:es)?|thou)\b", re.I)
_WHOLE = r"(?<![0-9.,'])(?<![0-9] )(?P<value>[0-9]{1,6})"
_HOURS = (
    re.compile(rf"{_WHOLE}\s*(?:running|engine|service)\s+(?:hours|hrs|h)\b", re.I),
    re.compile(
        rf"\b(?:runs?|ran|running|engine|counter|meter|clock)\b[^0-9\n]{{0,25}}{_WHOLE}\s*(?:hours|hrs|h)\b", re.I
    ),
)
_REGISTER = re.compile(r"\bregister\b[^0-9\n]{0,15}(?P<value>[0-9]+[.,][0-9]+)", re.I)
_MAJOR = re.compile(r"\bmajor\b[^0-9\n]{0,20}(?P<value>[0-9]+[.,][0-9]+)", re.I)
_INVOLUTE = re.compile(r"\binvolute\b|\bDIN\s*5480\b|\bISO\s*4156\b|\bANSI\s*B92\b", re.I)
_DAMAGE = re.compile(r"\b(?P<word>crack|chip|bruis|twist)\w*", re.I)


@dataclass(slots=True)
class Facts:
    """What a part of a mail says.

    Parameters
    ----------
    said : dict
        Column to value, as written.
    several : dict
        Columns of which more than one value is said, with those values.
    damage : str
        The word by which it speaks of damage; empty where it does not.
    involute : str
        The word by which it speaks of involute splines; empty where it does not.
    """

    said: dict[str, str] = field(default_factory=dict)
    several: dict[str, list[str]] = field(default_factory=dict)
    damage: str = ""
    involute: str = ""


def shafts_in(line: str) -> list[str]:
    """List the shafts that a line of a mail names, in their order; a name in running words holds a digit."""
    column = said_in(line)
    if column is not None:
        return [column[1]] if column[0] == "shaft" else []
    names = [match["value"].rstrip("./-") for match in _SHAFT.finditer(line)]
    return [name for name in names if any(sign.isdigit() for sign in name) and _is_name(name)]


def _is_name(text: str) -> bool:
    """Whether a text behind the word ``shaft`` is its name, and no size."""
    return designation_of(text) is None and re.fullmatch(r"[0-9]*[.,][0-9]+", text) is None


def said_in(line: str) -> tuple[str, str] | None:
    """Read a line ``column: value`` of a mail; None where it is none, or says more than that."""
    match = _LINE.fullmatch(line)
    if match is None:
        return None
    name = "_".join(match["name"].lower().split())
    value = match["value"].strip("\"'\u201c\u201d\u2018\u2019 ").rstrip(",;")
    if name in ("size", "splines") and designation_of(value) is None:
        return None
    name = _OTHER_NAMES.get(name, name)
    if name not in COLUMNS or (name != "remark" and re.search(r",\s", value)):
        return None
    if name == "gauge" and _kind(value) is not None:
        name = "kind"
    return name, value


def facts_of(lines: list[str]) -> tuple[Facts, list[str]]:
    """Read what lines of words say.

    Parameters
    ----------
    lines : list of str
        Lines without the sizes.

    Returns
    -------
    facts : Facts
    left : list of str
        What is left of each line when what was understood is taken out.
    """
    facts = Facts()
    left = list(lines)
    for at, line in enumerate(lines):
        column = said_in(line)
        if column is not None:
            _take(facts, *column)
            left[at] = ""
    text = "\n".join(left)
    if (involute := _INVOLUTE.search("\n".join(lines))) is not None:
        facts.involute = involute[0]
    for name, find in _FINDERS.items():
        found, text = find(text)
        if name not in facts.said:
            for value in found:
                _take(facts, name, value)
    if "condition" not in facts.said and (damage := _DAMAGE.search(text)) is not None:
        facts.damage = damage[0]
    return facts, text.split("\n")


def _take(facts: Facts, name: str, value: str) -> None:
    before = facts.said.setdefault(name, value)
    if before != value:
        facts.several.setdefault(name, [before]).append(value)


def _blanked(text: str, match: re.Match[str]) -> str:
    """Take a match out of a text, keeping its line ends."""
    return text[: match.start()] + re.sub(r"[^\n]", " ", match[0]) + text[match.end() :]


def _every(pattern: re.Pattern[str], text: str, *, digits: bool = False) -> tuple[list[str], str]:
    """Find the different values of a pattern, and take them out."""
    found: dict[str, None] = {}
    for match in pattern.finditer(text):
        value = match["value"].strip().rstrip("./-,")
        if digits and not any(sign.isdigit() for sign in value):
            continue
        found[value] = None
        text = _blanked(text, match)
    return list(found), text


def _find_shaft(text: str) -> tuple[list[str], str]:
    found, text = _every(_SHAFT, text, digits=True)
    return [name for name in found if _is_name(name)], text


def _find_pattern(text: str) -> tuple[list[str], str]:
    """Find the name behind the word ``pattern``, and where there is none the designations of standard sizes."""
    found: dict[str, None] = {}
    for match in DESIGNATION_IN_TEXT.finditer(text):
        found[str(designation_of(match[0]))] = None
        text = _blanked(text, match)
    named, text = _every(_PATTERN, text, digits=True)
    return named or list(found), text


def _find_day(text: str) -> tuple[list[str], str]:
    """Find the day of measuring: the one said to be it, or the only day there is."""
    days: dict[str, bool] = {}
    for pattern in _DATES:
        for match in pattern.finditer(text):
            day = _iso(match)
            days[day] = (
                days.get(day, False) or _MEASURED.search(text[max(match.start() - 90, 0) : match.start()]) is not None
            )
            text = _blanked(text, match)
    measured = [day for day, said in days.items() if said]
    return measured or list(days), text


def _iso(match: re.Match[str]) -> str:
    """Write a day in ISO form where its month stands in words; else as it stands, to be judged by the domain."""
    parts = match.groupdict()
    if (written := parts.get("iso") or parts.get("other")) is not None:
        return written
    try:
        month = _MONTHS.index(parts["month"].lower()) + 1
        return datetime.date(int(parts["year"]), month, int(parts["day"])).isoformat()
    except ValueError:
        return match[0]


def _kind(words: str) -> str | None:
    """Give the kind of gauge, or the words where they do not say which kind; None where they name no gauge."""
    try:
        return gauge_kind(words)
    except TypedValueError:
        return words


def _find_kind(text: str) -> tuple[list[str], str]:
    found, text = _every(_GAUGE, text)
    kinds = list(dict.fromkeys(kind for words in found if (kind := _kind(words)) is not None))
    return [kind for kind in kinds if kind in GAUGE_KINDS] or kinds, text


def _find_unit(text: str) -> tuple[list[str], str]:
    found, text = _every(_UNIT, text)
    return list(dict.fromkeys(unit for words in found if (unit := unit_or_none(words)) is not None)), text


def _find_hours(text: str) -> tuple[list[str], str]:
    """Find the engine's hours, which an answer "within 24 hours" does not speak of."""
    found: list[str] = []
    for pattern in _HOURS:
        more, text = _every(pattern, text)
        found += more
    return list(dict.fromkeys(found)), text


def _finder(pattern: re.Pattern[str]) -> Callable[[str], tuple[list[str], str]]:
    return lambda text: _every(pattern, text)


_FINDERS: dict[str, Callable[[str], tuple[list[str], str]]] = {
    "pattern": _find_pattern,
    "shaft": _find_shaft,
    "measured_on": _find_day,
    "measured_by": _finder(_BY),
    "resolution": _finder(_RESOLUTION),
    "kind": _find_kind,
    "unit": _find_unit,
    "hours": _find_hours,
    "register": _finder(_REGISTER),
    "major": _finder(_MAJOR),
}
"""In an order in which what one takes out is not taken for something else by the next."""
