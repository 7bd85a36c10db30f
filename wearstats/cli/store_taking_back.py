"""The commands that take back what was added, and put names right: undo, retract, rename, merge.

They are registered beside the commands that fill the store, in `wearstats.cli.store`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from wearstats.cli.running.options import OF_A_DAY, Options, day_of_writing, takes_shared_options
from wearstats.cli.running.output import print_document, print_note, print_sentences
from wearstats.cli.running.progress import at_a_terminal
from wearstats.errors import UsageError

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping, Sequence

    from wearstats.store.database.connection import Store
    from wearstats.store.names.near import LookAlike
    from wearstats.store.taking_back.report import TakenBack

Because = Annotated[
    str | None, typer.Option("--because", metavar="TEXT", help="Why; kept with it.", show_default=False)
]
WithAll = Annotated[bool, typer.Option("--with-all", help="Take back what rests on it too.", show_default=False)]
Kind = Annotated[str, typer.Argument(metavar="KIND", help="shafts, hubs or measurers.")]


@takes_shared_options(OF_A_DAY)
def undo(
    *,
    intake: Annotated[
        str, typer.Argument(metavar="INTAKE", help="Its number, as store info lists it, or the file that it brought.")
    ],
    because: Because = None,
    with_all: WithAll = False,
    options: Options,
) -> None:
    """Take back a whole intake: a file, a correction, a merging, or an undo itself.

    What it brought goes, what it had corrected is as before, and rows kept out that it had mended are open again. All
    of it stays in the history: an earlier day is answered as it was. Where later intakes rest on it they are named,
    and nothing is done unless --with-all is said.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.store.taking_back.undo import intake_named
    from wearstats.store.taking_back.undo import undo as take_back

    on = day_of_writing(options)
    with open_store(options.store, write=True, on_wait=print_note) as store:
        number = intake_named(store, intake)
        report = take_back(store, number, on=on, because=because, with_all=with_all)
    _print(report, f"Intake {number} is taken back", options)


@takes_shared_options(OF_A_DAY)
def retract(
    *,
    table: Annotated[str, typer.Argument(metavar="TABLE", help="The row's table, for instance inspections.")],
    key: Annotated[
        list[str], typer.Argument(metavar="KEY...", help="The row's key, for instance F0012 2026-03-01 of follow_ups.")
    ],
    instead: Annotated[
        list[str] | None,
        typer.Option(
            "--instead",
            metavar="COLUMN=VALUE",
            help="Put the row in again under this day or name of its key; may be given several times.",
        ),
    ] = None,
    because: Because = None,
    with_all: WithAll = False,
    options: Options,
) -> None:
    """Take out one row: an inspection with its readings, a fitting, a shaft, a single reading.

    It stays in the history, and an old file does not bring it back unless it is added with --again. A wrong day in a
    key is put right with --instead. Where other rows rest on it they are counted, and nothing is done unless
    --with-all is said.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.store.taking_back.retract import retract as take_out

    on = day_of_writing(options)
    changed = _changed(instead or [])
    with open_store(options.store, write=True, on_wait=print_note) as store:
        report = take_out(store, table, key, on=on, because=because, instead=changed, with_all=with_all)
    _print(report, f"{table} {' '.join(key)}: retracted", options)


@takes_shared_options(OF_A_DAY)
def rename(
    *,
    kind: Kind,
    old: Annotated[str, typer.Argument(metavar="OLD", help="The name that it has.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="The name that it shall have.")],
    because: Because = None,
    options: Options,
) -> None:
    """Give a shaft, a hub or a measurer another name.

    All its rows stand under the new name from today; files under the old name still count for it, once.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.store.taking_back.rename import rename as name_anew

    on = day_of_writing(options)
    with open_store(options.store, write=True, on_wait=print_note) as store:
        report = name_anew(store, kind, old, new, on=on, because=because)
    _print(report, f"{old} is {new.strip()} now", options)


@takes_shared_options(OF_A_DAY)
def merge(
    *,
    kind: Kind,
    name: Annotated[str, typer.Argument(metavar="NAME", help="The name that goes.")],
    into: Annotated[str, typer.Argument(metavar="INTO", help="The name that stays.")],
    because: Because = None,
    options: Options,
) -> None:
    """State that two names mean the same shaft, hub or measurer.

    Where both have a row of one key, it must be the same; what the one that stays does not say of itself is taken from
    the other. Files under the other name count for it from then on. Taking the intake back parts them again.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.store.taking_back.rename import merge as take_for_one

    on = day_of_writing(options)
    with open_store(options.store, write=True, on_wait=print_note) as store:
        report = take_for_one(store, kind, name, into, on=on, because=because)
    _print(report, f"{name} stands for {into} now", options)


def ask_whether_same(store: Store, alike: Sequence[LookAlike], *, on: datetime.date) -> list[str]:
    """Ask at a terminal whether look-alike names mean the same, and merge them where they do; else tell of them."""
    told = []
    for pair in alike:
        question = f"{pair.name!r} looks like {pair.like!r}, which is known ({pair.kind})"
        if at_a_terminal() and typer.confirm(f"{question}: are they the same?", default=False, err=True):
            from wearstats.store.taking_back.rename import merge as take_for_one

            report = take_for_one(store, pair.kind, pair.name, pair.like, on=on, because="look alike")
            told.append(f"{pair.name} stands for {pair.like} now (intake {report.intake})")
        else:
            told.append(f"{question}: if they are the same: {pair.same}")
    return told


def _changed(instead: list[str]) -> dict[str, str]:
    parts = [text.partition("=") for text in instead]
    if wrong := [
        text for text, (name, mark, value) in zip(instead, parts, strict=True) if not (name and mark and value)
    ]:
        raise UsageError(f"--instead: {wrong[0]!r} is no column with a value; say it like seen_on=2026-03-02")
    return {name.strip(): value.strip() for name, _, value in parts}


def _print(report: TakenBack, head: str, options: Options) -> None:
    from wearstats.store.cache.entries import clear_cache

    # kept answers would go on naming what is gone
    clear_cache(options.store)
    if options.as_json:
        print_document(f"store {report.kind}", report, as_of=options.as_of)
    else:
        rows = [f"{head} (intake {report.intake}): {_counted(report.out)} no longer as they stood."]
        if report.back:
            rows.append(f"In their place: {_counted(report.back)}.")
        if report.reopened:
            rows.append(f"Rows kept out that are open again: {report.reopened}.")
        if report.closed:
            rows.append(f"Rows kept out that are closed with it: {report.closed}.")
        if "photos" in report.out and "photos" not in report.back:
            from wearstats.store.photos.folder import photos_folder

            rows.append(f"The files of photos stay in {photos_folder(options.store)}, since the history names them.")
        print_sentences([*rows, f"To take this back in turn: wearstats store undo {report.intake}"])
    for line in report.left_behind:
        print_note(line)


def _counted(rows: Mapping[str, int]) -> str:
    return ", ".join(f"{name} {count}" for name, count in rows.items()) or "no row"
