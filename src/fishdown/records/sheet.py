"""The cells of one sheet of a workbook as text, none passed over in silence."""

from __future__ import annotations

from datetime import datetime, time
from typing import TYPE_CHECKING, Any

from openpyxl.worksheet._reader import FORMULA_TAG, VALUE_TAG, WorkSheetParser

from fishdown.records.codes import Wrong
from fishdown.records.merged import Merged
from fishdown.records.plain_file import UnreadableError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from xml.etree.ElementTree import Element

    from fishdown.records.notation import Notation

# An .xlsx sheet has no more rows.
_MOST_ROWS = 1_048_576


class _StrictParser(WorkSheetParser):  # type: ignore[misc]
    """openpyxl's own reader of sheets, strict where openpyxl passes over what it cannot place.

    Left to itself it drops rows whose number is not above the one before, lets a second cell of
    one address replace the first, and takes a formula without a value for a blank cell. The rows
    that it gives out fill up every gap, so that one cell in row 1,000,000 costs a million rows.
    """

    def parse_row(self, row: Element) -> tuple[int, list[dict[str, Any]]]:
        before = self.row_counter
        try:
            number, cells = super().parse_row(row)
        except UnreadableError:
            raise
        except (ValueError, TypeError, OverflowError) as error:
            raise UnreadableError(Wrong.ROW_WITHOUT_PLACE, before=before, said=str(error)) from None
        if not before < number <= _MOST_ROWS:
            raise UnreadableError(Wrong.ROW_OUT_OF_ORDER, before=before, number=row.get("r"))
        columns = [0, *(cell["column"] for cell in cells)]
        if any(cell["row"] != number for cell in cells) or columns != sorted(set(columns)):
            raise UnreadableError(Wrong.CELLS_OUT_OF_ORDER, number)
        return number, cells

    def parse_cell(self, element: Element) -> dict[str, Any]:
        place = element.get("r") or f"behind column {self.col_counter} of row {self.row_counter}"
        try:
            if element.get("t") == "s" and int(element.findtext(VALUE_TAG) or "0") < 0:
                raise IndexError("list index out of range")
            cell: dict[str, Any] = super().parse_cell(element)
        except Exception as error:
            # Whatever the reader stumbles over, it is this cell that it cannot read.
            said = f"{type(error).__name__}: {error}"
            raise UnreadableError(Wrong.CELL_DAMAGED, place=place, said=said) from None
        formula = element.find(FORMULA_TAG)
        # A formula whose value is the empty text has that value: its type is "str".
        if formula is not None and cell["value"] is None and element.get("t") != "str":
            cell["value"] = f"={formula.text or ''}"
        return cell


def read_sheet(
    book: Any, sheet: Any, notation: Notation
) -> tuple[list[tuple[int, list[str]]], list[Merged]]:
    """Read the rows of a sheet that are not blank.

    Parameters
    ----------
    notation : Notation
        How to write numbers.

    Returns
    -------
    lines : list of (int, list of str)
        Number of each row, and its cells as a person would write them in a CSV file, up to the
        last that is not blank. A formula without a value is written as the formula.
    merged : list of Merged
        The merged cells that span several rows and are not blank.

    Raises
    ------
    UnreadableError
        If some row or cell cannot be read or placed.
    """
    try:
        with sheet._get_source() as part:
            parser = _StrictParser(
                part,
                sheet._shared_strings,
                data_only=True,
                epoch=book.epoch,
                date_formats=book._date_formats,
                timedelta_formats=book._timedelta_formats,
            )
            lines = list(_filled(parser, notation))
            return lines, list(_merged(parser, dict(lines)))
    except UnreadableError:
        raise
    except Exception as error:
        # Damage shows as an error of the archive, of its XML or of any class of the reader.
        said = str(error) or type(error).__name__
        raise UnreadableError(Wrong.SHEET_DAMAGED, said=said) from None


def _filled(parser: _StrictParser, notation: Notation) -> Iterator[tuple[int, list[str]]]:
    for row, cells in parser.parse():
        line: list[str] = []
        for cell in cells:
            if text := _as_written(cell["value"], notation):
                line += [""] * (cell["column"] - 1 - len(line))
                line.append(text)
        if line:
            yield row, line


def _merged(parser: _StrictParser, lines: Mapping[int, list[str]]) -> Iterator[Merged]:
    for one in parser.merged_cells.mergeCell if parser.merged_cells else ():
        line, place = lines.get(one.min_row, []), one.min_col - 1
        value = line[place] if place < len(line) else ""
        if value and one.max_row > one.min_row:
            yield Merged(one.min_row, one.max_row, place, value)


def _as_written(value: object, notation: Notation) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case float():
            return notation.number(value)
        case datetime() if value.time() == time():
            return value.date().isoformat()
        case datetime():
            return value.isoformat()
        case _:
            return str(value).strip()
