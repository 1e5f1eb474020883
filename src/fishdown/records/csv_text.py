"""Cut the text of a CSV file into lines and cells."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from fishdown.records.codes import Wrong
from fishdown.records.layout import MOST_ABOVE, as_name
from fishdown.records.plain_file import UnreadableError

if TYPE_CHECKING:
    from collections.abc import Iterator


# Commas first: they are taken where nothing tells.
_SEPARATORS = (",", ";", "\t")


def separator_of(text: str, names: set[str]) -> str:
    """Find the sign between the columns of a CSV file: comma, semicolon or tab.

    Parameters
    ----------
    names : set of str
        The headings that would be understood, as `as_name` has them.

    Returns
    -------
    str
        The sign that separates most of these names in one of the first lines, or most cells.
    """
    head = text.split("\n", MOST_ABOVE)[:MOST_ABOVE]

    def parted(separator: str) -> tuple[int, int]:
        lines = [[cell.strip(' "\r') for cell in line.split(separator)] for line in head]
        known = max(len(names & {as_name(cell) for cell in line}) for line in lines)
        return known, max(map(len, lines))

    return max(_SEPARATORS, key=parted)


def csv_lines(text: str, separator: str = ",") -> Iterator[tuple[int, list[str]]]:
    """Yield each record with the line it begins on (a quoted cell may span lines).

    Parameters
    ----------
    separator : str
        The sign between the columns.

    Yields
    ------
    row : int
        Line of the file, 1 for the first.
    cells : list of str
        As written.

    Raises
    ------
    UnreadableError
        If quotation marks do not close, or a cell is longer than any cell should be.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    row = 1
    try:
        for line in reader:
            yield row, line
            row = reader.line_num + 1
    except csv.Error as error:
        if "field limit" in str(error):
            most = csv.field_size_limit()
            raise UnreadableError(Wrong.CELL_TOO_LONG, row, most=most) from None
        raise UnreadableError(Wrong.QUOTATION_MARKS, row) from None
