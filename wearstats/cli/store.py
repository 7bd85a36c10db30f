"""The commands that make and fill the store: new, add, rejects, info."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearstats.cli.running.exit_codes import INPUT
from wearstats.cli.running.options import (
    OF_A_DAY,
    OF_THE_STORE,
    Options,
    day_of_writing,
    parse_as_of,
    takes_shared_options,
)
from wearstats.cli.running.output import print_document, print_note, print_sentences
from wearstats.cli.store_contents import contents_sentences
from wearstats.cli.store_photos import photo
from wearstats.cli.store_taking_back import ask_whether_same, merge, rename, retract, undo
from wearstats.cli.store_upkeep import Force, backup, check, columns, export, kept_sentences, restore
from wearstats.errors import UsageError, counted

if TYPE_CHECKING:
    import pandas as pd

    from wearstats.store.intake.reports import IntakeReport

store_app = typer.Typer(help="Keep the store: make it, add files, check it, save it.", rich_markup_mode=None)

Table = Annotated[str | None, typer.Option("--table", metavar="TABLE", help="The table that the rows belong to.")]


@store_app.command()
@takes_shared_options(OF_THE_STORE)
def new(*, force: Force = False, options: Options) -> None:
    """Make an empty store."""
    from wearstats.store.cache.entries import clear_cache
    from wearstats.store.database.connection import create_store

    kept = create_store(options.store, force=force)
    clear_cache(options.store)
    if options.as_json:
        print_document("store new", {"store": options.store, "kept": kept}, as_of=options.as_of)
    else:
        print_sentences(kept_sentences(kept))
        print_sentences([f"{options.store} is made. Add files to it with: wearstats store add FILES"])


@store_app.command()
@takes_shared_options(OF_A_DAY)
def add(
    *,
    files: Annotated[
        list[str] | None, typer.Argument(metavar="FILES", help="Files, in any order; - reads pasted text.")
    ] = None,
    table: Table = None,
    correct: Annotated[
        bool, typer.Option("--correct", help="Let rows replace those in the store that have the same key.")
    ] = False,
    again: Annotated[
        bool, typer.Option("--again", help="Let rows come in again that were retracted.", show_default=False)
    ] = False,
    history: Annotated[
        bool,
        typer.Option("--history", help="What happened counts as known from its own date on, as in a first load."),
    ] = False,
    complete_to: Annotated[
        datetime.date | None,
        typer.Option(
            "--complete-to",
            metavar="DATE",
            parser=parse_as_of,
            help="With this, what became of hubs is complete up to that day; alone, if nothing happened.",
        ),
    ] = None,
    options: Options,
) -> None:
    """Add files of readings, hubs, fittings and what became of them.

    CSV, XLSX (a sheet a table), Parquet, text, or a mail. The name of the file or sheet says which table it is. All
    files together are one intake. Rows that cannot be right are kept out and told; ends with exit code 3 if there are
    any.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.store.intake.add import add_files

    files = files or []
    if not files and complete_to is None:
        raise UsageError("FILES: none given; say which files, - for pasted text, or --complete-to DATE")
    text = _pasted() if "-" in files else None
    paths = [Path(file) for file in files if file != "-"]
    on = day_of_writing(options)
    with open_store(options.store, write=True, on_wait=print_note) as store:
        report = add_files(
            store,
            paths,
            table=table,
            added_on=on,
            correct=correct,
            again=again,
            text=text,
            bulk=history or None,
            complete_to=complete_to,
        )
        same = ask_whether_same(store, report.alike, on=on)
    if options.as_json:
        print_document("store add", report, as_of=options.as_of)
    else:
        stated = [f"Taken down: what became of hubs is complete up to {complete_to}."] if complete_to else []
        print_sentences([*_intake_sentences(report), *stated])
    for note in [*same, *report.notes, *(problem for file in report.files for problem in file.problems)]:
        print_note(note)
    if report.kept_out:
        print_note(f"{counted(report.kept_out, 'row')} kept out; list them with: wearstats store rejects")
        raise typer.Exit(INPUT)


@store_app.command()
@takes_shared_options(OF_THE_STORE)
def rejects(
    *,
    numbers: Annotated[list[int] | None, typer.Argument(metavar="N", help="These only, by their numbers.")] = None,
    table: Table = None,
    settled: Annotated[
        bool, typer.Option("--settled", help="List those too that have come in since, or were dismissed.")
    ] = False,
    dismiss: Annotated[
        bool, typer.Option("--dismiss", help="Close them unmended: those given, or all; nothing is deleted.")
    ] = False,
    because: Annotated[
        str,
        typer.Option("--because", metavar="TEXT", help="Why they are dismissed; kept with them.", show_default=False),
    ] = "no reason given",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="PATH", help="Write them to a .csv file, or to a folder.")
    ] = None,
    force: Force = False,
    options: Options,
) -> None:
    """List the rows kept out, and why.

    With --out they are written as CSV, each with its reason: mend them there and add the file again. A row that comes
    in mended closes its reject; --dismiss closes what nobody will mend.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.store.kept_out.files import dismiss_rejects, export_rejects, list_rejects

    with open_store(options.store, write=dismiss, on_wait=print_note) as store:
        if dismiss:
            closed = dismiss_rejects(store, numbers or (), on=options.as_of, because=because, table=table)
            print_note(f"{len(closed)} dismissed ({because}); list them with: wearstats store rejects --settled")
        found = list_rejects(store, table=table, settled=settled)
        found = found[found["reject"].isin(numbers)] if numbers and not dismiss else found
        written = export_rejects(store, out, table=table, force=force) if out is not None else {}
    if options.as_json:
        print_document("store rejects", {"rejects": found, "written": written}, as_of=options.as_of)
    elif out is None:
        print_sentences(_reject_sentences(found) or ["No rows are kept out."])
    else:
        print_sentences(
            [f"{place}: {counted(rows, 'row')}" for place, rows in written.items()] or ["No rows are kept out."]
        )


@store_app.command()
@takes_shared_options(OF_A_DAY)
def info(
    *,
    update: Annotated[
        bool, typer.Option("--update", help="Bring a store of an older program up to date; a copy of it is kept.")
    ] = False,
    names: Annotated[
        bool, typer.Option("--names", help="Say which names look alike, and which stand for others.")
    ] = False,
    options: Options,
) -> None:
    """Say what the store holds."""
    from wearstats.store.archive.contents import names_held, store_contents
    from wearstats.store.database.connection import open_store

    with open_store(options.store, write=update, on_wait=print_note) as store:
        contents = names_held(store) if names else store_contents(store, as_of=options.as_of)
    if options.as_json:
        print_document("store info", contents, as_of=options.as_of)
    else:
        print_sentences(contents_sentences(contents))


def _pasted() -> str:
    """Read what is pasted or piped in."""
    from wearstats.store.parsing.scan import as_pasted

    return as_pasted(sys.stdin)


def _intake_sentences(report: IntakeReport) -> list[str]:
    lines = [
        f"{file.file}, {file.table}: {file.read} read, {file.accepted} accepted, {file.duplicate} duplicate, "
        f"{file.conflict} in conflict, {file.rejected} rejected"
        for file in report.files
    ]
    if report.settled:
        lines.append(
            f"{counted(report.settled, 'row')} kept out earlier {'has' if report.settled == 1 else 'have'} now come in"
        )
    if report.bulk:
        lines.append("First load of an empty store, or --history: what happened counts as known from its own date on.")
    return lines


def _reject_sentences(found: pd.DataFrame) -> list[str]:
    from wearstats.store.kept_out.files import problem_of

    return [
        f"{row['reject']} ({row['table']}, {row['outcome']}) {problem_of(row)}"
        + "".join(f"\n    {line}" for line in str(row["more"]).splitlines())
        + ("" if row["dismissed_because"] is None else f"\n    dismissed: {row['dismissed_because']}")
        for row in found.to_dict("records")
    ]


for registered in (photo, undo, retract, rename, merge, columns, check, backup, restore, export):
    store_app.command()(registered)
