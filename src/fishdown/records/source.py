"""What was found at a path: the tables as text, and what is wrong with their files."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fishdown.records.problems import Problem, nearest

if TYPE_CHECKING:
    from fishdown.records.settings import Entry
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
    unreadable : set of str
        Tables that are there, or must be, and could not be read.
    problems : list of Problem
        Everything wrong so far.
    hashes : dict of str to str
        File name to the SHA-256 of its bytes.
    """

    files: dict[str, str]
    texts: dict[str, TextTable] = field(default_factory=dict)
    entries: dict[str, Entry] | None = None
    unreadable: set[str] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)
    hashes: dict[str, str] = field(default_factory=dict)

    def report(self, problems: list[Problem]) -> None:
        """Add problems to those found so far."""
        self.problems.extend(problems)

    def place_of(self, problem: Problem) -> int:
        """Rank a problem's file: settings first, then the tables in the order of the story."""
        files = list(self.files.values())
        return files.index(problem.file) if problem.file in files else len(files)


def unexpected(file: str, name: str, known: list[str], noun: str) -> Problem:
    """Make the warning for a file or sheet that is no table of a campaign.

    Parameters
    ----------
    file : str
        Name to show.
    name : str
        Name to compare, in lower case.
    known : list of str
        The names that would have been read.
    noun : {"file", "sheet"}
        What it is.

    Returns
    -------
    Problem
        The warning, with the nearest known name.
    """
    if _STOCKING.match(name):
        wrong = (
            "stocked fish cannot be entered yet, and the list is not read: fish stocked while a "
            "season is netted count as present from its start, which makes its estimate too high; "
            "fish stocked between seasons count as survivors or recruits"
        )
        mend = (
            "leave out the pulls after a stocking of that season, or give them a season of their "
            "own (column season of pulls) if no marked fish are left"
        )
        return Problem(file, None, None, "", wrong, mend, "warning")
    like = nearest(name, known)
    mend = f'did you mean "{like}"?' if like else f"known {noun}s are {', '.join(known)}"
    return Problem(file, None, None, "", f"unknown {noun}, which is not read", mend, "warning")
