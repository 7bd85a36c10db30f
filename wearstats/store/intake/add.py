"""Adding files to the store: one intake, one transaction, and every row of every file accounted for."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

from wearstats.domain.tables import TABLE_BY_NAME, TABLES, Table
from wearstats.errors import InputError, Problem, StoreError, UsageError
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import Store
from wearstats.store.database.failures import reason
from wearstats.store.database.intakes import begin_intake
from wearstats.store.intake.findings import findings_told
from wearstats.store.intake.generated_keys import name_unnamed, write_units_alike
from wearstats.store.intake.load_table import load_readings, load_rows
from wearstats.store.intake.parents import stage_carried
from wearstats.store.intake.patterns import settle_patterns
from wearstats.store.intake.readings import restate_readings
from wearstats.store.intake.reports import MOST_PROBLEMS_TOLD, FileReport, IntakeReport
from wearstats.store.names.aliases import GIVEN, MADE, settle_names
from wearstats.store.names.near import look_alikes
from wearstats.store.parsing.blocks import unknown_table
from wearstats.store.parsing.mail import Pasted
from wearstats.store.parsing.scan import read_by_database
from wearstats.store.parsing.staging import Staging, stage_paths


def add_files(
    store: Store,
    paths: Sequence[Path | str],
    *,
    table: str | None = None,
    added_on: datetime.date,
    correct: bool = False,
    again: bool = False,
    text: str | None = None,
    bulk: bool | None = None,
    complete_to: datetime.date | None = None,
) -> IntakeReport:
    """Add files, as one intake.

    Parameters
    ----------
    store : Store
        Open for writing.
    paths : sequence of paths
        CSV, XLSX, Parquet or text files, in any order.
    table : str, optional
        Which table they belong to; without it their names, or sheets, or first lines say so.
    added_on : datetime.date
        The day from which their rows count as known.
    correct : bool
        Whether rows with a known key and other values replace those in the store; the old ones go to the history.
    again : bool
        Whether rows that were retracted come in again; else they count as duplicates.
    text : str, optional
        Pasted text, taken like a file.
    bulk : bool, optional
        Whether this is a first load, whose events count by their own dates; without it, whether the store was empty.
    complete_to : datetime.date, optional
        The day up to which what became of hubs is complete with this intake; it may bring no file, if nothing happened.

    Raises
    ------
    InputError
        When a file as a whole cannot be taken, with every problem found; nothing is added then.
    UsageError
        When outcomes are said to be complete up to a day to come.
    StoreError
        When the store is not open for writing.
    """
    if complete_to is not None and complete_to > added_on:
        raise UsageError(f"--complete-to: {complete_to} is still to come on {added_on}; say that day or an earlier one")
    if complete_to and not (paths or text) and not store.value("select count(*) from intakes"):
        raise UsageError("--complete-to: the store is empty; add the files first, or say it with them")
    wanted = _table(table)
    pasted = None if text is None else Pasted(text=text)
    files = [Path(path) for path in paths]
    return _add(
        store, files, wanted, pasted, {}, added_on, correct=correct, bulk=bulk, again=again, complete_to=complete_to
    )


def add_mail(store: Store, mail: Pasted | Path, *, added_on: datetime.date, shafts: Sequence[str] = ()) -> IntakeReport:
    """Add a mail, or a filled-in form, whole or not at all.

    Parameters
    ----------
    store : Store
        Open for writing.
    mail : Pasted or pathlib.Path
        The mail, or a workbook or table file.
    added_on : datetime.date
        The day from which it counts as known.
    shafts : sequence of str
        Shafts that it must speak of.

    Raises
    ------
    InputError
        When something is missing or a row cannot be right, with all of it; nothing is added then.
    UsageError
        When it does not speak of one of the shafts.
    StoreError
        When the store is not open for writing.
    """
    paths, pasted = ([mail], None) if isinstance(mail, Path) else ([], mail)
    return _add(store, paths, None, pasted, {}, added_on, correct=False, bulk=None, whole=True, wanted=shafts)


def add_frames(
    store: Store,
    frames: Mapping[str, pd.DataFrame],
    *,
    added_on: datetime.date,
    correct: bool = False,
    again: bool = False,
    bulk: bool | None = None,
) -> IntakeReport:
    """Add frames, as one intake and through the same checks as files.

    Parameters
    ----------
    store : Store
        Open for writing.
    frames : mapping
        Table to a frame with the contract's columns, as texts or as values of their kind.
    added_on, correct, again, bulk
        As in `add_files`.
    """
    return _add(store, [], None, None, frames, added_on, correct=correct, again=again, bulk=bulk)


def _table(name: str | None) -> Table | None:
    if name is not None and name not in TABLE_BY_NAME:
        raise InputError(unknown_table("--table", name))
    return None if name is None else TABLE_BY_NAME[name]


def _add(
    store: Store,
    paths: Sequence[Path],
    table: Table | None,
    pasted: Pasted | None,
    frames: Mapping[str, pd.DataFrame],
    added_on: datetime.date,
    *,
    correct: bool,
    bulk: bool | None,
    again: bool = False,
    complete_to: datetime.date | None = None,
    whole: bool = False,
    wanted: Sequence[str] = (),
) -> IntakeReport:
    if not store.write:
        raise StoreError(f"{store.path}: is open for reading only; open it for writing to add to it")
    if any(read_by_database(path) for path in paths):
        store.allow_files()
    staging = stage_paths(store, paths, table=table, pasted=pasted, frames=frames)
    try:
        write_units_alike(staging)
        settle_patterns(staging)
        staging.refuse_problems()
        settle_names(staging, GIVEN)
        name_unnamed(staging)
        settle_names(staging, MADE)
        stage_carried(staging)
        store.forbid_files()
        with store.transaction():
            bulk = _is_empty(store) if bulk is None else bulk
            intake = begin_intake(store, on=added_on, files=len(staging.staged), bulk=bulk, complete_to=complete_to)
            report = load_staged(
                store, staging, intake=intake, bulk=bulk, added_on=added_on, correct=correct, again=again
            )
            if whole:
                report = replace(report, measured=_measured(store, staging))
                _refuse_parts(report, wanted)
                _refuse_ahead(store, report, added_on)
    finally:
        staging.drop()
    try:
        store.execute("checkpoint")
    except StoreError as refused:
        # all of it stands in the log since the commit: whoever opens the store next finds it there
        note = (
            f"all of this was added, but stands only in the log {store.path.name}.wal beside the store so far, since "
            f"the store itself cannot be written ({reason(refused.__cause__)}); keep both files together; once there "
            "is room, the next command that adds puts it into the store"
        )
        return replace(report, notes=(*report.notes, note))
    return report


def _measured(store: Store, staging: Staging) -> tuple[str, ...]:
    """List the shafts of whose measuring the staged rows, now in, bring word; in the order in which they stand."""
    found: list[str] = []
    for incoming in staging.staged:
        held = incoming.columns.get("inspection")
        if incoming.table.name in ("inspections", "readings") and held is not None:
            rows = store.rows(
                f"select shaft from {incoming.relation} as arrived join inspections "
                f"on inspections.inspection = trim(arrived.{held}) group by 1 order by min(arrived.rowid)"
            )
            found += [str(shaft) for (shaft,) in rows]
    return tuple(dict.fromkeys(found))


def _refuse_parts(report: IntakeReport, wanted: Sequence[str]) -> None:
    """Refuse all of a mail where part of it was kept out, or where it is of other shafts than those asked about."""
    if report.kept_out:
        told = [problem.partition(": ") for file in report.files for problem in file.problems]
        raise InputError([Problem(place=place, found=found) for place, _, found in told])
    bare = {"".join(shaft.lower().split()) for shaft in report.measured}
    if not bare:
        raise InputError(
            Problem(
                place=report.files[0].file if report.files else "mail",
                found="no shaft was measured in it",
                allowed="readings of a shaft",
                next_step="add such a file with: wearstats store add",
                example="1: 6.98 6.97 6.96",
            )
        )
    if other := [shaft for shaft in wanted if "".join(shaft.lower().split()) not in bare]:
        raise UsageError(
            f"{', '.join(other)}: the mail speaks of {', '.join(report.measured) or 'no shaft'}; "
            "leave the name out, or take the right mail; nothing was kept"
        )


def _refuse_ahead(store: Store, report: IntakeReport, added_on: datetime.date) -> None:
    """Refuse a mail of a day to come: kept, it would be counted by no answer, and be in already when mended."""
    found = run_checks(store, as_of=added_on, checks=("dated_ahead",), intake=report.intake)
    if found:
        raise InputError(
            [
                Problem(
                    place=f"{report.files[0].file}, {ahead.place}",
                    found=ahead.found,
                    allowed=f"a day up to {added_on:%Y-%m-%d}",
                    next_step="mend the day; nothing was kept",
                )
                for ahead in found[:MOST_PROBLEMS_TOLD]
            ]
        )


def load_staged(
    store: Store,
    staging: Staging,
    *,
    intake: int,
    bulk: bool,
    added_on: datetime.date,
    correct: bool,
    again: bool = False,
) -> IntakeReport:
    """Bring the staged rows into their tables, parents before those that name them.

    Parameters
    ----------
    store : Store
        In a transaction.
    staging : Staging
        What arrived, its names settled.
    intake : int
        The number of the intake, which has begun.
    bulk : bool
        Whether its events count by their own dates.
    added_on : datetime.date
        Its day.
    correct : bool
        Whether rows with a known key and other values replace those in the store.
    again : bool
        Whether rows that were retracted come in again.
    """
    notes = list(staging.notes) + _seen_before(store, staging)
    reports, settled = [], 0
    for table in TABLES:
        for incoming in [item for item in staging.staged if item.table is table]:
            load = load_readings if table.name == "readings" else load_rows
            loaded = load(store, incoming, intake=intake, correct=correct, again=again, most_told=MOST_PROBLEMS_TOLD)
            report = FileReport(
                file=incoming.file,
                table=table.name,
                read=loaded.read,
                accepted=loaded.accepted,
                duplicate=loaded.duplicate,
                conflict=loaded.conflict,
                rejected=loaded.rejected,
                problems=loaded.problems,
            )
            _account_for(store, report, intake=intake, sha256=incoming.sha256)
            reports.append(report)
            notes.extend(loaded.notes)
            settled += loaded.settled
        if table.name == "inspections":
            restate_readings(store, intake=intake)
    tables = {report.table for report in reports if report.accepted}
    notes += findings_told(store, intake=intake, bulk=bulk, added_on=added_on, tables=tables, corrected=correct)
    return IntakeReport(
        intake=intake,
        bulk=bulk,
        files=tuple(reports),
        settled=settled,
        notes=tuple(notes),
        alike=look_alikes(store, intake=intake, tables=tables),
    )


def _is_empty(store: Store) -> bool:
    """Whether no table has a row: nothing came in yet, or all of it was taken back."""
    return not store.value(f"select {' or '.join(f'exists (select 1 from {table.name})' for table in TABLES)}")


def _account_for(store: Store, report: FileReport, *, intake: int, sha256: str) -> None:
    """Write down what became of a file; a row that is in none of the four counts is our own fault."""
    if report.read != report.accepted + report.duplicate + report.conflict + report.rejected:
        raise AssertionError(f"rows do not add up: {report}")
    store.execute(
        "insert into intake_files values "
        "($intake, $file, $table, $read, $accepted, $duplicate, $conflict, $rejected, $sha256)",
        {"intake": intake, "sha256": sha256} | report.to_dict(),
    )


def _seen_before(store: Store, staging: Staging) -> list[str]:
    """Say which files were added before with the very same content."""
    notes = []
    for incoming in staging.staged:
        found = store.rows(
            "select intake, added_on, file from intake_files join intakes using (intake) "
            "where content_sha256 = $sha256 order by intake limit 1",
            {"sha256": incoming.sha256},
        )
        for number, added_on, file in found:
            notes.append(f"{incoming.file}: the same content was added as {file} on {added_on} (intake {number})")
    return list(dict.fromkeys(notes))
