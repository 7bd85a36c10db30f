"""The commands that answer a question about shafts and hubs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wearstats.cli.mail import shafts_of_mail
from wearstats.cli.open_store import opened
from wearstats.cli.options import Options, takes_shared_options
from wearstats.cli.output import print_document, print_note, print_sentences, print_table
from wearstats.errors import UsageError

if TYPE_CHECKING:
    from wearstats.studies.shaft.answer import ShaftStudy

question_app = typer.Typer(rich_markup_mode=None)


@question_app.command()
@takes_shared_options
def wear(*, options: Options) -> None:
    """Say how worn the shafts are.

    And how they differ, how fast they wear, and how far the measurements can be trusted.
    """
    from wearstats.report.wear.sentences import wear_sentences
    from wearstats.studies.wear.study import study_wear

    with opened(options) as snapshot:
        study = study_wear(snapshot)
    if options.as_json:
        print_document("wear", study, as_of=options.as_of)
    else:
        print_sentences(wear_sentences(study))


@question_app.command()
@takes_shared_options
def gauging(*, options: Options) -> None:
    """Say how far the measurements can be trusted.

    At home, in the workshop and with calipers; and what is worth asking an owner to measure.
    """
    from wearstats.report.gauging.sentences import gauging_sentences
    from wearstats.studies.gauging.study import study_gauging

    with opened(options) as snapshot:
        study = study_gauging(snapshot)
    if options.as_json:
        print_document("gauging", study, as_of=options.as_of)
    else:
        print_sentences(gauging_sentences(study))


@question_app.command()
@takes_shared_options
def shaft(
    *,
    shafts: Annotated[
        list[str] | None, typer.Argument(metavar="[ID…]", help="One shaft or several, by their names.")
    ] = None,
    from_file: Annotated[
        str | None,
        typer.Option("--from", metavar="FILE", help="Read a mail first and keep it, - as pasted; it names the shaft."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Write a page a shaft to this folder too.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite pages that are there.", show_default=False)] = False,
    wanted: Annotated[
        bool, typer.Option("--wanted", help="A hub is asked for, though one on it holds.", show_default=False)
    ] = False,
    full: Annotated[bool, typer.Option("--full", help="Print all that is known.", show_default=False)] = False,
    options: Options,
) -> None:
    """Say which hub to send for a shaft.

    What comes first, what would be sent then and why, and what its neighbours would cost; with --full every hub and
    method, the map of its wear, and what to beware of.
    A page, shaft-ID.html, shows it in pictures and needs no network.
    """
    from wearstats.report.shaft.answer import shaft_answer
    from wearstats.report.shaft.files import free_paths, write_shaft_page
    from wearstats.report.shaft.sentences import shaft_sentences
    from wearstats.report.shaft.tables import choices_table, map_table
    from wearstats.report.words.cautions import caution_sentences
    from wearstats.studies.demo import is_invented
    from wearstats.studies.shaft.study import study_shaft

    if not (shafts or from_file):
        raise UsageError("shaft: name a shaft, as in: wearstats shaft P-17; or give a mail with --from FILE")
    shafts = shafts_of_mail(from_file, shafts or [], options) if from_file else shafts or []
    paths = free_paths(out, shafts, force=force) if out else []
    limits: dict[str, Any] = {"horizon_months": options.horizon_months, "risk_limit": options.risk_limit}
    # a hub's number is offered to one shaft at a time
    limits |= {"wanted": wanted, "by_number": len(shafts) == 1}
    with opened(options) as snapshot:
        studies = [study_shaft(snapshot, name, **limits) for name in shafts]
        invented = bool(out) and is_invented(snapshot)
    _keep_advice(studies, options)
    for study, path in zip(studies, paths, strict=False):
        limit = options.risk_limit if options.horizon_months == 12 else None
        print_note(f"the page: {write_shaft_page(study, path, risk_limit=limit, invented=invented)}")
    if options.as_json:
        print_document("shaft", studies[0] if len(studies) == 1 else {"shafts": studies}, as_of=options.as_of)
    elif not full:
        for study in studies:
            print_sentences(shaft_answer(study))
    else:
        for study in studies:
            print_sentences([*shaft_sentences(study), ""])
            if study.choices:
                print_table(choices_table(study))
            print_table(map_table(study))
        print_sentences(caution_sentences())


def _keep_advice(studies: list[ShaftStudy], options: Options) -> None:
    """Keep today's advice in the store, so that it can be judged later; what was known earlier is not advice given."""
    from wearstats import __version__
    from wearstats.store.advice import keep_advice

    if options.as_of_given:
        return
    refused = keep_advice(options.store, [study.given(version=__version__) for study in studies])
    if refused:
        print_note(f"the advice was not kept: {refused}")


@question_app.command()
@takes_shared_options
def contact(
    *,
    fittings: Annotated[
        list[str] | None, typer.Option("--fitting", metavar="ID", help="Look at this fitting; may be given again.")
    ] = None,
    options: Options,
) -> None:
    """Say whether hubs bore where they were foretold to.

    Sets the sides that marked at a fitting, as written down from the fitting sheet, against what the widths foretold.
    """
    from wearstats.report.contact.figures import contact_table
    from wearstats.report.contact.sentences import contact_sentences, fitting_seen_sentence
    from wearstats.studies.gaps.contact import study_contact_seen

    with opened(options) as snapshot:
        study = study_contact_seen(snapshot, fittings=tuple(fittings or ()))
    if options.as_json:
        print_document("contact", study, as_of=options.as_of)
    elif study.seen is None:
        print_sentences(fitting_seen_sentence(one) for one in study.singly())
    else:
        print_sentences([*contact_sentences(study.seen), ""])
        print_table(contact_table(study.seen))


@question_app.command()
@takes_shared_options
def loosening(*, options: Options) -> None:
    """Say how long hubs stay tight.

    With the chance of working loose, allowing for owners who stay silent while the hub holds.
    """
    from wearstats.report.loosening.sentences import loosening_sentences
    from wearstats.studies.loosening.study import study_loosening

    with opened(options, second=()) as snapshot:
        study = study_loosening(snapshot, horizon_months=options.horizon_months, risk_limit=options.risk_limit)
    if options.as_json:
        print_document("loosening", study, as_of=options.as_of)
    else:
        print_sentences(loosening_sentences(study))


@question_app.command()
@takes_shared_options
def methods(*, options: Options) -> None:
    """Compare the ways in which hubs go on.

    How many worked loose as supplied, fitted by the owner and fitted in the workshop, by what was sent and by what was
    done.
    """
    from wearstats.report.methods.sentences import methods_sentences
    from wearstats.studies.methods.study import study_methods

    with opened(options) as snapshot:
        study = study_methods(snapshot, horizon_months=options.horizon_months)
    if options.as_json:
        print_document("methods", study, as_of=options.as_of)
    else:
        print_sentences(methods_sentences(study))


@question_app.command()
@takes_shared_options
def stock(
    *,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="Write what to make to FILE, .csv or .xlsx.")
    ] = None,
    options: Options,
) -> None:
    """Say which undersizes to keep.

    With what they cost a year against today's sizes, how sure that is, and how many of each to make.
    """
    from wearstats.report.stock.files import write_make_now
    from wearstats.report.stock.production_table import make_now_table
    from wearstats.report.stock.sentences import stock_sentences
    from wearstats.studies.stock.study import study_stock

    with opened(options) as snapshot:
        study = study_stock(snapshot, horizon_months=options.horizon_months, risk_limit=options.risk_limit, past=True)
    if export:
        print_note(f"written: {write_make_now(study, export)}")
    if options.as_json:
        print_document("stock", study, as_of=options.as_of)
    else:
        print_sentences([*stock_sentences(study), ""])
        for part in study.by_pattern.values():
            if part.make:
                print_table(make_now_table(part.make))
