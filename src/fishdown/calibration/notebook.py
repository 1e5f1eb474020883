"""Results of a long study, kept line by line so that a killed study goes on where it stopped."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fishdown.errors import FitError

if TYPE_CHECKING:
    import os


class Notebook:
    """A file of JSON lines: a header that says what was studied, then one line a simulation.

    Parameters
    ----------
    path : str or path
        Made with its folder if need be; an existing one is continued.
    header : dict
        Plain values. A file with another header is refused, not overwritten.

    Raises
    ------
    FitError
        If the file belongs to another study, or cannot be written.

    Attributes
    ----------
    rows : dict of int to dict
        The lines so far, by the number of the simulation.
    """

    def __init__(self, path: str | os.PathLike[str], header: dict[str, Any]) -> None:
        self.path = Path(path)
        self.rows: dict[int, dict[str, Any]] = {}
        first = json.dumps(header, sort_keys=True)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            if not self.path.exists() or not self.path.stat().st_size:
                self.path.write_text(first + "\n", encoding="utf-8")
                return
            self._read(header)
        except OSError as error:
            raise FitError(f"cannot use {self.path}: {error.strerror or error}") from error

    def add(self, number: int, row: dict[str, Any]) -> None:
        """Write the result of one simulation, at once."""
        with self.path.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"number": number, **row}) + "\n")
        self.rows[number] = row

    def _read(self, header: dict[str, Any]) -> None:
        text = self.path.read_text(encoding="utf-8")
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
