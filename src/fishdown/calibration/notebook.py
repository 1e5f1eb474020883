"""Results of a long study, kept line by line so that a killed study goes on where it stopped."""

from __future__ import annotations

import json
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fishdown.errors import FitError
from fishdown.kept_lines import damaged, kept_lines

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterator


def _nothing_wrong(row: dict[str, Any]) -> str:
    return ""


class Notebook:
    """A file of JSON lines: a header that says what was studied, then one line a simulation.

    Parameters
    ----------
    path : str or path
        An existing one is continued; else it is made, with its folder, when it is started.
    header : dict
        Plain values. A file with another header is refused, not overwritten.
    wrong : callable, optional
        Takes a line that was kept, and returns why it cannot be one of the study's; else nothing.

    Raises
    ------
    FitError
        If the file belongs to another study, cannot be used, or a line of it was changed.

    Attributes
    ----------
    rows : dict of int to dict
        The lines so far, by the number of the simulation.
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        header: dict[str, Any],
        wrong: Callable[[dict[str, Any]], str] = _nothing_wrong,
    ) -> None:
        self.path = Path(path)
        self._wrong = wrong
        self.rows: dict[int, dict[str, Any]] = {}
        self._first = json.dumps(header, sort_keys=True)
        with self._using():
            lines = kept_lines(self.path, FitError)
        if lines:
            self._read(lines, header)

    def start(self) -> None:
        """Make the file: whether it can be written to is known before the long work."""
        self._append("")

    def add(self, number: int, row: dict[str, Any]) -> None:
        """Write the result of one simulation, at once."""
        self._append(json.dumps({"number": number, **row}) + "\n")
        self.rows[number] = row

    def _append(self, text: str) -> None:
        with self._using():
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("a", encoding="utf-8") as file:
                if not file.tell():
                    file.write(self._first + "\n")
                file.write(text)

    @contextmanager
    def _using(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise FitError(f"cannot use {self.path}: {error.strerror or error}") from error

    def _read(self, lines: list[str], header: dict[str, Any]) -> None:
        try:
            found = json.loads(lines[0])
        except ValueError:
            found = None
        if not isinstance(found, dict):
            raise FitError(f"{self.path} holds no study; name another file")
        if found != json.loads(json.dumps(header)):
            other = sorted(key for key in {*found, *header} if found.get(key) != header.get(key))
            raise FitError(
                f"{self.path} holds another study (different: {', '.join(other)}); "
                "name another file, or delete it"
            )
        for line_number, line in enumerate(lines[1:], start=2):
            try:
                row = json.loads(line)
                number = row.pop("number")
                wrong = "" if isinstance(number, int) else f"number = {number!r}"
            except (ValueError, KeyError, AttributeError, TypeError) as error:
                wrong = f"no result of a simulation ({error})"
            wrong = wrong or self._wrong(row)
            if wrong:
                raise FitError(damaged(self.path, line_number, wrong))
            self.rows[number] = row
