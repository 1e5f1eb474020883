"""Lines of a long study, which are kept as its parts are done: reading them again."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from fishdown.errors import FishdownError


def kept_lines(path: Path, refusal: type[FishdownError]) -> list[str]:
    """Read the lines of a file, less one that was cut off while it was written.

    That one is dropped from the file too, so that another can follow.

    Parameters
    ----------
    path : Path
    refusal : type
        What is raised.

    Returns
    -------
    list of str
        None if there is no such file.

    Raises
    ------
    FishdownError
        Or `refusal`, naming the first line that is no text.
    OSError
        If the file cannot be used.
    """
    try:
        content = path.read_bytes()
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
            raise refusal(damaged(path, number, byte)) from error
    if torn:
        path.write_bytes(whole + ending)
    return lines


def damaged(path: Path, number: int, reason: str) -> str:
    """Say which line cannot be used, and how to mend that; lines are counted from 1."""
    return (
        f"{path}, line {number}: {reason}; delete this line, and what it held is done again, or "
        "delete the file and start anew"
    )
