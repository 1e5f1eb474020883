"""Rules on columns that are not read: they must not contradict the counts that are."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from fishdown.records.cells import CellError, parse
from fishdown.records.matching import pulls_meant
from fishdown.records.problems import listed_rows
from fishdown.records.settings import COMMON_CARP_NAMES, is_common_carp
from fishdown.records.tables import rows_of
from fishdown.records.unread import examined_in_part, is_species, meaning_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

_WHOLE = {"yes", "true", "y", "x", "all", "whole", "full", "fully", "complete"}
_NOT = {"no", "false", "n", "none", "not"}
_NO_HARM = "nothing to do"


def catches_examined_in_part(draft: Draft) -> Iterator[Problem]:
    """Find catches of which only a part was examined for marks, as an unread column says."""
    for table in ("pulls", "recaptures"):
        for column in _columns(draft, table, "examined"):
            found = [
                (row, said)
                for row, cell, caught in _examined_catches(draft, table, column)
                if (said := _part(cell, caught, left_out="not" in column))
            ]
            if found:
                yield _in_part(draft, table, column, found)
            else:
                wrong = (
                    "unknown column, which is not read; no catch that counts as examined for "
                    "marks was examined in part"
                )
                row = draft.source.texts[table].header_row
                yield draft.problem(table, row, column, wrong, _NO_HARM, "warning")


def notes_on_examination(draft: Draft) -> Iterator[Problem]:
    """Find notes that say that a catch was not examined whole."""
    for table in ("pulls", "recaptures"):
        for column in _columns(draft, table, "note"):
            found = []
            for row, cell, caught in _examined_catches(draft, table, column):
                words = examined_in_part(cell, caught)
                # A note beside a single fish may speak of one of its marks.
                if words and (table == "pulls" or any(sign.isdigit() for sign in words)):
                    said = f"the catch of {caught:,.0f} fish was not examined whole for marks"
                    found.append((row, said))
            if found:
                yield _in_part(draft, table, column, found)
            else:
                row = draft.source.texts[table].header_row
                wrong = "unknown column, which is not read"
                mend = "nothing to do unless a note changes the meaning of a count"
                yield draft.problem(table, row, column, wrong, mend, "warning")


def fish_of_other_species(draft: Draft) -> Iterator[Problem]:
    """Find rows of another species than the campaign's, once a table."""
    if draft.settings is None:
        return
    species, file = draft.settings.species, draft.source.files["campaign"]
    for table in ("marked", "pulls", "recaptures", "measured"):
        rows = rows_of_other_species(draft, table)
        for column in _columns(draft, table, "species"):
            if not rows:
                header = draft.source.texts[table].header_row
                wrong = f"unknown column, which is not read; all rows count as {species}"
                yield draft.problem(table, header, column, wrong, _NO_HARM, "warning")
                continue
            more = f" ({listed_rows(rows)})" if len(rows) > 1 else ""
            wrong = (
                f"another species than the {species} of {file}{more}; the column is not read, so "
                f"that these fish would count as {species}"
            )
            mend = f"delete such rows: this table holds {species} only"
            if table == "pulls":
                mend = (
                    f"move such catches to {draft.source.files['bycatch']} (columns species and "
                    f"count) and keep one row a pull with the catch of {species}, 0 if there was "
                    "none"
                )
            yield draft.problem(table, rows[0], column, wrong, mend)
            break


def rows_of_other_species(draft: Draft, table: str) -> list[int]:
    """Return the rows whose unread column of species names another than the campaign's.

    Parameters
    ----------
    draft : Draft
        The records as read.
    table : str
        Name of the table.
    """
    if draft.settings is None:
        return []
    species = draft.settings.species
    also = COMMON_CARP_NAMES if is_common_carp(species) else ()
    text = draft.source.texts.get(table)
    return [
        row
        for column in _columns(draft, table, "species")
        if text is not None
        for row, cell in zip(text.rows, text.cells[column], strict=True)
        if cell and not is_species(cell, species, also)
    ]


def _columns(draft: Draft, table: str, meaning: str) -> list[str]:
    text = draft.source.texts.get(table)
    if text is None:
        return []
    return [column for column in text.cells if meaning_of(table, column) == meaning]


def _examined_catches(draft: Draft, table: str, column: str) -> Iterator[tuple[int, str, float]]:
    """Yield row, cell and catch of each filled cell beside a catch that counts as examined."""
    if draft.frames["marked"].empty:
        return
    pulls, rows = draft.frames["pulls"], draft.frames[table]
    # With a table of recaptures every catch counts as examined.
    every = draft.given("recaptures")
    meant: list[tuple[Any, list[Any]]] = (
        [(pull, [pull]) for pull in rows_of(pulls)]
        if table == "pulls"
        else list(pulls_meant(rows, pulls))
    )
    for row, found in meant:
        cell = draft.says(table, row.row, column)
        if not cell or len(found) != 1 or math.isnan(found[0].caught):
            continue
        if every or draft.says("pulls", found[0].row, "recaptured"):
            yield row.row, cell, float(found[0].caught)


def _part(cell: str, caught: float, *, left_out: bool) -> str:
    """Say what a cell has against a catch that counts as examined whole; empty if nothing."""
    words = cell.lower()
    try:
        number = parse(words, "number")
    except CellError:
        if words in _WHOLE:
            number = caught
        elif words in _NOT:
            number = 0.0
        elif examined_in_part(f"examined {words}", caught):
            return f"not all of the {caught:,.0f} fish caught were examined for marks"
        else:
            return ""
        left_out = False
    assert isinstance(number, float)
    examined = caught - number if left_out else number
    if examined == caught:
        return ""
    if examined > caught:
        return f"more fish examined for marks than the {caught:,.0f} caught"
    few = f"only {examined:,.0f}" if examined > 0 else "none"
    return f"{few} of the {caught:,.0f} fish caught were examined for marks"


def _in_part(draft: Draft, table: str, column: str, found: list[tuple[int, str]]) -> Problem:
    rows = [row for row, _ in found]
    more = f" (the same in {listed_rows(rows[1:])})" if len(rows) > 1 else ""
    wrong = (
        f"{found[0][1]}{more}; this column is not read, and fish not examined would count "
        "as unmarked, which makes the estimate too high"
    )
    mend = "leave recaptured empty for such a pull: it then counts as not examined"
    if draft.given("recaptures"):
        recaptures, pulls = draft.source.files["recaptures"], draft.source.files["pulls"]
        mend = (
            f"give recaptures in the column recaptured of {pulls}, empty for such a pull, and "
            f"leave out {recaptures}, with which every catch counts as examined"
        )
    return draft.problem(table, rows[0], column, wrong, mend)
