"""What a long command is at: each stage by name, a sign of life meanwhile, and its time at the end.

In a terminal a moving line goes with the stage; elsewhere, as in a log file, there is a plain line
after some seconds without one. Both are drawn by threads of their own, so that they go on while
machine code is compiled.
"""

from __future__ import annotations

import math
import threading
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console
    from rich.progress import Progress, TaskID

    from fishdown.terminal.output import Channel

# No stretch without a sign of life is longer than ten seconds.
LINE_EVERY_SECONDS = 9.0
_LOOK_EVERY_SECONDS = 0.2


@contextmanager
def stages(console: Console) -> Iterator[Stages]:
    """Show which stage is at work while the block runs; its last one ends with the block.

    Yields
    ------
    Stages
        To be called with the name of each stage as it begins.
    """
    shown = _Moving(console) if console.is_terminal else _Lines(console)
    try:
        yield shown
        shown.end()
    finally:
        shown.close()


@contextmanager
def signs_of_life(channel: Channel) -> Iterator[None]:
    """Print a line wherever a command says nothing for long while the block runs."""
    began = time.monotonic()
    over = threading.Event()

    def watch() -> None:
        while not over.wait(_LOOK_EVERY_SECONDS):
            now = time.monotonic()
            # A little later than a stage, which says more.
            if now - channel.last >= LINE_EVERY_SECONDS + 0.5:
                channel.write(f"  at work, {duration(now - began)} so far\n")
                channel.flush()

    threading.Thread(target=watch, daemon=True).start()
    try:
        yield
    finally:
        over.set()


class Stages:
    """The stages of a command, one after another.

    Parameters
    ----------
    console : Console
    """

    def __init__(self, console: Console) -> None:
        self._console = console
        self._name = ""
        self._began = 0.0
        self._first: tuple[int, float] | None = None
        self._lock = threading.RLock()

    def __call__(self, name: str) -> None:
        """Begin a stage, and say how long the one before it took."""
        with self._lock:
            self.end()
            self._name, self._began, self._first = name, time.monotonic(), None
            self._show(name, None, None)

    def end(self) -> None:
        """End the stage, if there is one."""
        with self._lock:
            if self._name:
                took = duration(time.monotonic() - self._began)
                self._console.print(f"  {self._name}: {took}", style="dim")
            self._name = ""

    def draws(self, done: int, total: int, divergences: int) -> None:
        """Say how many draws of the stage are made; may be called from any thread."""
        found = f", {counted(divergences, 'divergence')}" if divergences else ""
        self._show(f"{self._name}, {done:,} of {total:,} draws{found}", done, total)

    def steps(self, done: int, total: int, what: str) -> None:
        """Say how many long steps of the stage are done, and about how long the others take.

        The pace is that from the first step done on: what an earlier start left is there at once,
        and compiling comes before the first.
        """
        now = time.monotonic()
        text = f"{self._name}, {done:,} of {total:,} {what}"
        if self._first is None:
            self._first = done, math.inf
        elif self._first[1] == math.inf:
            self._first = done, now
        elif done > self._first[0]:
            left = (now - self._first[1]) / (done - self._first[0]) * (total - done)
            text += f", about {counted(math.ceil(left / 60.0), 'minute')} left"
        self._show(text, done, total)

    def close(self) -> None:
        """Show nothing more."""

    def _show(self, text: str, done: int | None, total: int | None) -> None:
        """Show the text in place of the one before."""


class _Lines(Stages):
    """A plain line after some seconds without one."""

    def __init__(self, console: Console) -> None:
        super().__init__(console)
        self._text = ""
        self._said = 0.0
        self._over = threading.Event()
        threading.Thread(target=self._watch, daemon=True).start()

    def _show(self, text: str, done: int | None, total: int | None) -> None:
        if done is None:
            self._said = time.monotonic()
        self._text = text

    def _watch(self) -> None:
        while not self._over.wait(_LOOK_EVERY_SECONDS):
            with self._lock:
                now = time.monotonic()
                if self._name and now - self._said >= LINE_EVERY_SECONDS:
                    self._said = now
                    so_far = duration(now - self._began)
                    self._console.print(f"  {self._text}: {so_far} so far")

    def close(self) -> None:
        self._over.set()


class _Moving(Stages):
    """A line that moves, and goes away with its stage."""

    def __init__(self, console: Console) -> None:
        super().__init__(console)
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def _show(self, text: str, done: int | None, total: int | None) -> None:
        with self._lock:
            if self._bar is None:
                self._bar = self._started()
            if done is None and self._task is not None:
                self._bar.remove_task(self._task)
                self._task = None
            if self._task is None:
                self._task = self._bar.add_task(text, total=total)
            self._bar.update(self._task, description=text, completed=done, total=total)

    def _started(self) -> Progress:
        from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

        columns = (
            SpinnerColumn(),
            TextColumn("{task.description}", markup=False),
            BarColumn(bar_width=20),
            TimeElapsedColumn(),
        )
        bar = Progress(*columns, console=self._console, transient=True)
        bar.start()
        return bar

    def end(self) -> None:
        with self._lock:
            if self._bar is not None and self._task is not None:
                self._bar.remove_task(self._task)
                self._task = None
            super().end()

    def close(self) -> None:
        with self._lock:
            if self._bar is not None:
                self._bar.stop()
            self._bar = None


def duration(seconds: float) -> str:
    """Return a time as people read it."""
    if seconds < 99.5:
        return f"{seconds:.1f} s" if seconds < 9.95 else f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s"
