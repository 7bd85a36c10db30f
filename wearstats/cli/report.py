"""The commands that write pages: the whole picture, and the same on invented data."""

from __future__ import annotations

import dataclasses
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearstats.cli.running.completion import complete_shaft
from wearstats.cli.running.open_store import opened
from wearstats.cli.running.options import OF_RISK, Options, takes_shared_options
from wearstats.cli.running.output import print_document, print_sentences
from wearstats.cli.running.progress import doing
from wearstats.errors import ReportError, UsageError

if TYPE_CHECKING:
    from wearstats.report.page.files import WantedFiles
    from wearstats.second_process import SecondProcess
    from wearstats.studies.shaft_pages import ShaftPages
    from wearstats.studies.snapshot import Snapshot

report_app = typer.Typer(rich_markup_mode=None)

_READ_AHEAD = ("wearstats.report.overview",)

STORE_NAME = "demo.duckdb"
DEMO_FOLDER = Path("wearstats-demo")

Force = Annotated[bool, typer.Option("--force", help="Overwrite what is there already.", show_default=False)]


@report_app.command()
@takes_shared_options(OF_RISK)
def demo(
    *,
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Folder to write to; made if needed.")
    ] = DEMO_FOLDER,
    force: Force = False,
    options: Options,
) -> None:
    """Show everything on invented data.

    Makes a store from the invented history that comes with the program, asks every question of it, prints the answers
    and writes the report page.
    """
    from wearstats.report.page.files import WantedFiles
    from wearstats.second_process import second_process
    from wearstats.studies.demo import demo_as_of, make_demo_store

    store, wanted = out / STORE_NAME, WantedFiles()
    _make_folder(out, store, *wanted.paths(out), force=force)
    as_of = options.as_of if options.as_of_given else demo_as_of()
    with second_process(*_READ_AHEAD) as beside:
        doing("adding the invented history")
        make_demo_store(store, force=force)
        _report("demo", out, wanted, dataclasses.replace(options, store=store, as_of=as_of), second=beside)


@report_app.command()
@takes_shared_options(OF_RISK)
def report(
    *,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to write to; made if needed.")] = Path(),
    interactive: Annotated[
        bool, typer.Option("--interactive", help="Charts in the page tell their numbers when pointed at.")
    ] = False,
    pdf: Annotated[bool, typer.Option("--pdf", help="Write report.pdf too; needs wearstats[pdf].")] = False,
    png: Annotated[bool, typer.Option("--png", help="Write every chart as a picture, in charts.")] = False,
    csv: Annotated[bool, typer.Option("--csv", help="Write every table as a CSV file, in tables.")] = False,
    shafts: Annotated[
        bool, typer.Option("--shafts", help="Write a page a shaft, an index and the list to warn too.")
    ] = False,
    only: Annotated[
        list[str] | None,
        typer.Option(
            "--shaft", metavar="ID", autocompletion=complete_shaft, help="With --shafts: only this; may be given again."
        ),
    ] = None,
    without_names: Annotated[
        bool,
        typer.Option(
            "--without-names", help="Tell owners and measurers by codes, on the page and in all else that is written."
        ),
    ] = False,
    force: Force = False,
    options: Options,
) -> None:
    """Write the whole picture as one page.

    The page, report.html, needs no network and no other file. With --shafts it stands in a folder of pages: index.html
    has all shafts that were measured or have a hub in use, to be searched without network; warn.html everybody to be
    warned; shafts a page for each.
    """
    from wearstats.report.folder.files import LINKS, folder_paths
    from wearstats.report.page.files import PAGE_NAME, WantedFiles

    if only and not shafts:
        raise UsageError(
            "--shaft: allowed with --shafts; for the page of one shaft alone say: wearstats shaft ID --out DIR"
        )
    links = tuple(link for link in LINKS if link[0] != PAGE_NAME) if shafts else ()
    wanted = WantedFiles(links=links, interactive=interactive, pdf=pdf, png=png, csv=csv)
    _make_folder(out, *wanted.paths(out), *(folder_paths(out) if shafts else ()), force=force)
    asked = tuple(only or ()) if shafts else None
    # a second process would open the store by itself, and read the names
    second = None if without_names else _READ_AHEAD
    _report("report", out, wanted, options, shafts=asked, nameless=without_names, second=second)


def _report(
    answer: str,
    out: Path,
    wanted: WantedFiles,
    options: Options,
    *,
    shafts: tuple[str, ...] | None = None,
    nameless: bool = False,
    second: tuple[str, ...] | SecondProcess | None,
) -> None:
    """Ask every question, write the page, print the answers and where the page is; a page a shaft where wanted."""
    from wearstats.report.digest import digest_lines
    from wearstats.report.folder.files import write_folder
    from wearstats.report.overview import Drawing, picture_page, picture_sentences
    from wearstats.report.page.files import PAGE_NAME, write_report
    from wearstats.store.nameless import NamelessStore
    from wearstats.studies.overview import study_picture

    with opened(options, second=second) as snapshot:
        if nameless:
            snapshot = dataclasses.replace(snapshot, store=NamelessStore(snapshot.store))
        doing("asking every question")
        drawing = Drawing(snapshot.second)
        limits = {"horizon_months": options.horizon_months, "risk_limit": options.risk_limit}
        picture = study_picture(snapshot, **limits, told=drawing.told)
        doing("drawing the page")
        page = picture_page(picture, drawing)
        # all that can be refused comes before anything is written
        asked = None if shafts is None else _asked(snapshot, shafts, limits)
        said = write_report(page, out, wanted)
        if asked is not None:
            doing("writing a page for every shaft")
            said += write_folder(asked, out, second=snapshot.second)
    if options.as_json:
        made = {"page": out / PAGE_NAME, "store": options.store, **picture.to_dict()}
        print_document(answer, made, as_of=options.as_of)
    else:
        same = f"--store {shlex.quote(str(options.store))} --as-of {options.as_of.isoformat()}"
        told = picture_sentences(picture) if options.full else digest_lines(picture, asked=same)
        print_sentences([*told, *said, f"The store: {options.store}"])


def _asked(snapshot: Snapshot, shafts: tuple[str, ...], limits: dict[str, float]) -> ShaftPages:
    """Answer for all shafts, or for some."""
    from wearstats.studies.shaft_pages import study_shaft_pages

    doing("choosing a hub for every shaft")
    return study_shaft_pages(snapshot, shafts, **limits)


def _make_folder(folder: Path, *files: Path, force: bool) -> None:
    """Make the folder, unless that would overwrite something that nobody said may go."""
    from wearstats.report.rendering.write_files import is_there

    there = [str(file) for file in files if is_there(file)]
    if there and not force:
        raise ReportError(f"{', '.join(there)}: is there already; choose another --out, or say --force to overwrite it")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as refused:
        raise ReportError(f"{folder}: cannot be made ({refused.strerror}); choose another --out") from refused
