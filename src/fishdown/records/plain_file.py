"""Open one file that should be plain text or a workbook, whatever lies at its path."""

from __future__ import annotations

import stat
from typing import TYPE_CHECKING

from fishdown.records.codes import Wrong
from fishdown.records.problems import NoPlaceError

if TYPE_CHECKING:
    from pathlib import Path


class UnreadableError(NoPlaceError):
    """What lies at a path cannot be read."""


def refused_by_system(error: OSError | ValueError) -> UnreadableError:
    """Say in plain words why the system does not open a path."""
    return UnreadableError(Wrong.FILE_REFUSED, said=said_by_system(error))


def said_by_system(error: OSError | ValueError) -> str:
    """Return the system's own words, in lower case."""
    return (getattr(error, "strerror", None) or "the system refuses").lower()


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
            raise UnreadableError(Wrong.A_FOLDER)
        if not stat.S_ISREG(mode):
            raise UnreadableError(Wrong.A_PIPE_OR_DEVICE)
        return path.read_bytes()
    except UnreadableError:
        raise
    except FileNotFoundError as error:
        code = Wrong.FILE_LINKS_NOWHERE if path.is_symlink() else Wrong.NO_SUCH_FILE
        raise UnreadableError(code) from error
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
        row = content.count(b"\n", 0, error.start) + 1
        raise UnreadableError(Wrong.NOT_UTF8, row) from error
