"""Ctrl-C, and the signal that asks a process to end.

The first one raises KeyboardInterrupt where Python is at work. Machine code does not listen, and
some libraries pass over the exception: a thread looks to it that the process ends within
`PATIENCE` nevertheless, and at once when it is asked a second time.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NoReturn

from fishdown.atomic_write import replacing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SIGNALS = (signal.SIGINT, signal.SIGTERM)
PATIENCE = 1.5
_SHOW_CURSOR = "\x1b[?25h"


class Stop:
    """Whether and how the process was asked to end.

    Parameters
    ----------
    words : callable
        Returns what to say then.

    Attributes
    ----------
    number : int
        The signal; that of Ctrl-C until there was one.
    asked : bool
    """

    def __init__(self, words: Callable[[], str]) -> None:
        self._words = words
        self._told = threading.Lock()
        self.number = int(signal.SIGINT)
        self.asked = False

    @property
    def code(self) -> int:
        """The exit code by which a shell knows a process that a signal ended."""
        return 128 + self.number

    def tell(self) -> None:
        """Say once that the process ends."""
        if self._told.acquire(blocking=False):
            print(self._words(), file=sys.stderr, flush=True)

    def on_signal(self, number: int, frame: object) -> None:
        """Interrupt what Python does."""
        if not self.asked:
            self.asked, self.number = True, number
            raise KeyboardInterrupt

    def end(self, number: int) -> None:
        """End the process without waiting for anything but files that take their places."""
        self.number = number
        replacing.acquire(timeout=PATIENCE)
        self.tell()
        if sys.stdout.isatty():
            # A bar of progress has hidden it.
            print(end=_SHOW_CURSOR, flush=True)
        leave(self.code)


@contextmanager
def stoppable(words: Callable[[], str]) -> Iterator[Stop]:
    """Have the block end soon after the process was asked to.

    In the main thread only, where Python lets signals be handled; a signal that the process was
    started to ignore, as by ``nohup``, stays ignored.

    Parameters
    ----------
    words : callable
        Returns what to say when the process ends.

    Yields
    ------
    Stop
    """
    stop = Stop(words)
    heard = [one for one in SIGNALS if signal.getsignal(one) is not signal.SIG_IGN]
    if threading.current_thread() is not threading.main_thread() or not heard:
        yield stop
        return
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    # Python's own handlers wait for machine code to return; this is written to at once.
    wakened = signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
    handlers = {one: signal.signal(one, stop.on_signal) for one in heard}
    silent = sys.unraisablehook
    sys.unraisablehook = _quiet_when_stopped(stop, silent)
    threading.Thread(target=_watch, args=(reader, stop), daemon=True).start()
    try:
        yield stop
    finally:
        for one, handler in handlers.items():
            signal.signal(one, handler)
        signal.set_wakeup_fd(wakened)
        os.close(writer)
        sys.unraisablehook = silent


def _watch(reader: int, stop: Stop) -> None:
    """End the process `PATIENCE` after the first signal, or at the second."""
    timer: threading.Timer | None = None
    while number := os.read(reader, 1):
        if number[0] not in SIGNALS:
            continue
        if timer is not None:
            stop.end(number[0])
        timer = threading.Timer(PATIENCE, stop.end, number)
        timer.daemon = True
        timer.start()
    if timer is not None:
        timer.cancel()
    os.close(reader)


def _quiet_when_stopped(stop: Stop, usual: Callable[[Any], object]) -> Callable[[Any], object]:
    """Leave out the traceback of an interruption that came where none can be raised."""

    def hook(unraisable: Any) -> None:
        if not (stop.asked and unraisable.exc_type is KeyboardInterrupt):
            usual(unraisable)

    return hook


def leave(code: int) -> NoReturn:
    """End the process now: Python would tidy up for seconds, and wait for useless threads."""
    # Only where somebody has used it are there any.
    multiprocessing = sys.modules.get("multiprocessing")
    if multiprocessing is not None:
        for child in multiprocessing.active_children():
            child.kill()
    os._exit(code)
