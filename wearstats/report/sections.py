"""The sections of the page, a question each: open the verdict, a picture and a few lines; folded, how we know."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

import pandas as pd

from wearstats.report.answers import short_answers, wording
from wearstats.report.calls.table import warn_table
from wearstats.report.gauging.chart import measurers_chart, plan_chart
from wearstats.report.gauging.tables import gauges_table, measurers_table, plans_table, strays_table
from wearstats.report.loosening.curve_figures import curve_figures
from wearstats.report.loosening.gap_figures import gap_figures
from wearstats.report.methods.figures import method_figures, methods_table
from wearstats.report.page.model import Figure, Said, Section, make_figure
from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable, capital
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.review.figures import review_figures
from wearstats.report.review.returns_chart import returns_chart
from wearstats.report.review.returns_sentences import REASON_WORDS
from wearstats.report.review.tables import groups_table
from wearstats.report.shaft.history_chart import history_chart
from wearstats.report.shaft.ladder_figure import ladder_figure
from wearstats.report.shaft.map_chart import map_chart
from wearstats.report.shaft.sentences import hub_words
from wearstats.report.shaft.tables import choices_table, history_table, map_table
from wearstats.report.stock.figures import stock_figures
from wearstats.report.stock.production_table import make_now_table
from wearstats.report.wear.chart import fleet_chart
from wearstats.report.wear.growth_chart import growth_chart
from wearstats.report.wear.tables import growth_table, shares_table
from wearstats.report.words.phrases import millimetres, sentence
from wearstats.studies.counts.returns import ReturnsStudy
from wearstats.studies.gauging.study import GaugingStudy
from wearstats.studies.loosening.study import LooseningStudy
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.review.study import ReviewStudy
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.wear.answer import WearStudy

HOW_WE_KNOW: Final = "How we know"
_LINES: Final = 3


def said_of(answer: ShortAnswer, *, about: str = "", tabled: bool = True) -> Said:
    """Take what stands open on a page from a short answer: verdict, tables, and the first lines, fewer where several.

    Parameters
    ----------
    answer : ShortAnswer
        The short answer.
    about : str
        What it is about where a section has several.
    tabled : bool
        Whether its tables stand open too; not where the picture beside them has the same numbers.
    """
    lines = [sentence(part) for part in answer.body if isinstance(part, str)]
    tables = [part for part in answer.body if isinstance(part, SmallTable) and tabled]
    return Said(
        about=about,
        verdict=answer.headline[1],
        sentences=(*(sentence(table.note) for table in tables if table.note), *lines)[: _LINES - bool(about)],
        tables=tuple(_as_table(table, caption=answer.foot or answer.headline[0]) for table in tables),
        urgent=answer.urgent,
    )


def _as_table(table: SmallTable, *, caption: str) -> DataTable:
    """Print a small table on a page; the row spoken of is marked."""
    rows = [
        (f"▸ {first}" if number == table.chosen else first, *others)
        for number, (first, *others) in enumerate(table.rows)
    ]
    return DataTable(caption=caption, head=tuple(capital(word) for word in table.head), rows=tuple(rows))


def _section(
    question: str,
    result: Any,
    figures: Sequence[Figure],
    *,
    name: str = "",
    short: str,
    opening: int = 1,
    tables: Iterable[DataTable] = (),
    tabled: bool = True,
) -> Section:
    """Lay a question out: its first pictures beside the verdict, everything else folded."""
    answers = short_answers(question, result)
    several = len(answers) > 1
    asked = [answer.question.format(answer.about) for answer in answers]
    said = tuple(
        said_of(answer, about=about if several else "", tabled=tabled)
        for answer, about in zip(answers, asked, strict=True)
    )
    shown = {line for part in said for line in (part.verdict, *part.sentences)}
    name = name or question
    return Section(
        name=name,
        heading=wording(question).heading if several else asked[0],
        short=short,
        said=said,
        figures=tuple(figures[:opening]),
        more=Section(
            name=f"{name}-more",
            heading=HOW_WE_KNOW,
            sentences=tuple(line for line in wording(question).sentences(result) if line not in shown),
            figures=tuple(figures[opening:]),
            tables=tuple(tables),
        ),
    )


def wear_section(study: WearStudy) -> Section:
    """Show how worn the shafts are: the fleet over the hubs on offer."""
    fleet, sizes, laws, shares = study.fleet, study.sizes, study.laws_frame(), study.shares_frame()
    summary = fleet.groupby("pattern", sort=True)["width_um_below_new"].describe(percentiles=[0.1, 0.5, 0.9])
    rows = pd.DataFrame({"pattern": summary.index.astype(str), "count": summary["count"].astype(int).to_numpy()})
    for name in ("10%", "50%", "90%", "max"):
        rows[name] = [millimetres(um) for um in summary[name]]
    columns = {"pattern": "pattern", "count": "shafts", "10%": "a tenth below", "50%": "half below"}
    columns |= {"90%": "nine tenths below", "max": "most"}
    table = table_of(rows, caption="Spline width below new, mm, mean of each shaft", columns=columns)
    wide, narrow = (fleet_chart(fleet, sizes, laws=laws, shares=shares, width=width) for width in (WIDE, NARROW))
    figures = [make_figure("fleet", wide=wide, narrow=narrow, table=table)]
    if study.growing is not None and study.growing.shafts_again:
        points, band = study.growing.points, study.growing.band
        wide, narrow = (growth_chart(points, band, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("growth", wide=wide, narrow=narrow, table=growth_table(study.growing)))
    return _section("wear", study, figures, short="Wear", tables=[shares_table(study)] if len(shares) else [])


def gauging_section(study: GaugingStudy) -> Section:
    """Show what each way of measuring achieves; who reads too large or too small stands folded."""
    plans, measurers = study.plans_frame(), study.measurers
    step = study.size_step_um
    wide, narrow = (plan_chart(plans, size_step_um=step, width=width) for width in (WIDE, NARROW))
    figures = [make_figure("plan", wide=wide, narrow=narrow, table=plans_table(plans))]
    tables = [gauges_table(study.gauges_frame())] if study.by_gauge else []
    if len(study.strays):
        tables.append(strays_table(study.strays))
    if len(measurers):
        wide, narrow = (measurers_chart(measurers, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("measurers", wide=wide, narrow=narrow, table=measurers_table(measurers)))
    return _section("gauging", study, figures, short="Measuring", tables=tables)


def shaft_section(study: ShaftStudy) -> Section:
    """Show one shaft: the ladder of hubs; its map and history stand folded."""
    figures = [*([ladder_figure(study)] if study.choices else []), _map_figure(study)]
    history = study.history_frame()
    if len(history) >= 2:
        wide, narrow = (history_chart(history, shaft=study.shaft, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("history", wide=wide, narrow=narrow, table=history_table(study)))
    tables = [choices_table(study)] if study.choices else []
    return _section("shaft", study, figures, short="Shaft", tables=tables, tabled=False)


def _map_figure(study: ShaftStudy) -> Figure:
    shaft_map = study.map_frame()
    hub = None if study.advice.hub is None else hub_words(study.advice.hub.undersize_um)
    wide, narrow = (map_chart(shaft_map, shaft=study.shaft, hub=hub, width=width) for width in (WIDE, NARROW))
    return make_figure("map", wide=wide, narrow=narrow, table=map_table(study))


def loosening_section(study: LooseningStudy) -> Section:
    """Show the chance against the gap; the curves stand folded."""
    return _section("loosening", study, [*gap_figures(study), *curve_figures(study)], short="Loosening", tabled=False)


def methods_section(study: MethodsStudy) -> Section:
    """Show a hundred hubs of each way; whether that is the method's doing stands folded."""
    return _section("methods", study, method_figures(study), short="Methods", tables=[methods_table(study)])


def stock_section(study: StockStudy) -> Section:
    """Show what sizes cost, a picture a pattern; demand and shelf stand folded."""
    figures = stock_figures(study)
    opening = [figure for figure in figures if figure.name.startswith("cost-")]
    others = [figure for figure in figures if figure not in opening]
    tables = [make_now_table(part.make) for part in study.by_pattern.values() if part.make]
    return _section("stock", study, [*opening, *others], short="Sizes", opening=len(opening), tables=tables)


def review_section(study: ReviewStudy) -> Section:
    """Show the quarter's review: failures against those expected; who is to be warned stands folded."""
    figures = review_figures(study)
    first = [figure for name in ("forecasts", "rates") for figure in figures if figure.name == name][:1]
    warned = [] if study.in_use is None else [warn_table(study.in_use)]
    by_groups = [] if any(figure.name == "funnel" for figure in figures) else [groups_table(study)]
    tables = [table for table in (*warned, *by_groups) if table.rows]
    others = [figure for figure in figures if figure not in first]
    return _section("review", study, [*first, *others], short="Review", opening=len(first), tables=tables)


def returns_section(study: ReturnsStudy) -> Section:
    """Show what came back: the grid of reasons by quarters."""
    frame = study.to_frame()
    figures: tuple[Figure, ...] = ()
    if study.returned:
        table = DataTable(
            caption="Hubs returned, by quarter and reason",
            head=("quarter", "hubs sent", *(REASON_WORDS.get(reason, reason) for reason in study.reasons)),
            rows=tuple(
                (quarter, str(sent), *(str(count) for count in row))
                for quarter, sent, row in zip(study.quarters, study.sent, study.counts, strict=True)
            ),
        )
        wide, narrow = (returns_chart(frame, width=width) for width in (WIDE, NARROW))
        figures = (make_figure("returns", wide=wide, narrow=narrow, table=table),)
    return _section("returns", study, figures, name="back", short="Returns")
