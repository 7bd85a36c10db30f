"""The commands that look after a store: check it, save it, bring it back, write it out as files.

They are registered beside the commands that fill it, in `wearstats.cli.store`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearstats.cli.running.exit_codes import FINDINGS
from wearstats.cli.running.options import OF_A_DAY, OF_THE_STORE, Options, takes_shared_options
from wearstats.cli.running.output import print_document, print_note, print_sentences
from wearstats.errors import UsageError, counted

if TYPE_CHECKING:
    from wearstats.store.archive.backup import CopyReport, RestoreReport

Force = Annotated[bool, typer.Option("--force", help="Overwrite what is there already.", show_default=False)]


@takes_shared_options(OF_A_DAY)
def check(*, options: Options) -> None:
    """List what looks wrong in the store.

    Readings that look mistyped, events in an impossible order, rows that name something that is not there, rows still
    kept out, and records unlike all others; and which records the chance of working loose hangs on most. All there is
    in the store is read first, so that a damaged disk is found. Ends with exit code 6 when there is anything to list.
    """
    from wearstats.report.loosening.record_sentences import UNLIKE_OTHERS, find_unlike
    from wearstats.store.archive.verify import read_whole
    from wearstats.store.checks import CHECKS, run_checks
    from wearstats.store.database.connection import open_store
    from wearstats.store.left_out import leave_out_impossible
    from wearstats.store.photos.folder import PHOTO_FILES, photo_findings

    checks = (*CHECKS, PHOTO_FILES, UNLIKE_OTHERS)
    with open_store(options.store, on_wait=print_note) as store:
        read_whole(store)
        findings = run_checks(store, as_of=options.as_of) + photo_findings(store)
        # only now, for what cannot be is hidden from models
        leave_out_impossible(store)
        unlike = find_unlike(store, as_of=options.as_of)
        findings += unlike.findings
    if options.as_json:
        document = {"checks": checks, "findings": findings, "moves_most": unlike.moves_most}
        print_document("store check", document, as_of=options.as_of)
    else:
        print_sentences([str(finding) for finding in findings] or [f"{len(checks)} checks made, nothing found."])
        for note in unlike.notes:
            print_note(note)
    if findings:
        print_note(f"{len(findings)} {'finding' if len(findings) == 1 else 'findings'} of {len(checks)} checks")
        raise typer.Exit(FINDINGS)


@takes_shared_options(OF_THE_STORE)
def backup(
    *,
    to: Annotated[Path, typer.Argument(metavar="FILE", help="The file to save the store in.")],
    force: Force = False,
    options: Options,
) -> None:
    """Save the whole store in another file.

    The copy holds everything, the history of corrections and the rows kept out too, and is counted against the store.
    Photos go into a folder beside it.
    """
    from wearstats.store.archive.backup import backup_store

    report = backup_store(options.store, to, force=force, on_wait=print_note)
    if options.as_json:
        print_document("store backup", report, as_of=options.as_of)
    else:
        print_sentences(
            [
                f"{options.store} is saved in {report.to}: "
                f"{counted(report.rows, 'row')} in {counted(report.tables, 'table')}{_photos(report)}.",
                *kept_sentences(report.kept),
            ]
        )


@takes_shared_options(OF_THE_STORE)
def restore(
    *,
    backup_file: Annotated[Path, typer.Argument(metavar="FILE", help="The file that a backup was saved in.")],
    force: Force = False,
    options: Options,
) -> None:
    """Bring a store back from a backup.

    A store that is there already is left alone unless --force is said; what it held beyond the backup is named, and
    its file is kept under another name. A backup of an older program is brought up to date on the way.
    """
    from wearstats.store.archive.backup import restore_store
    from wearstats.store.cache.entries import clear_cache

    report = restore_store(backup_file, options.store, force=force)
    clear_cache(options.store)
    if options.as_json:
        print_document("store restore", report, as_of=options.as_of)
    else:
        print_sentences(_restore_sentences(report))
    if report.missing:
        print_note(f"add again what is missing ({counted(len(report.missing), 'file')}); nothing counts twice")


@takes_shared_options(OF_THE_STORE)
def export(
    *,
    to: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder to write to, or with --xlsx the workbook.")],
    xlsx: Annotated[
        bool, typer.Option("--xlsx", help="Write one workbook, a sheet a table, instead of a folder of CSV files.")
    ] = False,
    anonymous: Annotated[
        bool,
        typer.Option(
            "--anonymous",
            help="Replace all names by digests and leave free text out; studies say the same but for their draws.",
        ),
    ] = False,
    key_file: Annotated[
        Path | None,
        typer.Option(
            "--key-file",
            metavar="FILE",
            help="Secret for --anonymous, so that two exports match; without it one is drawn and forgotten.",
        ),
    ] = None,
    force: Force = False,
    options: Options,
) -> None:
    """Write every table out as files.

    CSV, one file a table, as "wearstats store add" takes them: added to a new store they give the same tables. A cell
    that a spreadsheet would take for a formula has an apostrophe before it, which "store add" takes off again.
    """
    from wearstats.store.archive.export import export_folder, export_workbook
    from wearstats.store.database.connection import open_store
    from wearstats.store.photos.folder import photos_folder

    key = _secret(key_file) if anonymous else None
    if xlsx and anonymous:
        raise UsageError("--anonymous: writes a folder of CSV files; leave --xlsx out")
    with open_store(options.store, on_wait=print_note) as store:
        report = (
            export_workbook(store, to, force=force)
            if xlsx
            else export_folder(store, to, force=force, anonymous_key=key)
        )
    if options.as_json:
        print_document("store export", report, as_of=options.as_of)
    else:
        print_sentences([f"{table}: {counted(rows, 'row')}" for table, rows in report.rows.items()])
        print_sentences([f"Written to {report.to}."])
        if "photos" in report.rows:
            print_sentences(
                [f"The pictures themselves stay in {photos_folder(options.store)}: they go along with store backup."]
            )
        if report.complete_to is not None:
            print_sentences(
                [
                    f"What became of hubs was stated to be complete up to {report.complete_to}, which no file holds: "
                    f"say it again where these are added, store add --complete-to {report.complete_to}."
                ]
            )


@takes_shared_options(OF_THE_STORE)
def columns(
    *,
    table: Annotated[str | None, typer.Argument(metavar="TABLE", help="One table only.", show_default=False)] = None,
    options: Options,
) -> None:
    """List the columns of every table: which must be there, what they mean, what they take, an example each.

    Needs no store. The same list stands in data/README.md.
    """
    from wearstats.domain.tables import TABLE_BY_NAME
    from wearstats.report.words.columns import column_lines, column_rows

    if table is not None and table not in TABLE_BY_NAME:
        raise UsageError(f"{table}: names no table; {', '.join(TABLE_BY_NAME)}")
    if options.as_json:
        print_document("store columns", {"columns": column_rows(table)}, as_of=options.as_of)
    else:
        print_sentences(column_lines(table))


def _restore_sentences(report: RestoreReport) -> list[str]:
    """Say what is there now, where it ends, and what is missing."""
    held = f"{counted(report.rows, 'row')} in {counted(report.tables, 'table')}"
    lines = [f"{report.to} is as {report.source} was: {held}{_photos(report)}."]
    lines += [f"Its last files: {file}" for file in report.ends] or ["Nothing was ever added to it."]
    lines += [f"Missing now: {file}" for file in report.missing]
    if report.unread is not None:
        lines.append(
            f"What the file that was there before held beyond that cannot be told ({report.unread}): add again what "
            "was added since the last files named here; nothing counts twice."
        )
    return [*lines, *kept_sentences(report.kept)]


def _photos(report: CopyReport) -> str:
    """Say how many photos went along, and how many could not."""
    there = f", and {counted(report.photos, 'photo')} beside it" if report.photos else ""
    lacking = (
        f"; {counted(report.photos_missing, 'photo')} on record without a sound file" if report.photos_missing else ""
    )
    return there + lacking


def kept_sentences(kept: Path | None) -> list[str]:
    """Say where the file is now that was there before; nothing where there was none."""
    return [] if kept is None else [f"The file that was there before is kept as {kept}."]


def _secret(file: Path | None) -> bytes:
    """Read the secret, or draw one."""
    import secrets

    if file is None:
        return secrets.token_bytes(32)
    try:
        secret = file.read_bytes().strip()
    except OSError as refused:
        why = f"{file} cannot be read ({refused.strerror}); name a file that holds a secret"
        raise UsageError(f"--key-file: {why}") from None
    if len(secret) < 16:
        raise UsageError(f"--key-file: {file} holds {len(secret)} signs; a secret has at least 16")
    return secret
