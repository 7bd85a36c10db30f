"""The commands that write forms: for measuring, fitting, asking how a hub is, and a notebook for the telephone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearstats.cli.running.open_store import opened_for_forms
from wearstats.cli.running.options import OF_A_FORM, Options, takes_shared_options
from wearstats.cli.running.output import print_document, print_note, print_sentences
from wearstats.errors import counted

if TYPE_CHECKING:
    from wearstats.report.forms.form import FollowUpForm, MeasuringForm

sheet_app = typer.Typer(help="Write forms: workbook, offline page, and paper.", rich_markup_mode=None)

Out = Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to write to; made if needed.")]
Force = Annotated[bool, typer.Option("--force", help="Overwrite what is there already.", show_default=False)]
Hubs = Annotated[list[str] | None, typer.Option("--hub", metavar="ID", help="A hub; may be given several times.")]
Batch = Annotated[str | None, typer.Option("--batch", metavar="ID", help="All hubs by number of this batch.")]
Language = Annotated[str, typer.Option("--language", metavar="NAME", help="Language of the forms.")]


@sheet_app.command()
@takes_shared_options(OF_A_FORM)
def measuring(
    *,
    shaft: Annotated[str | None, typer.Option("--shaft", metavar="ID", help="Write this shaft's number on it.")] = None,
    check_piece: Annotated[
        str | None,
        typer.Option("--check-piece", metavar="MM|NAME", help="Check piece sent with it: its size in mm, or its name."),
    ] = None,
    out: Out = Path(),
    language: Language = "en",
    force: Force = False,
    options: Options,
) -> None:
    """Write the sheet on which an owner notes the widths of a shaft.

    For its pattern, or the one named with --pattern: a workbook, a page that works on a phone without network, and a
    page to print on A4 or Letter. What comes back goes into the store with "wearstats store add".
    """
    from wearstats.report.forms.form import MeasuringForm
    from wearstats.report.forms.wording import read_wording
    from wearstats.report.forms.workbooks import measuring_book
    from wearstats.studies.forms import sheet_pattern, sheet_piece

    wording = read_wording(language)
    with opened_for_forms(options) as snapshot:
        pattern = sheet_pattern(snapshot, shaft)
        piece = None if check_piece is None else sheet_piece(snapshot, check_piece, pattern)
    form = MeasuringForm(pattern=pattern, wording=wording, shaft=shaft, piece=piece)
    _write_form("measuring", form, measuring_book(form), out, options, force=force)


@sheet_app.command(name="follow-up")
@takes_shared_options(OF_A_FORM)
def follow_up(
    *,
    fittings: Annotated[
        list[str], typer.Option("--fitting", metavar="ID", help="A fitting to ask after; may be given several times.")
    ],
    out: Out = Path(),
    language: Language = "en",
    force: Force = False,
    options: Options,
) -> None:
    """Write the sheet that asks an owner how hubs are.

    A workbook, a page that works on a phone without network, and a page to print on A4 or Letter. What comes back goes
    into the store with "wearstats store add".
    """
    from wearstats.report.forms.form import FollowUpForm
    from wearstats.report.forms.wording import read_wording
    from wearstats.report.forms.workbooks import follow_up_book
    from wearstats.studies.forms import sheet_fittings

    wording = read_wording(language)
    with opened_for_forms(options) as snapshot:
        asked = sheet_fittings(snapshot, fittings)
    form = FollowUpForm(fittings=asked, wording=wording)
    _write_form("follow-up", form, follow_up_book(form), out, options, force=force)


@sheet_app.command()
@takes_shared_options(OF_A_FORM)
def fitting(
    *,
    shaft: Annotated[str, typer.Option("--shaft", metavar="ID", help="The shaft.")],
    hub: Annotated[str, typer.Option("--hub", metavar="ID", help="The hub that goes on it.")],
    pdf: Annotated[bool, typer.Option("--pdf", help="Write it as PDF too; needs wearstats[pdf].")] = False,
    out: Out = Path(),
    language: Language = "en",
    force: Force = False,
    options: Options,
) -> None:
    """Write the sheet by which a hub is fitted to a shaft.

    Which splines should bind first, about how much has to come off, a grid to tick what bears, when to stop, what to
    write down, and what to beware of: a page to print on A4 or Letter. The ticks go into the store as the counts of
    sides that bear; "wearstats shaft" then sets them against what was predicted.
    """
    from wearstats.report.forms.fitting import fitting_page, fitting_stem
    from wearstats.report.forms.fitting_pdf import fitting_pdf
    from wearstats.report.forms.pages import PAPERS
    from wearstats.report.forms.wording import read_wording
    from wearstats.report.page.pdf import need_pdf
    from wearstats.studies.shaft.fitting_sheet import study_fitting_sheet

    wording = read_wording(language)
    if pdf:
        need_pdf()
    with opened_for_forms(options) as snapshot:
        sheet = study_fitting_sheet(snapshot, shaft, hub)
    stem = fitting_stem(sheet)
    pages = {f"{stem}-{paper.lower()}.html": fitting_page(sheet, wording, paper=paper).encode() for paper in PAPERS}
    if pdf:
        pages |= {f"{stem}-{paper.lower()}.pdf": fitting_pdf(sheet, wording, paper=paper) for paper in PAPERS}
    _write_files("fitting", pages, out, options, force=force)


@sheet_app.command()
@takes_shared_options(OF_A_FORM)
def gauging(
    *,
    hubs: Hubs = None,
    batch: Batch = None,
    out: Out = Path(),
    language: Language = "en",
    force: Force = False,
    options: Options,
) -> None:
    """Write the sheet on which the shop gauges its own hubs, space by space.

    Each space at its mouth and at its nut face: a workbook, a page a hub that works on a phone without network, and a
    page to print on A4 or Letter. What comes back goes into the store with "wearstats store add"; from then on the
    mean of the newest gauging is the hub's size in every answer.
    """
    from wearstats.report.forms.form import GaugingForm
    from wearstats.report.forms.gauging import gauging_pages, gauging_paper
    from wearstats.report.forms.pages import PAPERS
    from wearstats.report.forms.wording import read_wording
    from wearstats.report.forms.workbooks import gauging_book
    from wearstats.studies.forms import sheet_hubs, sheet_names

    wording = read_wording(language)
    with opened_for_forms(options) as snapshot:
        form = GaugingForm(hubs=sheet_hubs(snapshot, hubs or [], batch), wording=wording, batch=batch)
        gauges = sheet_names(snapshot).names.get("gauges", ())
    files = {f"{form.stem}.xlsx": gauging_book(form, gauges)}
    files |= {name: page.encode() for name, page in gauging_pages(form).items()}
    files |= {f"{form.stem}-{paper.lower()}.html": gauging_paper(form, paper=paper).encode() for paper in PAPERS}
    _write_files("gauging", files, out, options, force=force)


@sheet_app.command()
@takes_shared_options(OF_A_FORM)
def label(
    *,
    hubs: Hubs = None,
    batch: Batch = None,
    out: Out = Path(),
    language: Language = "en",
    force: Force = False,
    options: Options,
) -> None:
    """Write labels for hubs that were gauged.

    Number, pattern, undersize as engraved, the mean of the spaces in mm and the day: a page to print on A4 or Letter
    and to cut up.
    """
    from wearstats.report.forms.gauging import label_page
    from wearstats.report.forms.pages import PAPERS
    from wearstats.report.forms.wording import read_wording
    from wearstats.report.rendering.write_files import file_stem
    from wearstats.studies.forms import label_hubs, sheet_hubs

    wording = read_wording(language)
    with opened_for_forms(options) as snapshot:
        found = label_hubs(snapshot, hubs or [], batch)
        left = len(sheet_hubs(snapshot, hubs or [], batch)) - len(found)
    stem = file_stem("label", batch or found[0].hub, f"and-{len(found) - 1}-more" if not batch and found[1:] else None)
    pages = {f"{stem}-{paper.lower()}.html": label_page(found, wording, paper=paper).encode() for paper in PAPERS}
    _write_files("label", pages, out, options, force=force)
    if left:
        print_note(f"{counted(left, 'hub')} of batch {batch} left out: not gauged by space and end, or changed since")


@sheet_app.command()
@takes_shared_options(OF_A_FORM)
def book(
    *,
    out: Out = Path(),
    language: Language = "en",
    force: Force = False,
    options: Options,
) -> None:
    """Write a notebook for the telephone.

    One workbook, notebook.xlsx, a sheet a table, with drop-downs. Add it to the store as often as you like: rows that
    are there already are counted as such.
    """
    from wearstats.report.forms.wording import read_wording
    from wearstats.report.forms.workbooks import note_book
    from wearstats.studies.forms import sheet_names

    wording = read_wording(language)
    with opened_for_forms(options) as snapshot:
        names = sheet_names(snapshot)
    _write_files("book", {"notebook.xlsx": note_book(names, wording)}, out, options, force=force)


def _write_form(
    name: str, form: MeasuringForm | FollowUpForm, workbook: bytes, out: Path, options: Options, *, force: bool
) -> None:
    """Write a form in each of its shapes."""
    from wearstats.report.forms.pages import PAPERS, form_page, print_page

    files = {f"{form.stem}.xlsx": workbook, f"{form.stem}.html": form_page(form).encode()}
    files |= {f"{form.stem}-{paper.lower()}.html": print_page(form, paper=paper).encode() for paper in PAPERS}
    _write_files(name, files, out, options, force=force)


def _write_files(name: str, files: dict[str, bytes], out: Path, options: Options, *, force: bool) -> None:
    """Write all files, or none; say what was written."""
    from wearstats.report.rendering.write_files import write_all

    write_all(out, files, force=force)
    written = [{"file": str(out / file), "bytes": len(content)} for file, content in files.items()]
    if options.as_json:
        print_document(f"sheet {name}", {"files": written}, as_of=options.as_of)
    else:
        print_sentences(f"{item['file']}: {item['bytes']} bytes" for item in written)
