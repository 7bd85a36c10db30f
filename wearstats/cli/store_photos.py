"""The command that keeps photos of contact marks and damage; registered in `wearstats.cli.store`."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated

import typer

from wearstats.cli.running.exit_codes import INPUT
from wearstats.cli.running.options import OF_A_DAY, Options, day_of_writing, parse_as_of, takes_shared_options
from wearstats.cli.running.output import print_document, print_note, print_sentences
from wearstats.domain.tables import PHOTO_SHOWS
from wearstats.errors import UsageError, counted


@takes_shared_options(OF_A_DAY)
def photo(
    *,
    files: Annotated[list[Path], typer.Argument(metavar="FILES", help="Pictures: JPEG, PNG or WebP, up to 10 MB.")],
    shaft: Annotated[str, typer.Option("--shaft", metavar="ID", help="The shaft that they show, or whose hub.")],
    fitting: Annotated[str | None, typer.Option("--fitting", metavar="ID", help="The fitting that they show.")] = None,
    inspection: Annotated[
        str | None, typer.Option("--inspection", metavar="ID", help="The inspection that they belong to.")
    ] = None,
    shows: Annotated[
        str | None, typer.Option("--shows", metavar="WHAT", help=f"What they show: {', '.join(PHOTO_SHOWS)}.")
    ] = None,
    taken_on: Annotated[
        datetime.date | None,
        typer.Option("--taken-on", metavar="DATE", parser=parse_as_of, help="The day on which they were taken."),
    ] = None,
    correct: Annotated[
        bool, typer.Option("--correct", help="What is said now counts, where a picture is on record otherwise.")
    ] = False,
    options: Options,
) -> None:
    """Keep photos of contact marks or damage of a shaft or hub.

    They are copied into a folder beside the store, without place, day and whatever else a camera writes into a file,
    and shown on the shaft's page. The same picture twice is kept once. Backups take them along, anonymous exports
    never. Look whether faces, plates or names are to be seen before you keep one.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.store.keep_photos import keep_photos

    if shows is not None and shows not in PHOTO_SHOWS:
        raise UsageError(f"--shows: {shows!r}; allowed: {', '.join(PHOTO_SHOWS)}")
    on = day_of_writing(options)
    if taken_on is not None and taken_on > on:
        raise UsageError(f"--taken-on: {taken_on} is still to come on {on}; say that day or an earlier one")
    with open_store(options.store, write=True, on_wait=print_note) as store:
        kept = keep_photos(
            store,
            files,
            added_on=on,
            shaft=shaft,
            fitting=fitting,
            inspection=inspection,
            shows=shows,
            taken_on=taken_on,
            correct=correct,
        )
    report = kept.report
    if options.as_json:
        print_document("store photo", kept, as_of=options.as_of)
    else:
        told = [f"{file}: {name}" for file, name in zip(files, kept.photos, strict=True)]
        accepted = sum(file.accepted for file in report.files)
        again = len(files) - accepted - report.kept_out
        more = f"; {counted(again, 'picture')} there already" if again else ""
        print_sentences([*told, f"{counted(accepted, 'photo')} kept in {kept.folder}{more}."])
    for note in [*report.notes, *(problem for file in report.files for problem in file.problems)]:
        print_note(note)
    if report.kept_out:
        raise typer.Exit(INPUT)
