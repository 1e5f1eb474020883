"""What was found at a path: the tables as text, and what is wrong with their files."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from fishdown.records.codes import Odd
from fishdown.records.notation import Notation
from fishdown.records.plain_file import UnreadableError
from fishdown.records.problems import Problem, ProblemCode, nearest
from fishdown.records.text import text_table

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from fishdown.records.entry import Entry
    from fishdown.records.field import Field
    from fishdown.records.merged import Merged
    from fishdown.records.text import TextTable


# Names of a list of fish put into the lake: stocked, stocking, restocked, fish_in, introduced.
_STOCKING = re.compile(r"(re)?stock|fish[ _-]?in\b|introduc|fish[ _-]?(added|put[ _-]?in)")


@dataclass
class Source:
    """What was found at a path, as text.

    Attributes
    ----------
    files : dict of str to str
        Table name (or ``campaign``) to the name shown in problems.
    texts : dict of str to TextTable
        The tables that could be read.
    entries : dict of str to Entry, or None
        The settings as written, None if they could not be read.
    notation : Notation
        How the cells are written, as the settings say.
    unreadable : set of str
        Tables that are there, or must be, and could not be read.
    problems : list of Problem
        Everything wrong so far.
    hashes : dict of str to str
        File name to the SHA-256 of its bytes.
    workbook : bool
        Whether they are the sheets of one.
    """

    files: dict[str, str]
    texts: dict[str, TextTable] = field(default_factory=dict)
    entries: dict[str, Entry] | None = None
    notation: Notation = field(default_factory=Notation)
    unreadable: set[str] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)
    hashes: dict[str, str] = field(default_factory=dict)
    workbook: bool = False

    def report(self, code: ProblemCode, file: str, **values: object) -> None:
        """Add what is wrong with a file as a whole to the problems found so far."""
        self.problems.append(Problem(code, file, values=values))

    def report_unknown(self, file: str, name: str, known: list[str], kind: str) -> None:
        """Warn of a file or sheet that is no table.

        Parameters
        ----------
        file : str
            Name to show.
        name : str
            Name to compare, in lower case.
        known : list of str
            The names that would have been read.
        kind : {"file", "sheet"}
            What it is.
        """
        if _STOCKING.match(name):
            self.report(Odd.STOCKED_FISH, file)
        else:
            like = nearest(name, known)
            self.report(Odd.UNKNOWN_TABLE, file, kind=kind, like=like, known=known)

    def table(
        self,
        name: str,
        lines: Iterable[tuple[int, list[str]]],
        fields: Mapping[str, Field],
        merged: Iterable[Merged] | None = None,
    ) -> TextTable | None:
        """Return the lines of a file or sheet as the table of this name, if they are one.

        What is wrong with them is added to the problems; `fields` and `merged` as for
        `text_table`.
        """
        file, table = self.files[name], None
        headings = self.notation.headings.get(name, {})
        try:
            table, problems = text_table(file, lines, fields, headings, merged, name)
        except UnreadableError as error:
            problems = [error.at(file)]
        self.problems += problems
        if table is None:
            self.unreadable.add(name)
        elif name != "campaign":
            self.texts[name] = table
        return table

    def as_headed(self, problem: Problem) -> Problem:
        """Name the column of a problem as the crew's own heading does, where it has one."""
        for name, text in self.texts.items():
            if self.files[name] == problem.file and problem.column in text.headings:
                return replace(problem, column=text.headings[problem.column])
        return problem

    def place_of(self, problem: Problem) -> int:
        """Rank a problem's file: settings first, then the tables in the order of the story."""
        files = list(self.files.values())
        return files.index(problem.file) if problem.file in files else len(files)
