"""The results log of long work: each result is a line at once, so that work that stops goes on."""

from __future__ import annotations

import json
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fishdown.atomic_write import remedy
from fishdown.errors import FishdownError, FitError
from fishdown.parallel import parallel_map

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterator, Sequence

# Which of the many results one is: of a calibration the simulation, of a plan campaign and design.
type Number = int | tuple[int, ...]


def _nothing_wrong(row: dict[str, Any]) -> str:
    return ""


class ResultsLog:
    """A file of JSON lines: a header that says what was studied, then one line a result.

    Parameters
    ----------
    path : str or path
        An existing one is continued; else it is made, with its folder, when it is started.
    header : dict
        Plain values; ``study`` says in a word what kind of work it is. A file with another header
        is refused, not overwritten.
    wrong : callable, optional
        Takes a line that was kept, and returns why it cannot be one of the study's; else nothing.
    refusal : type, optional
        What is raised; a `FitError` by default.

    Raises
    ------
    FishdownError
        Or `refusal`, if the file belongs to another study, cannot be used, or a line of it was
        changed.

    Attributes
    ----------
    rows : dict of int (or tuple of int) to dict
        The results so far, by their number.
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        header: dict[str, Any],
        wrong: Callable[[dict[str, Any]], str] = _nothing_wrong,
        refusal: type[FishdownError] = FitError,
    ) -> None:
        self.path = Path(path)
        self.rows: dict[Number, dict[str, Any]] = {}
        self._wrong = wrong
        self._refusal = refusal
        self._header = json.dumps(header, sort_keys=True)
        self._study = header.get("study", "study")
        with self._using():
            lines = self._lines()
        if lines:
            self._read(lines)

    def start(self) -> None:
        """Make the file: whether it can be written to is known before the long work."""
        self._append("")

    def add(self, number: Number, row: dict[str, Any]) -> None:
        """Write one result, at once."""
        self._append(json.dumps({"number": number, **row}) + "\n")
        self.rows[number] = row

    def complete[Task: Number](
        self,
        do: Callable[[Task], dict[str, Any]],
        tasks: Sequence[Task],
        *,
        cores: int = 1,
        scheduler: str | None = None,
        on_progress: Callable[[int, int], None] | None = None,
    ) -> list[dict[str, Any]]:
        """Do the tasks that the log lacks, and return the results of all.

        Parameters
        ----------
        do : callable
            Takes a task, which is the number of its result; see `fishdown.parallel.parallel_map`
            for this, `cores` and `scheduler`.
        cores : int
        on_progress : callable, optional
            Called with tasks done and tasks in all; first with those that were kept.
        """
        missing = [task for task in tasks if task not in self.rows]
        done = len(tasks) - len(missing)
        work = f"the {self._study}"
        with parallel_map(do, missing, work=work, cores=cores, scheduler=scheduler) as results:
            # Only now: where a cluster is asked for and not found, nothing is left behind.
            self.start()
            if on_progress is not None:
                on_progress(done, len(tasks))
            for task, row in results:
                self.add(task, row)
                done += 1
                if on_progress is not None:
                    on_progress(done, len(tasks))
        return [self.rows[task] for task in tasks]

    def _append(self, text: str) -> None:
        with self._using():
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("a", encoding="utf-8") as file:
                if not file.tell():
                    file.write(self._header + "\n")
                file.write(text)

    @contextmanager
    def _using(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            said = f"cannot use {self.path}: {error.strerror or error}; {remedy(error)}"
            raise self._refusal(said) from error

    def _lines(self) -> list[str]:
        """Read the lines, less one that was cut off while it was written, in the file too."""
        try:
            content = self.path.read_bytes()
        except FileNotFoundError:
            return []
        whole, ending, torn = content.rpartition(b"\n")
        if not ending:
            # Not even its first line is whole: it is nothing that could be gone on with.
            whole, torn = torn, b""
        lines = []
        for number, line in enumerate(whole.split(b"\n") if content else [], start=1):
            try:
                lines.append(line.decode("utf-8"))
            except UnicodeDecodeError as error:
                byte = f"the byte 0x{line[error.start]:02x} is no text"
                raise self._damaged(number, byte) from error
        if torn:
            self.path.write_bytes(whole + ending)
        return lines

    def _read(self, lines: list[str]) -> None:
        try:
            found = json.loads(lines[0])
        except ValueError:
            found = None
        if not isinstance(found, dict):
            raise self._refusal(f"{self.path} is no results log; name another file")
        header = json.loads(self._header)
        if found != header:
            other = sorted(key for key in {*found, *header} if found.get(key) != header.get(key))
            raise self._refusal(
                f"{self.path} holds results of another {self._study} (different: "
                f"{', '.join(other)}); name another folder or file, or delete it"
            )
        for line_number, line in enumerate(lines[1:], start=2):
            try:
                row = json.loads(line)
                number = _number(row.pop("number"))
                wrong = ""
            except (ValueError, KeyError, AttributeError, TypeError) as error:
                wrong = f"no result of a simulation ({error})"
            wrong = wrong or self._wrong(row)
            if wrong:
                raise self._damaged(line_number, wrong)
            self.rows[number] = row

    def _damaged(self, line_number: int, reason: str) -> FishdownError:
        """Say which line cannot be used, and how to mend that; lines are counted from 1."""
        return self._refusal(
            f"{self.path}, line {line_number}: {reason}; delete this line, and what it held is "
            "done again, or delete the file and start anew"
        )


def _number(written: Any) -> Number:
    parts: list[int] = written if isinstance(written, list) else [written]
    if not all(type(part) is int for part in parts):
        raise ValueError(f"number = {written!r}")
    return tuple(parts) if isinstance(written, list) else parts[0]
