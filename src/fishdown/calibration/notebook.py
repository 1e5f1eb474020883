"""Results of a long study, kept line by line so that a killed study goes on where it stopped."""

from __future__ import annotations

import json
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fishdown.errors import FitError

if TYPE_CHECKING:
    import os
    from collections.abc import Iterator


class Notebook:
    """A file of JSON lines: a header that says what was studied, then one line a simulation.

    Parameters
    ----------
    path : str or path
        An existing one is continued; else it is made, with its folder, when it is started.
    header : dict
        Plain values. A file with another header is refused, not overwritten.

    Raises
    ------
    FitError
        If the file belongs to another study, or cannot be used.

    Attributes
    ----------
    rows : dict of int to dict
        The lines so far, by the number of the simulation.
    """

    def __init__(self, path: str | os.PathLike[str], header: dict[str, Any]) -> None:
        self.path = Path(path)
        self.rows: dict[int, dict[str, Any]] = {}
        self._first = json.dumps(header, sort_keys=True)
        with self._using():
            try:
                text = self.path.read_text(encoding="utf-8")
            except FileNotFoundError:
                return
            if text:
                self._read(text, header)

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

    def _read(self, text: str, header: dict[str, Any]) -> None:
        whole, _, torn = text.rpartition("\n")
        lines = whole.split("\n")
        try:
            found = json.loads(lines[0])
            rows = [json.loads(line) for line in lines[1:]]
            self.rows = {row.pop("number"): row for row in rows}
        except (ValueError, KeyError, AttributeError) as error:
            raise FitError(f"{self.path} holds no study; name another file") from error
        if found != json.loads(json.dumps(header)):
            other = sorted(key for key in {*found, *header} if found.get(key) != header.get(key))
            raise FitError(
                f"{self.path} holds another study (different: {', '.join(other)}); "
                "name another file, or delete it"
            )
        if torn:
            # Killed while it wrote: that simulation is done again.
            self.path.write_text(whole + "\n", encoding="utf-8")
