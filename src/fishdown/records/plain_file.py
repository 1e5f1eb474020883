"""Open one file that should be plain text or a workbook, whatever lies at its path."""

from __future__ import annotations

import stat
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


class UnreadableError(ValueError):
    """What lies at a path cannot be read.

    Parameters
    ----------
    wrong : str
        Why not.
    mend : str
        What to do about it.
    row : int, optional
        Line of the file, if it is one.
    """

    def __init__(self, wrong: str, mend: str, row: int | None = None) -> None:
        super().__init__(f"{wrong}; {mend}")
        self.wrong = wrong
        self.mend = mend
        self.row = row


def refused_by_system(error: OSError | ValueError) -> UnreadableError:
    """Say in plain words why the system does not open a path."""
    said = getattr(error, "strerror", None) or "the system refuses"
    return UnreadableError(
        f"cannot be opened ({said.lower()})", "close it in other programs and check your rights"
    )


def read_plain(path: Path) -> bytes:
    """Read all bytes of a plain file.

    Parameters
    ----------
    path : pathlib.Path
        Its path, or a link to it.

    Raises
    ------
    UnreadableError
        If it is a folder, a pipe, a device, a link to nothing, or the system refuses. A pipe is
        never opened, since that would wait for somebody to write into it.
    """
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise UnreadableError("a folder, not a file", "name a file, or put one in its place")
        if not stat.S_ISREG(mode):
            raise UnreadableError("a pipe or device, not a file", "put a plain file in its place")
        return path.read_bytes()
    except UnreadableError:
        raise
    except FileNotFoundError as error:
        if path.is_symlink():
            wrong, mend = "a link to a file that is not there", "put the file there, or delete it"
            raise UnreadableError(wrong, mend) from error
        wrong, mend = "there is no such file", "check the spelling, or the folder you are in"
        raise UnreadableError(wrong, mend) from error
    except (OSError, ValueError) as error:
        raise refused_by_system(error) from error


def as_text(content: bytes) -> str:
    """Decode the bytes of a text file, which must be UTF-8.

    Parameters
    ----------
    content : bytes
        With or without a byte order mark.

    Raises
    ------
    UnreadableError
        If they are not; it has the line of the first wrong letter.
    """
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableError(
            "a character that is not UTF-8",
            'save the file again in the encoding UTF-8 (in a spreadsheet: "CSV UTF-8")',
            content.count(b"\n", 0, error.start) + 1,
        ) from error
