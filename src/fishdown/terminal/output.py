"""Standard output and error that never break a command.

What an encoding lacks is written in plainer characters. What cannot be written at all (the disk is
full, or the reader has gone) is noted and dropped, so that long work continues and is saved.
"""

from __future__ import annotations

import codecs
import os
import sys
import time
import unicodedata
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, TextIO, cast

if TYPE_CHECKING:
    from collections.abc import Iterator

_PLAINER = {
    **dict.fromkeys("–—−─", "-"),
    **dict.fromkeys("‘’", "'"),
    **dict.fromkeys("“”", '"'),
    "±": "+-", "×": "x", "·": "*", "°": "deg ", "→": "->", "≤": "<=", "≥": ">=", "│": "|",
    "√": "sqrt", "∞": "inf", "\N{FRACTION SLASH}": "/",
}  # fmt: skip


@contextmanager
def lasting_output() -> Iterator[Channel]:
    """Put channels in place of standard output and error while the block runs.

    Yields
    ------
    Channel
        That of standard output.
    """
    before = sys.stdout, sys.stderr
    out, errors = (Channel(stream) for stream in before)
    sys.stdout, sys.stderr = cast(TextIO, out), cast(TextIO, errors)
    try:
        yield out
    finally:
        out.flush()
        errors.flush()
        sys.stdout, sys.stderr = before


class Channel:
    """A stream that takes whatever it is given.

    Parameters
    ----------
    stream : TextIO or None
        Where it goes; None where the process was started without one.

    Attributes
    ----------
    failure : OSError or None
        Why what was written last did not arrive.
    last : float
        When something was written last, by the monotonic clock; at first when it was made.
    """

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream
        self.failure: OSError | None = None
        self.last = time.monotonic()

    def write(self, text: str) -> int:
        """Write a text, or what the stream can show of it."""
        self.last = time.monotonic()
        if self._stream is not None and self.failure is None:
            encoding = self._stream.encoding or "utf-8"
            shown = text.encode(encoding, "fishdown.plainer").decode(encoding)
            try:
                self._stream.write(shown)
            except OSError as error:
                self._give_up(error)
        return len(text)

    def flush(self) -> None:
        """Send what was written on its way."""
        if self._stream is not None and self.failure is None:
            try:
                self._stream.flush()
            except OSError as error:
                self._give_up(error)

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self._stream is not None and self._stream.isatty()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def _give_up(self, error: OSError) -> None:
        self.failure = error
        # Python tries again when it ends, and would complain.
        with suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, cast(TextIO, self._stream).fileno())
            os.close(nowhere)


def _plainer(error: UnicodeError) -> tuple[str, int]:
    """Replace characters that an encoding lacks by plainer ones."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    # An accent is taken off its letter, which stays.
    letters = unicodedata.normalize("NFKD", error.object[error.start : error.end])
    plainer = "".join(
        _PLAINER.get(letter) or (letter if letter.isascii() else _unknown(letter))
        for letter in letters
        if not unicodedata.combining(letter)
    )
    return plainer, error.end


def _unknown(letter: str) -> str:
    # A byte in the name of a file that is no letter: its number tells it apart.
    return f"\\u{ord(letter):04x}" if "\ud800" <= letter <= "\udfff" else "?"


codecs.register_error("fishdown.plainer", _plainer)
