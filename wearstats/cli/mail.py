"""From a mail to an answer: read it, make the store if there is none, ask for what is missing, and keep it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearstats.cli.running.options import day_of_writing
from wearstats.cli.running.output import print_note
from wearstats.cli.running.progress import asking, at_a_terminal
from wearstats.errors import UsageError, counted

if TYPE_CHECKING:
    from wearstats.cli.running.options import Options
    from wearstats.store.database.connection import Store
    from wearstats.store.parsing.mail import Pasted


From = Annotated[
    str | None,
    typer.Option("--from", metavar="FILE", help="Read a mail and keep it first, - as pasted; it names the shafts."),
]


def named_or_mailed(named: Sequence[str], source: str | None, options: Options) -> list[str]:
    """Say which shafts to answer for: those named, or those that a mail speaks of, which is kept first."""
    if source is not None:
        return shafts_of_mail(source, named, options)
    if not named:
        raise UsageError(
            "no shaft is named; name one, for instance: wearstats shaft S-17, or give a mail with --from FILE, "
            "or ask for --all"
        )
    return list(named)


def shafts_of_mail(source: str, named: Sequence[str], options: Options) -> list[str]:
    """Keep a mail in the store, and say which shafts to answer for.

    Parameters
    ----------
    source : str
        A file, or ``-`` for what is pasted or piped in.
    named : sequence of str
        Shafts asked about; the mail must speak of them. Without any, all that it speaks of.
    options : Options
        Which store, made where there is none, and the day.

    Returns
    -------
    list of str
        The shafts, by the names under which the store knows them.

    Raises
    ------
    InputError
        When the mail leaves something open and nobody is there to be asked, or a row cannot be right. Nothing is kept
        then, and no store made.
    """
    from wearstats.store.database.connection import create_store, open_store
    from wearstats.store.intake.add import add_mail
    from wearstats.store.parsing.mail import Pasted

    on = day_of_writing(options)
    mail = _read(source)
    making = not options.store.exists()
    kept = False
    source = "pasted text" if source == "-" else Path(source).name
    if making:
        create_store(options.store)
    try:
        with open_store(options.store, write=True, on_wait=print_note) as store:
            if isinstance(mail, Pasted) and source != "pasted text" and at_a_terminal():
                mail = _asked(mail, store)
            report = add_mail(store, mail, added_on=on, shafts=named)
        kept = True
    finally:
        if making and not kept:
            options.store.unlink(missing_ok=True)
    if making:
        print_note(f"{options.store}: no store was here, so one was made")
    for note in report.notes:
        print_note(note)
    bare = {"".join(name.lower().split()) for name in named}
    shafts = [shaft for shaft in report.measured if not bare or "".join(shaft.lower().split()) in bare]
    sizes = sum(file.accepted for file in report.files if file.table == "readings")
    print_note(
        f"{source}: {counted(sizes, 'size')} kept of {', '.join(report.measured)}"
        if sizes
        else f"{source}: is in already"
    )
    return shafts


def _read(source: str) -> Pasted | Path:
    """Read a mail from a file, or what is pasted or piped in; a workbook or a table's file is read by intake."""
    from wearstats.store.parsing.mail import MAIL_ENDINGS, Pasted, decoded_message
    from wearstats.store.parsing.scan import as_pasted, checked_path, read_text, scan_text

    if source == "-":
        return Pasted(text=decoded_message(as_pasted(sys.stdin)), is_mail=True)
    path = Path(source)
    checked_path(path)
    if path.suffix.lower() not in MAIL_ENDINGS:
        return path
    return Pasted(text=decoded_message(read_text(path, scan_text(path))), place=path.name, is_mail=True)


def _asked(mail: Pasted, store: Store) -> Pasted:
    """Ask at the terminal for one missing thing after the other; an empty answer leaves it open."""
    from dataclasses import replace

    from wearstats.store.parsing.mail import may_be_mail, read_mail
    from wearstats.store.parsing.mail_asks import asks_of, name_engines
    from wearstats.store.parsing.phone_text import plain_text

    asking()
    text = plain_text(mail.text)
    while may_be_mail(text):
        read = read_mail(text, place=mail.place, said=mail.said)
        name_engines(read, store)
        open_still = [ask for ask in asks_of(read, store) if ask.column]
        # an answer would hold for all shafts of a mail
        if not open_still or len(read.sheets) > 1:
            break
        print_note(str(open_still[0].problem))
        answer = typer.prompt(open_still[0].column, default="", show_default=False, err=True).strip()
        if not answer:
            break
        mail = replace(
            mail, said={**mail.said, open_still[0].column: answer.removeprefix(f"{open_still[0].column}:").strip()}
        )
    return mail
