"""Cut the text of a CSV file into lines and cells."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from fishdown.records.codes import Wrong
from fishdown.records.plain_file import UnreadableError

if TYPE_CHECKING:
    from collections.abc import Iterator


def csv_lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield each record with the line it begins on (a quoted cell may span lines).

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
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
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
