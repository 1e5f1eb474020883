"""Rules on columns that are not read: they must not contradict the counts that are."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from fishdown.records.cells import CellError, parse
from fishdown.records.codes import Odd, Wrong
from fishdown.records.matching import pulls_meant
from fishdown.records.settings import COMMON_CARP_NAMES, is_common_carp
from fishdown.records.tables import TABLES, rows_of
from fishdown.records.unread import examined_in_part, is_species, meaning_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.notation import Notation
    from fishdown.records.problems import Problem

_WHOLE = {"yes", "true", "y", "x", "all", "whole", "full", "fully", "complete"}
_NOT = {"no", "false", "n", "none", "not"}


def catches_examined_in_part(draft: Draft) -> Iterator[Problem]:
    """Find catches of which only a part was examined for marks, as an unread column says."""
    for table in ("pulls", "recaptures"):
        for column in _columns(draft, table, "examined"):
            found = [
                (row, code, {"caught": caught, "examined": examined})
                for row, cell, caught in _examined_catches(draft, table, column)
                for code, examined in _part(
                    cell, caught, draft.source.notation, left_out="not" in column
                )
            ]
            if found:
                yield _in_part(draft, table, column, found)
            else:
                row = draft.source.texts[table].header_row
                yield draft.problem(Odd.ALL_EXAMINED, table, row, column)


def notes_on_examination(draft: Draft) -> Iterator[Problem]:
    """Find notes that say that a catch was not examined whole."""
    for table in ("pulls", "recaptures"):
        for column in _columns(draft, table, "note"):
            found = []
            for row, cell, caught in _examined_catches(draft, table, column):
                words = examined_in_part(cell, caught)
                # A note beside a single fish may speak of one of its marks.
                if words and (table == "pulls" or any(sign.isdigit() for sign in words)):
                    found.append((row, Wrong.NOTE_OF_PART, {"caught": caught}))
            if found:
                yield _in_part(draft, table, column, found)
            else:
                row = draft.source.texts[table].header_row
                yield draft.problem(Odd.NOTES, table, row, column)


def fish_of_other_species(draft: Draft) -> Iterator[Problem]:
    """Find rows of another species than the campaign's, once a table."""
    if draft.settings is None:
        return
    species = draft.settings.species
    for table in ("marked", "pulls", "recaptures", "measured"):
        rows = rows_of_other_species(draft, table)
        for column in _columns(draft, table, "species"):
            if not rows:
                header = draft.source.texts[table].header_row
                yield draft.problem(Odd.ONE_SPECIES, table, header, column, species=species)
                continue
            said = {"species": species, "rows": rows, "in_pulls": table == "pulls"}
            yield draft.problem(Wrong.OTHER_SPECIES, table, rows[0], column, **said)
            break


def rows_of_other_species(draft: Draft, table: str) -> list[int]:
    """Return the rows whose unread column of species names another than the campaign's."""
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
    unread = [column for column in text.cells if column not in TABLES[table]]
    return [column for column in unread if meaning_of(table, column) == meaning]


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
        if draft.says("pulls", found[0].row, "examined"):
            continue
        if every or draft.says("pulls", found[0].row, "recaptured"):
            yield row.row, cell, float(found[0].caught)


def _part(
    cell: str, caught: float, notation: Notation, *, left_out: bool
) -> Iterator[tuple[Wrong, float | None]]:
    """Yield what a cell has against a catch that counts as examined whole, and fish examined."""
    words = cell.lower()
    try:
        number = parse(words, "number", notation)
    except CellError:
        if words in _WHOLE:
            number = caught
        elif words in _NOT:
            number = 0.0
        else:
            if examined_in_part(f"examined {words}", caught):
                yield Wrong.NOT_ALL_EXAMINED, None
            return
        left_out = False
    assert isinstance(number, float)
    examined = caught - number if left_out else number
    if examined > caught:
        yield Wrong.EXAMINED_ABOVE_CATCH, examined
    elif examined < caught:
        yield Wrong.EXAMINED_IN_PART, max(examined, 0.0)


def _in_part(
    draft: Draft, table: str, column: str, found: list[tuple[int, Wrong, dict[str, Any]]]
) -> Problem:
    (row, code, values), *others = found
    values |= {"more": [other for other, _, _ in others]}
    return draft.problem(code, table, row, column, **values)
