"""Progress of a fit: a bar in a terminal, a line now and then elsewhere."""

from __future__ import annotations

import math
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.console import Console

LINE_EVERY_SECONDS = 10.0


@contextmanager
def sampling_progress(console: Console) -> Iterator[Callable[[int, int, int], None]]:
    """Show sampling progress while the block runs.

    Yields
    ------
    callable
        To be called, from any thread, with draws done, draws in all and divergences.
    """
    if console.is_terminal:
        with _bar(console) as report:
            yield report
    else:
        yield _lines(console)


@contextmanager
def _bar(console: Console) -> Iterator[Callable[[int, int, int], None]]:
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.completed:.0f} of {task.total:.0f} draws"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("Sampling", total=None, visible=False)

        def report(done: int, total: int, divergences: int) -> None:
            found = counted(divergences, "divergence")
            words = f"Sampling ({found})" if divergences else "Sampling"
            bar.update(task, completed=done, total=total, description=words, visible=True)

        yield report


def _lines(console: Console) -> Callable[[int, int, int], None]:
    last: float | None = None

    def report(done: int, total: int, divergences: int) -> None:
        nonlocal last
        now = time.monotonic()
        # The clock starts with the first report, not while the model is still compiled.
        if last is None:
            last = now
        elif now - last >= LINE_EVERY_SECONDS:
            last = now
            found = counted(divergences, "divergence")
            console.print(f"  sampling: {done:,} of {total:,} draws, {found}")

    return report


@contextmanager
def counting_progress(console: Console, what: str) -> Iterator[Callable[[int, int], None]]:
    """Show how many of a number of long steps are done, and the time left, while the block runs.

    The pace is that from the first step done on: what an earlier start left is there at once, and
    compiling comes before the first.

    Yields
    ------
    callable
        To be called with steps done and steps in all, first with those that were done before.
    """
    if not console.is_terminal:
        yield _counted_lines(console, what)
        return
    from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

    columns = (
        BarColumn(),
        TextColumn(f"{{task.completed:.0f}} of {{task.total:.0f}} {what}"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        task: TaskID | None = None

        def report(done: int, total: int) -> None:
            nonlocal task
            if task is None:
                task = bar.add_task("", total=total, completed=done)
            else:
                # Further steps may have turned out to be worth it.
                bar.update(task, completed=done, total=total)

        yield report


def _counted_lines(console: Console, what: str) -> Callable[[int, int], None]:
    kept: int | None = None
    first: int | None = None
    started = last = 0.0

    def report(done: int, total: int) -> None:
        nonlocal kept, first, started, last
        now = time.monotonic()
        if kept is None:
            kept = done
        elif first is None:
            first, started, last = done, now, now
        elif now - last >= LINE_EVERY_SECONDS:
            last = now
            left = (now - started) / (done - first) * (total - done)
            minutes = counted(math.ceil(left / 60.0), "minute")
            console.print(f"  {done:,} of {total:,} {what}, about {minutes} left")

    return report
