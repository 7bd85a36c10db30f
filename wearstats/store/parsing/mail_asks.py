"""What a mail leaves open, and the line that would say it: asked for one by one, or named all at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wearstats.domain.dates import parse_date
from wearstats.domain.examples import example_said
from wearstats.domain.tables import TABLES
from wearstats.domain.tolerances.standard_splines import designation_of, iso_14
from wearstats.domain.typed import TypedValueError, parse_unit
from wearstats.domain.words import MICROMETERS, gauge_kind, which_micrometer
from wearstats.errors import InputError, Problem
from wearstats.store.database.connection import Store
from wearstats.store.names.engines import engines_named_in, patterns_of_engine
from wearstats.store.parsing.mail import Mail, MailSheet

_ALLOWED = {
    "shaft": "the name by which the shaft is known here",
    "measured_on": "the day of measuring, written YYYY-MM-DD",
    "measured_by": "a name or a number for whoever measured",
    "kind": f"{', '.join(MICROMETERS)} or caliper",
    "unit": "mm, in, thou or tenth-thou",
}
_NAMES = {"kind": "the gauge"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """Something that a mail does not say, or not so that it can mean one thing only.

    Parameters
    ----------
    column : str
        What is asked for; empty where no single line would do.
    problem : Problem
        What is said instead, what may be, and a right line.
    """

    column: str
    problem: Problem


def asks_of(mail: Mail, store: Store) -> list[Ask]:
    """List what a mail leaves open.

    Parameters
    ----------
    mail : Mail
        As read.
    store : Store
        Knows shafts, patterns and gauges already.

    Returns
    -------
    list of Ask
        In the order in which one would ask; empty where intake can take the mail.
    """
    if not mail.sheets:
        problem = Problem(
            place=mail.place,
            found="no line of it is a spline's number with its sizes",
            allowed="a line a spline: its number, then the sizes from the shoulder to the nut end",
            example="1: 6.98 6.97 6.96",
        )
        return [Ask(column="", problem=problem)]
    return [ask for sheet in mail.sheets for ask in _asks_of_sheet(sheet, mail.place, store)]


def name_engines(mail: Mail, store: Store) -> None:
    """Take an engine type of the shop's table from a mail's words, where it says neither engine nor pattern.

    Of a mail about several shafts, or a shaft on record, nothing is taken: the words may be about another one. Where
    several are named they are left to be asked about.
    """
    if len(mail.sheets) != 1:
        return
    facts = mail.sheets[0].facts
    if {"engine", "pattern"} & facts.said.keys() or _shaft_known(store, facts.said.get("shaft", "")):
        return
    named = engines_named_in(store, mail.sheets[0].words)
    if len(named) == 1:
        facts.said["engine"] = named[0]
    elif named:
        facts.several["engine"] = named


def _asks_of_sheet(sheet: MailSheet, place: str, store: Store) -> list[Ask]:
    said, several = sheet.facts.said, sheet.facts.several
    shaft = said.get("shaft")
    where = f"{place}, shaft {shaft}" if shaft else place
    asks = []

    def ask(name: str, found: str, allowed: str = "", example: str = "") -> None:
        problem = Problem(
            place=f"{where}, {name}",
            found=found,
            allowed=allowed or _ALLOWED.get(name, ""),
            example=example or example_said([name], TABLES),
        )
        asks.append(Ask(column=name, problem=problem))

    if sheet.facts.involute:
        allowed = "straight-sided splines: the width of each across its two flanks"
        problem = Problem(
            place=f"{where}, pattern",
            found=f"'{sheet.facts.involute}' names involute splines, which cannot be kept here",
            allowed=allowed,
            example="pattern: 8x36x40",
        )
        return [Ask(column="", problem=problem)]
    for name in ("shaft", "pattern", "measured_on", "measured_by", "kind", "unit"):
        if len(several.get(name, ())) > 1:
            ask(name, f"{' and '.join(several[name])} are said", example=f"{name}: {several[name][0]}")
            continue
        if name == "pattern":
            if (refused := _pattern_refused(store, said, several.get("engine", []))) is not None:
                ask(name, refused.found, refused.allowed)
            continue
        if name == "kind" and "gauge" in said and _known(store, "gauges", "gauge", said["gauge"]):
            continue
        if name not in said:
            ask(name, f"{_NAMES.get(name, name)} is not said")
            continue
        try:
            _READERS.get(name, str)(said[name])
        except TypedValueError as refused:
            step = f"; {refused.next_step}" if name == "measured_on" and refused.next_step else ""
            ask(name, refused.found + step, refused.allowed)
    if not sheet.stations:
        problem = Problem(
            place=f"{where}, station",
            found="it is not said at which places along the spline the sizes were taken",
            allowed="a line above the sizes that names the places in their order",
            example="spline shoulder nut-end",
        )
        asks.append(Ask(column="", problem=problem))
    if sheet.facts.damage:
        ask(
            "condition",
            f"'{sheet.facts.damage}' is said, and a cracked shaft is not to be run",
            "sound, bruised, chipped, cracked, twisted; several with a ; between",
            "condition: cracked",
        )
    return asks


def _known(store: Store, table: str, column: str, name: str) -> bool:
    return bool(store.rows(f"select 1 from {table} where {column} = $name", {"name": name}))


def _pattern_refused(store: Store, said: dict[str, str], engines: list[str]) -> TypedValueError | None:
    """Say why the pattern must be asked for; None where it is on record, standard, or the only one there is."""
    on_record = [str(row[0]) for row in store.rows("select pattern from patterns order by 1")]
    allowed = ", ".join([*on_record[:20], "or a size of ISO 14"]) if on_record else "a size of ISO 14"
    name = said.get("pattern")
    if name is None:
        if len(on_record) == 1 or _shaft_known(store, said.get("shaft", "")):
            return None
        taken = patterns_of_engine(store, said.get("engine", ""))
        if len(taken) == 1:
            return None
        if engines:
            return TypedValueError(f"engines {' and '.join(engines)} are named", allowed=allowed)
        found = f"engine '{said['engine']}' takes {' or '.join(taken)}" if taken else "pattern is not said"
        return TypedValueError(found, allowed=allowed)
    if name in on_record:
        return None
    designation = designation_of(name)
    if designation is None:
        return TypedValueError(f"'{name}' is not on record", allowed=allowed)
    try:
        iso_14(designation)
    except InputError as refused:
        (problem,) = refused.problems
        return TypedValueError(problem.found, allowed=problem.allowed)
    return None


def _shaft_known(store: Store, name: str) -> bool:
    """Whether the store has a shaft of that name, in whatever capitals and blanks, as intake takes it."""
    bare = "lower(regexp_replace({}, '\\s', '', 'g'))"
    return bool(
        store.rows(
            f"select 1 from shafts where {bare.format('shaft')} = {bare.format('$name::varchar')}", {"name": name}
        )
    )


def _read_kind(words: str) -> str:
    kind = gauge_kind(words)
    if kind is None:
        raise which_micrometer(words)
    return kind


_READERS: dict[str, Callable[[str], object]] = {"measured_on": parse_date, "kind": _read_kind, "unit": parse_unit}
