"""The forms as workbooks, with drop-downs, in the shape that the store reads them back in."""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterable, Sequence
from typing import Final

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.formatting.rule import Rule
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from wearstats.domain.tables import HUB_ENDS, TABLES, Column, Table
from wearstats.domain.units import UM_PER_UNIT, mm_to_um
from wearstats.errors import ReportError
from wearstats.report.forms.flags import SHARE
from wearstats.report.forms.form import (
    FOLLOW_UP_COLUMNS,
    GAUGING_LINES,
    MEASURING_LINES,
    FollowUpForm,
    GaugingForm,
    MeasuringForm,
    allowed_words,
)
from wearstats.report.forms.wording import Wording
from wearstats.report.rendering.escape import shown
from wearstats.store.archive.export import harmless_text
from wearstats.store.parsing.cells import UNPRINTABLE
from wearstats.studies.forms import SheetNames

ROWS: Final = 300
"""Rows of a notebook's sheet that have drop-downs."""
LONGEST: Final = 32_767
"""Signs that a cell can hold."""
_LONGEST_LIST: Final = 250
"""Signs that a drop-down's own list may have."""
_ANY_TEXT: Final = ("resolution", "condition")
RESOLUTIONS: Final = ("0.01", "0.001", "0.0001", "1", "0.1")

_BOLD: Final = Font(bold=True)
_NEEDED: Final = PatternFill("solid", fgColor="FFF4D6")
_FAR: Final = PatternFill("solid", bgColor="FDECEE")
# what is typed is kept as it was typed: noughts at the end, names that look like numbers, the owner's decimal mark
_AS_TYPED: Final = "@"
_NAMES_OF: Final = {"pattern": "patterns", "gauge": "gauges", "shaft": "shafts", "hub": "hubs", "fitting": "fittings"}
_REQUIRED_LINES: Final = frozenset(
    ("shaft", "measured_on", "measured_by", "measured_at", "kind", "unit", "resolution", "pattern")
)


def measuring_book(form: MeasuringForm) -> bytes:
    """Write a measuring sheet as a workbook: a sheet ``readings`` to fill in, and one that says how."""
    book, sheet = _new_book("readings")
    for row, name in enumerate(MEASURING_LINES, start=1):
        sheet.cell(row, 1, f"{name.replace('_', ' ')}:").font = _BOLD
        cell = _written(sheet, row, 2, form.prefilled.get(name))
        cell.number_format = "yyyy-mm-dd" if name == "measured_on" else _AS_TYPED
        cell.alignment = Alignment(horizontal="left")
        if name in _REQUIRED_LINES:
            cell.fill = _NEEDED
        words = RESOLUTIONS if name == "resolution" else allowed_words(name)
        part = form.wording["fields"][name]
        _choose(sheet, f"B{row}", words, title=part["label"], hint=part["hint"], strict=name not in _ANY_TEXT)
    head = len(MEASURING_LINES) + 2
    for at, name in enumerate(("spline", *form.pattern.stations), start=1):
        _written(sheet, head, at, name).font = _BOLD
    for spline in range(1, form.pattern.splines + 1):
        sheet.cell(head + spline, 1, spline).font = _BOLD
        for at in range(len(form.pattern.stations)):
            sheet.cell(head + spline, at + 2).number_format = _AS_TYPED
    last = f"{get_column_letter(len(form.pattern.stations) + 1)}{head + form.pattern.splines}"
    _flag_crack(sheet, form, f"B{MEASURING_LINES.index('condition') + 1}")
    _flag_far(sheet, form, first=f"B{head + 1}", last=last)
    _widths(sheet, [20, 26, *[14] * len(form.pattern.stations)])
    part = form.wording["measuring"]
    steps = [part["only"], *form.steps]
    lines = [(f"{name.replace('_', ' ')}:", form.wording["fields"][name]) for name in MEASURING_LINES]
    _how_sheet(book, form.wording, part["title"], steps, "readings", lines, form.wording["safety"]["measuring"])
    return _saved(book)


def follow_up_book(form: FollowUpForm) -> bytes:
    """Write a follow-up sheet as a workbook: a row for each fitting asked after."""
    book, sheet = _new_book("follow_ups")
    columns = (*FOLLOW_UP_COLUMNS, "form")
    for at, name in enumerate(columns, start=1):
        sheet.cell(1, at, name).font = _BOLD
        words = allowed_words(name)
        part = form.wording["fields"].get(name, {"label": name, "hint": ""})
        letter = get_column_letter(at)
        _choose(sheet, f"{letter}2:{letter}{len(form.fittings) + 1}", words, title=part["label"], hint=part["hint"])
    for row, item in enumerate(form.fittings, start=2):
        known = {"fitting": item.fitting, "prompted": "asked", "form": form.form}
        for at, name in enumerate(columns, start=1):
            cell = _written(sheet, row, at, known.get(name))
            cell.number_format = "yyyy-mm-dd" if name in ("seen_on", "failed_on") else _AS_TYPED
            if name in ("seen_on", "state"):
                cell.fill = _NEEDED
    sheet.freeze_panes = "B2"
    _widths(sheet, [12, 12, 12, 10, 16, 14, 10, 12, 30, 20])
    part = form.wording["follow_up"]
    lines = [(name, form.wording["fields"][name]) for name in FOLLOW_UP_COLUMNS if name != "prompted"]
    safety = form.wording["safety"]["follow_up"]
    _how_sheet(book, form.wording, part["title"], part["steps"], "follow_ups", lines, safety)
    return _saved(book)


def gauging_book(form: GaugingForm, gauges: Sequence[str]) -> bytes:
    """Write a gauging sheet as a workbook: a row a space of each hub, a column an end.

    Parameters
    ----------
    form : GaugingForm
        Which hubs.
    gauges : sequence of str
        Names of gauges to choose from.
    """
    book, sheet = _new_book("hub_spaces")
    lines = [name for name in GAUGING_LINES if name != "hub"]
    for row, name in enumerate(lines, start=1):
        sheet.cell(row, 1, f"{name.replace('_', ' ')}:").font = _BOLD
        cell = _written(sheet, row, 2, form.form if name == "form" else None)
        cell.number_format = "yyyy-mm-dd" if name == "gauged_on" else _AS_TYPED
        cell.alignment = Alignment(horizontal="left")
        if name == "gauged_on":
            cell.fill = _NEEDED
        part = form.wording["fields"].get(name, {"label": name, "hint": ""})
        known = [gauge for gauge in gauges if _holds(gauge) and "," not in gauge] if name == "gauge" else []
        words = known if len(",".join(known)) <= _LONGEST_LIST else []
        _choose(sheet, f"B{row}", words, title=part["label"], hint=part["hint"], strict=False)
    head = len(lines) + 2
    for at, name in enumerate(("hub", "space", *HUB_ENDS), start=1):
        _written(sheet, head, at, name).font = _BOLD
    places = [(hub, space) for hub in form.hubs for space in range(1, hub.pattern.splines + 1)]
    for row, (hub, space) in enumerate(places, start=head + 1):
        _written(sheet, row, 1, hub.hub).number_format = _AS_TYPED
        sheet.cell(row, 2, space).font = _BOLD
        for column in (3, 4):
            sheet.cell(row, column).number_format = _AS_TYPED
    sheet.freeze_panes = f"C{head + 1}"
    _widths(sheet, [20, 16, 14, 14])
    part = form.wording["gauging"]
    told = [(f"{name.replace('_', ' ')}:", form.wording["fields"][name]) for name in ("gauged_on", "gauge", "remark")]
    safety = form.wording["safety"]["gauging"]
    _how_sheet(book, form.wording, part["title"], part["steps"], "hub_spaces", told, safety, fill="fill_gauging")
    return _saved(book)


def note_book(names: SheetNames, wording: Wording) -> bytes:
    """Write a notebook: a sheet a table, each column that takes certain words or known names with a drop-down.

    Adding it again is safe: rows that are in the store already are counted as such.
    """
    book, sheet = _new_book(TABLES[0].name)
    lists = book.create_sheet(wording["workbook"]["list_sheet"])
    listed = _list_names(lists, names)
    for table in TABLES:
        if table is not TABLES[0]:
            sheet = book.create_sheet(table.name)
        columns = _columns(table, names.stations)
        for at, column in enumerate(columns, start=1):
            cell = _written(sheet, 1, at, column.name)
            cell.font = Font(bold=column.required)
            if column.required:
                cell.fill = _NEEDED
            letter = get_column_letter(at)
            for row in range(2, ROWS + 2):
                sheet.cell(row, at).number_format = "yyyy-mm-dd" if column.kind == "date" else _AS_TYPED
            _choose_column(sheet, f"{letter}2:{letter}{ROWS + 1}", column, table, listed)
            sheet.column_dimensions[letter].width = max(12, len(column.name) + 3)
        sheet.freeze_panes = "B2"
    # the words to choose from and the instructions stand last: they are no tables
    book.move_sheet(lists, offset=len(book.sheetnames))
    how = book.create_sheet(wording["workbook"]["how_sheet"])
    how.append([wording["workbook"]["book_title"]])
    how["A1"].alignment = Alignment(wrap_text=True, vertical="top")
    _widths(how, [90])
    return _saved(book)


def _columns(table: Table, stations: Sequence[str]) -> list[Column]:
    """Give a sheet's columns; readings stand as on paper, a row a spline."""
    if table.name != "readings" or not stations:
        return list(table.columns)
    kept = [column for column in table.columns if column.name in ("inspection", "spline")]
    return [*kept, *(Column(name=name, kind="width") for name in stations)]


def _list_names(lists: Worksheet, names: SheetNames) -> dict[str, str]:
    """Write the names to choose from down the columns of one sheet, and say where each list stands."""
    listed = {}
    for at, (table, every) in enumerate(names.names.items(), start=1):
        # a name that no workbook holds cannot be chosen; it can still come in by a file
        known = [name for name in every if _holds(name)]
        lists.cell(1, at, table).font = _BOLD
        for row, name in enumerate(known, start=2):
            _written(lists, row, at, name).number_format = _AS_TYPED
        letter = get_column_letter(at)
        listed[table] = f"'{lists.title}'!${letter}$2:${letter}${len(known) + 1}"
    return listed


def _choose_column(sheet: Worksheet, cells: str, column: Column, table: Table, listed: dict[str, str]) -> None:
    """Give a column its drop-down: the contract's words, yes and no, or the names in the store."""
    words = ("yes", "no") if column.kind == "yes_no" else column.choices
    if words:
        _choose(sheet, cells, words, title=column.name, hint="")
        return
    named = listed.get(_NAMES_OF.get(column.name, ""))
    # a table's own key is a new name more often than one there already
    if named and table.key != (column.name,):
        rule = DataValidation(type="list", formula1=named, allow_blank=True, showErrorMessage=False)
        sheet.add_data_validation(rule)
        rule.add(cells)


def _choose(sheet: Worksheet, cells: str, words: Sequence[str], *, title: str, hint: str, strict: bool = True) -> None:
    """Give cells a drop-down of words, or only a hint where any text may stand."""
    if not words and not hint:
        return
    rule = DataValidation(
        type="list" if words else None,
        formula1=f'"{",".join(words)}"' if words else None,
        allow_blank=True,
        showErrorMessage=bool(words) and strict,
        showInputMessage=bool(hint),
        promptTitle=title[:32] if hint else None,
        prompt=hint[:255] if hint else None,
        errorTitle=title[:32],
        error=", ".join(words)[:255] if words else None,
    )
    sheet.add_data_validation(rule)
    rule.add(cells)


def _flag_crack(sheet: Worksheet, form: MeasuringForm, cell: str) -> None:
    """Show beside the word that a cracked shaft is not run; the cell itself stays as it was typed."""
    told = form.wording["flags"]["do_not_run"].replace('"', "")
    style = DifferentialStyle(
        font=Font(color="B00020", bold=True), fill=_FAR, numFmt=NumberFormat(numFmtId=190, formatCode=f'@": {told}"')
    )
    rule = Rule(type="expression", dxf=style, formula=[f'ISNUMBER(SEARCH("crack",{cell}))'])
    sheet.conditional_formatting.add(cell, rule)


def _flag_far(sheet: Worksheet, form: MeasuringForm, *, first: str, last: str) -> None:
    """Colour readings that the store would refuse as too far from a new spline, or as no number."""
    unit_cell = f"$B${MEASURING_LINES.index('unit') + 1}"
    microns = "1000"
    for unit, um in UM_PER_UNIT.items():
        microns = f'IF({unit_cell}="{unit}",{um},{microns})'
    number = f'_xlfn.NUMBERVALUE(SUBSTITUTE({first},",","."),".")'
    new = mm_to_um(form.pattern.width_mm)
    far = f'AND({first}<>"",IFERROR(ABS({number}*{microns}-{new:g})>{SHARE * new:g},TRUE))'
    style = DifferentialStyle(font=Font(color="B00020"), fill=_FAR)
    sheet.conditional_formatting.add(f"{first}:{last}", Rule(type="expression", dxf=style, formula=[far]))


def _how_sheet(
    book: Workbook,
    wording: Wording,
    title: str,
    steps: Iterable[str],
    to_fill: str,
    lines: Iterable[tuple[str, dict[str, str]]],
    safety: Iterable[str],
    *,
    fill: str = "fill",
) -> None:
    """Add the sheet that says how to measure or look, and what each line means."""
    words = wording["workbook"]
    sheet = book.create_sheet(words["how_sheet"])
    sheet.append([title])
    sheet.append([words[fill].format(sheet=to_fill)])
    for number, step in enumerate(steps, start=1):
        sheet.append([f"{number}. {step}"])
    sheet.append([])
    sheet.append([words["line"], words["meaning"]])
    heads = [1, sheet.max_row]
    for name, part in lines:
        sheet.append([name, f"{part['label']}: {part['hint']}"])
    sheet.append([])
    sheet.append([wording["common"]["cautions"]])
    heads.append(sheet.max_row)
    for caution in safety:
        sheet.append([caution])
    for row in heads:
        sheet.cell(row, 1).font = _BOLD
    _widths(sheet, [24, 80])
    for (cell,) in sheet.iter_rows(max_col=1):
        if cell.value is not None and sheet.cell(cell.row, 2).value is None:
            sheet.merge_cells(start_row=cell.row, end_row=cell.row, start_column=1, end_column=2)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            sheet.row_dimensions[cell.row].height = 15 * (1 + len(str(cell.value)) // 105)


def _new_book(first: str) -> tuple[Workbook, Worksheet]:
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = first
    return book, sheet


def _holds(name: str) -> bool:
    """Whether a workbook holds a name as it is."""
    return not UNPRINTABLE.search(name) and "\r" not in name and len(harmless_text(name)) <= LONGEST


def _written(sheet: Worksheet, row: int, column: int, name: str | None) -> Cell:
    """Write a name from the store so that no spreadsheet runs it and it comes back as it was, or refuse it."""
    text = name and harmless_text(name)
    if text and not _holds(text):
        found = f"'{shown(text[:40])}' has signs that cannot be printed, or over {LONGEST} of them"
        raise ReportError(f"{found}; no workbook can hold it; correct the name in the store")
    cell: Cell = sheet.cell(row, column, text)
    return cell


def _widths(sheet: Worksheet, widths: Sequence[int]) -> None:
    for at, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(at)].width = width


def _saved(book: Workbook) -> bytes:
    # the day on which a form was made says nothing about it: the same form is the same file
    book.properties.created = book.properties.modified = datetime.datetime(2000, 1, 1)
    for sheet in book.worksheets:
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()
