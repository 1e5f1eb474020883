"""A new campaign as a workbook: headers with comments, and cells that refuse what is no record."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from fishdown.records.cells import FIRST_YEAR, LAST_YEAR, MARKS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from openpyxl.worksheet.worksheet import Worksheet

    from fishdown.blank_campaign.contents import BlankColumn
    from fishdown.records.field import Field

# Rows in which cells are checked as they are typed; `fishdown check` sees all.
_CHECKED_ROWS = 5_000
_BOLD, _FAINT = Font(bold=True), Font(italic=True, color="FF7F7F7F")
_HEADER = PatternFill("solid", fgColor="FFDCE6EC")
_DAY = "yyyy-mm-dd"
_LISTS = {"yes_no": ("yes", "no"), "mark": MARKS}


def blank_book(
    tables: Mapping[str, Sequence[BlankColumn]],
    settings: Sequence[tuple[str, str | float, str, bool]],
) -> Workbook:
    """Return the workbook of a new campaign.

    Parameters
    ----------
    tables : mapping of str to sequence of BlankColumn
        A sheet each.
    settings : sequence of tuple
        Name, value, meaning, and whether it is to be filled in; the others are left empty.
    """
    book = Workbook()
    sheet = book.active
    sheet.title = "campaign"
    sheet.append(["setting", "value", "meaning"])
    for name, value, meaning, needed in settings:
        example = meaning if needed else f"{meaning}, such as {value}"
        sheet.append([name, value if needed else None, example])
    _dress(sheet, [24, 28, 60])
    for name, columns in tables.items():
        sheet = book.create_sheet(name)
        sheet.append([column.name for column in columns])
        sheet.append([_value(column) for column in columns])
        _dress(sheet, [max(len(column.name), len(str(column.example))) + 3 for column in columns])
        for place, column in enumerate(columns, 1):
            sheet.cell(1, place).comment = _comment(column)
            example = sheet.cell(2, place)
            example.font = _FAINT
            letter = get_column_letter(place)
            if rule := _rule(column.field):
                rule.error = f"{column.name}: {column.meaning}"[:250]
                rule.errorTitle = "fishdown"
                rule.add(f"{letter}2:{letter}{_CHECKED_ROWS}")
                sheet.add_data_validation(rule)
            if column.field.kind == "date":
                example.number_format = _DAY
                sheet.column_dimensions[letter].number_format = _DAY
    return book


def _dress(sheet: Worksheet, widths: Sequence[int]) -> None:
    sheet.freeze_panes = "A2"
    for place, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(place)].width = width
        sheet.cell(1, place).font = _BOLD
        sheet.cell(1, place).fill = _HEADER


def _comment(column: BlankColumn) -> Comment:
    needed = "must be filled" if column.field.required else "may be left empty"
    comment = Comment(f"{column.meaning} ({needed})", "fishdown")
    comment.width, comment.height = 320, 90
    return comment


def _value(column: BlankColumn) -> Any:
    if column.field.kind == "date":
        return date.fromisoformat(str(column.example))
    return column.example if column.example != "" else None


def _rule(field: Field) -> DataValidation | None:
    """Return what a spreadsheet program lets into the cells of a column; None if anything."""
    least, most = field.least, field.most
    if field.within is not None:
        least, most = field.within.least, field.within.most
    match field.kind:
        case "yes_no" | "mark":
            return DataValidation("list", formula1=f'"{",".join(_LISTS[field.kind])}"')
        case "date":
            first, last = f"DATE({FIRST_YEAR},1,1)", f"DATE({LAST_YEAR},12,31)"
            return DataValidation("date", operator="between", formula1=first, formula2=last)
        case "count" | "number":
            kind = "whole" if field.kind == "count" else "decimal"
            return DataValidation(kind, operator="between", formula1=f"{least}", formula2=f"{most}")
        case _:
            return None
