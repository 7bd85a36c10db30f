"""A mail of words and sizes into sheets of readings, one a shaft.

    Shaft P-17, 8x36x40, measured 2026-11-20 by Jan with a flat micrometer, in mm:
    1: 6.98 6.97 6.96 / 2: 6.97 6.97 6.96

What its words say stands above the rows as though it had been written ``column: value``; each line, or part of a line,
of a spline's number and its sizes is a row. A size is never guessed: a row that cannot be read is kept as it stands,
for intake to refuse.
"""

from __future__ import annotations

import email
import email.policy
import html
import re
import statistics
from collections.abc import Mapping
from dataclasses import dataclass, field

from wearstats.domain.tables import STATIONS, TABLE_BY_NAME
from wearstats.domain.units import unit_or_none
from wearstats.store.parsing.blocks import Block, names_a_table
from wearstats.store.parsing.mail_facts import Facts, facts_of, said_in, shafts_in

MAIL_ENDINGS = ("", ".txt", ".text", ".eml")
"""How files end that may hold a mail."""

LONGEST_MAIL = 1 << 16
"""Letters of a text that may be a mail; what is longer is a table."""

_ENCODED = re.compile(r"^content-(?:transfer-encoding: *(?:base64|quoted-printable)|type: *multipart)", re.I | re.M)
_BREAKS = re.compile(r"<br\s*/?>|</(?:p|div|tr|li)>", re.I)

_SIZE = r"[0-9]*[.,][0-9]+"
_ROW = re.compile(
    r"\s*(?:(?:spline|tooth|no|nr)\.?\s*|#)?(?P<number>[0-9]{1,2})"
    r"(?: *[:)=;|\t] *|\. +|,(?=[,0-9]*\.[0-9])| +[-\u2013] +| +)"
    rf"(?P<rest>(?:[;|\t,]|[-\u2013\u2014] )*{_SIZE}.*)",
    re.I,
)
_INLINE = re.compile(rf"(?<![\w.,-])(?P<number>[0-9]{{1,2}}) *[:)=] *(?=(?:[-\u2013\u2014] )*{_SIZE})")
_UNITS = re.compile(r"(?<=[0-9])\s+(?=(?:mm|in|inch|inches|thou|\"|\u2033)(?:[\s,;/|]|$))", re.I)
_HEADER = re.compile(r"[A-Za-z][A-Za-z-]*:")
_SENT = re.compile(r"(?:date|sent):", re.I)
_STATION = re.compile(
    r"\b(?P<shoulder>shoulder)\b|\b(?P<middle>middle|centre|center)\b|\b(?P<nut>nut)(?:[ -]?end)?\b", re.I
)
_STATION_NAMES = {"shoulder": "shoulder", "middle": "middle", "nut": "nut-end"}
_SHARED = ("measured_on", "measured_by", "measured_at", "gauge", "kind", "resolution", "unit")
"""What the first shaft's part of a mail says for the others too, where they do not say it themselves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pasted:
    """A text that somebody has pasted.

    Parameters
    ----------
    text : str
        As it came.
    place : str
        How messages name it.
    said : mapping
        Columns and values that were asked for since, where it is a mail.
    is_mail : bool
        Whether it can be nothing but a mail, or sheets below the names of their tables.
    """

    text: str
    place: str = "pasted text"
    said: Mapping[str, str] = field(default_factory=dict)
    is_mail: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MailSheet:
    """What a mail says of one shaft.

    Parameters
    ----------
    facts : Facts
        What its words say.
    stations : tuple of str
        The places along the spline in the order of the sizes; empty where it cannot be told.
    rows : tuple of (int, cells)
        Line of the mail, and the spline's number with its sizes as they stand.
    assumed : str
        What was taken for granted; empty where nothing was.
    words : str
        All its words, those above the first shaft among them.
    """

    facts: Facts
    stations: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    assumed: str = ""
    words: str = ""

    def block(self) -> Block:
        """Give it as intake takes a sheet."""
        commas = not any("." in cell for _, cells in self.rows for cell in cells)
        return Block(
            table=TABLE_BY_NAME["readings"],
            headings=["spline", *self.stations],
            said=dict(self.facts.said),
            rows=[(line, list(cells)) for line, cells in self.rows],
            semicolons=commas and self.facts.said.get("unit") in ("mm", "in"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mail:
    """A mail as read.

    Parameters
    ----------
    place : str
        How messages name it.
    sheets : tuple of MailSheet
        One a shaft; none where no line of it is a row of sizes.
    notes : tuple of str
        What was not read.
    """

    place: str
    sheets: tuple[MailSheet, ...]
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Part:
    """The lines of a mail that belong to one shaft."""

    numbers: list[int]
    words: list[str]
    rows: list[tuple[int, tuple[str, ...]]]


def read_mail(text: str, *, place: str, said: Mapping[str, str] | None = None) -> Mail:
    """Read a mail.

    Parameters
    ----------
    text : str
        As plain text, without what a telephone does to it.
    place : str
        How messages name it.
    said : mapping, optional
        Columns and values that were asked for since; they go before what the mail says.
    """
    lines = _without_headers(re.split("\r\n|\n|\r", text))
    common, *parts = _parts(lines)
    sheets: list[MailSheet] = []
    notes: list[str] = []
    for part in parts:
        if not part.rows:
            notes += _unread(place, part.numbers, part.words)
            continue
        facts, left = facts_of(common.words + part.words)
        numbers = common.numbers + part.numbers
        for name, value in (said or {}).items():
            facts.said[name] = value
            facts.several.pop(name, None)
            facts.damage = "" if name == "condition" else facts.damage
        if sheets:
            first = sheets[0].facts.said
            facts.said |= {name: first[name] for name in _SHARED if name in first and name not in facts.said}
        sheets.append(_sheet(facts, part, common.words + part.words, place))
        notes += _unread(place, numbers, left)
    return Mail(place=place, sheets=tuple(sheets), notes=tuple(dict.fromkeys(notes)))


def may_be_mail(text: str) -> bool:
    """Whether a text may be words and sizes rather than tables: it is not long, and no line of it names a table."""
    return len(text) <= LONGEST_MAIL and not names_a_table(text)


def decoded_message(text: str) -> str:
    """Give the words of a message that a mail program saved with its letters encoded; any other text as it is.

    Parameters
    ----------
    text : str
        What stands in the file.

    Returns
    -------
    str
        The subject, an empty line, and the message; its lines are counted from there.
    """
    head = re.split(r"\r?\n\r?\n", text, maxsplit=1)[0]
    if not (_HEADER.match(head) and _ENCODED.search(head)):
        return text
    message = email.message_from_string(text, policy=email.policy.default)
    body = message.get_body(("plain", "html"))
    try:
        words = "" if body is None else str(body.get_content())
    except (LookupError, ValueError):
        return text
    if body is not None and body.get_content_type() == "text/html":
        words = html.unescape(re.sub(r"<[^>]*>", "", _BREAKS.sub("\n", words)))
    return f"{message.get('subject', '')}\n\n{words}"


def _unread(place: str, numbers: list[int], lines: list[str]) -> list[str]:
    """Say which lines hold numbers that were not read."""
    return [
        f"{place}, line {number}: '{words.strip()}' was not read"
        for number, words in zip(numbers, lines, strict=True)
        if any(sign.isdigit() for sign in words)
    ]


def _without_headers(lines: list[str]) -> list[str]:
    """Blank the lines that a mail program puts above a message, but for its subject."""
    first = next((at for at, line in enumerate(lines) if line.strip()), 0)
    end = first
    while end < len(lines) and (_HEADER.match(lines[end]) or (end > first and lines[end][:1] in (" ", "\t"))):
        end += 1
    sent = any(_SENT.match(line) for line in lines[first:end])
    if not sent or any(said_in(line) for line in lines[first:end]):
        return lines
    subject = re.compile(r"subject:\s*", re.I)
    return [
        line if not first <= at < end else subject.sub("", line) if subject.match(line) else ""
        for at, line in enumerate(lines)
    ]


def _parts(lines: list[str]) -> list[_Part]:
    """Cut a mail where it comes to another shaft; what stands before the first one holds for all."""
    parts = [_Part([], [], [])]
    named = list(dict.fromkeys(shaft for line in lines for shaft in shafts_in(line)))
    current: str | None = None
    for number, line in enumerate(lines, start=1):
        words, rows = _rows_of(line)
        shafts = shafts_in(words)
        if len(named) > 1 and shafts and shafts[-1] != current:
            current = shafts[-1]
            parts.append(_Part([], [], []))
        elif len(parts) == 1 and rows and len(named) < 2:
            parts.append(_Part([], [], []))
        parts[-1].numbers.append(number)
        parts[-1].words.append(words)
        parts[-1].rows += [(number, cells) for cells in rows]
    if len(parts) > 1 and parts[0].rows:
        # sizes above the first shaft's name: whose they are has to be asked
        parts.insert(1, _Part([], [], parts[0].rows))
    return parts


def _rows_of(line: str) -> tuple[str, list[tuple[str, ...]]]:
    """Split a line into its words and its rows of sizes."""
    starts = list(_INLINE.finditer(line))
    if starts:
        ends = [start.start() for start in starts[1:]] + [len(line)]
        words = [line[: starts[0].start()]]
        rows = []
        for start, end in zip(starts, ends, strict=True):
            cells, rest = _cells(line[start.end() : end])
            rows.append((start["number"], *cells))
            words.append(rest)
        lead = re.sub(r"(?:spline|tooth|no|nr)\.?\s*$|#\s*$", "", words[0], flags=re.I)
        return " ".join([lead, *words[1:]]).rstrip(), rows
    match = _ROW.fullmatch(line)
    if match is None:
        return line, []
    cells, rest = _cells(match["rest"])
    return rest, [(match["number"], *cells)]


def _cells(text: str) -> tuple[list[str], str]:
    """Split the sizes of one spline; words without a digit behind them are no sizes."""
    text = _UNITS.sub("", text.strip().strip("/").strip())
    words = re.search(r"(?:\.?\s+|\s*\()(?=[^\W\d_]{2,}|\()(?!(?:mm|in|inch|inches|thou)\b)[^0-9]*$", text)
    rest = "" if words is None else text[words.start() :]
    sizes = (text if words is None else text[: words.start()]).rstrip(" .,;/|")
    if re.search(r"[;\t|]", sizes):
        cells = re.split(r"[;\t|]", text[: len(text) - len(rest)].rstrip(" .,/"))
    elif "/" in sizes:
        cells = sizes.split("/")
    elif "." in sizes and "," in sizes:
        cells = re.split(r"\s*,\s*|\s+", sizes)
    else:
        cells = re.split(r",\s+|\s+", sizes)
    return ["" if cell.strip() in ("-", "\u2013", "\u2014") else cell.strip() for cell in cells], rest


def _sheet(facts: Facts, part: _Part, words: list[str], place: str) -> MailSheet:
    """Make the sheet of one shaft, with what is taken for granted where nothing else is said."""
    assumed: list[str] = []
    # a row with more or fewer sizes than most have is kept as it stands, for intake to refuse
    most = statistics.mode(sorted((len(cells) - 1 for _, cells in part.rows), reverse=True)) if part.rows else 0
    stations = _stations(words, most)
    if not stations and most in (1, 3):
        stations = STATIONS if most == 3 else ("middle",)
        assumed.append(f"sizes in the order {' / '.join(stations)}")
    units = {unit_or_none(re.sub(r"[0-9.,\s]", "", cell)) for _, cells in part.rows for cell in cells[1:] if cell}
    if "unit" not in facts.said and len(units) == 1 and None not in units:
        facts.said["unit"] = str(units.pop())
    if "measured_at" not in facts.said:
        facts.said["measured_at"] = "home"
        assumed.append("measured at home")
    if "resolution" not in facts.said and "gauge" not in facts.said and part.rows:
        decimals = max(
            len(re.sub(r"[^0-9]", "", re.sub(r"^.*?[.,]", "", cell))) for _, c in part.rows for cell in c[1:]
        )
        facts.said["resolution"] = f"{10.0**-decimals:.{decimals}f}"
        assumed.append(f"a gauge that reads to {facts.said['resolution']}, as the sizes are written")
    shaft = facts.said.get("shaft", "")
    where = f"{place}, shaft {shaft}" if shaft else place
    note = f"{where}: assumed, as nothing else is said: {'; '.join(assumed)}" if assumed else ""
    return MailSheet(facts=facts, stations=stations, rows=tuple(part.rows), assumed=note, words="\n".join(words))


def _stations(lines: list[str], most: int) -> tuple[str, ...]:
    """Find the order of the sizes along the spline: the stations named in one line, or in a line ``spline a b c``."""
    for line in lines:
        found = list(dict.fromkeys(_STATION_NAMES[str(match.lastgroup)] for match in _STATION.finditer(line)))
        if most == 3 and set(found) == {"shoulder", "nut-end"}:
            found.insert(1, "middle")
        if len(found) == most > 1 or (most == 1 and len(found) == 1):
            return tuple(found)
        names = re.split(r"[\s;,|]+", line.strip())
        if names[0].lower() in ("spline", "splines") and len(names) - 1 == most and not re.search("[0-9]", line):
            return tuple(names[1:])
    return ()
