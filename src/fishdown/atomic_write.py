"""Atomic write of several files: all of them take their places, or none."""

from __future__ import annotations

import errno
import os
import platform
import shutil
import tempfile
import threading
import time
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.errors import FishdownError

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

UNFINISHED = ".unfinished-"
# Seconds after which a staging folder is taken as abandoned, if nobody can tell who writes it.
FORGOTTEN = 24.0 * 3600.0
_NO_SPACE = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
# Held while files take their places: whoever ends the process in haste waits for it.
replacing = threading.Lock()


@contextmanager
def all_or_none(
    folder: str | os.PathLike[str],
    *,
    into: str = "",
    instead_of: Collection[str] = (),
    make: bool = False,
    refusal: type[FishdownError] = FishdownError,
) -> Iterator[Path]:
    """Stage files in a folder of their own; when all are there, each takes its place in one step.

    A failure leaves what was there before; so does an interruption, also between two files.
    Staging folders that killed processes left behind are removed.

    Parameters
    ----------
    folder : path
        Where the files go, and meanwhile the staging folder.
    into : str
        A folder in it, made if need be, where the files go instead.
    instead_of : collection of str
        Names of files that an earlier write may have left, perhaps in folders of the folder: those
        that this one lacks would not belong to the others, and are removed.
    make : bool
        Make the folder, too.

    Yields
    ------
    Path
        The staging folder.

    Raises
    ------
    FishdownError
        Or `refusal`, if the folder cannot be written.
    """
    folder = Path(folder)
    made = _to_be_made(folder) if make else []
    try:
        if make:
            folder.mkdir(parents=True, exist_ok=True)
        _remove_abandoned(folder)
        with tempfile.TemporaryDirectory(dir=folder, prefix=_own_prefix()) as name:
            staged, earlier = Path(name) / "new", Path(name) / "earlier"
            staged.mkdir()
            earlier.mkdir()
            yield staged
            with replacing, _alone_in(folder):
                _replace(folder / into, staged, earlier, instead_of)
        made = []
    except OSError as error:
        said = f"cannot write to {folder}: {error.strerror or error}; {remedy(error)}"
        raise refusal(said) from error
    finally:
        for one in made:
            with suppress(OSError):
                one.rmdir()


def remedy(error: OSError) -> str:
    """Return what helps where something cannot be written."""
    if error.errno in _NO_SPACE:
        return "free some space, or name a folder on another disk"
    return "name a folder that can be written to"


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Wait for other processes that replace files in a folder, where the system can do that.

    Files of two fits that end at the same moment would else be mixed.
    """
    if os.name != "posix":
        yield
        return
    import fcntl

    place = os.open(folder, os.O_RDONLY)
    try:
        # Some disks of a network know no locks.
        with suppress(OSError):
            fcntl.flock(place, fcntl.LOCK_EX)
        yield
    finally:
        os.close(place)


def _replace(target: Path, staged: Path, earlier: Path, instead_of: Collection[str]) -> None:
    """Put the staged files into a folder; on any failure put back what was there."""
    new = sorted(staged.iterdir())
    for file in new:
        if (target / file.name).is_dir():
            text = f"a folder lies where the file {file.name} should go"
            raise IsADirectoryError(errno.EISDIR, text)
    made = not target.exists()
    target.mkdir(exist_ok=True)
    names = {file.name for file in new}
    stale = [target / name for name in sorted(instead_of) if name not in names]
    moved: list[tuple[Path, Path]] = []
    put: list[Path] = []
    try:
        # Those first: were this to end here, nothing stale would look like the new.
        for place in stale:
            if place.is_file():
                moved.append((earlier / str(len(moved)), place))
                place.replace(moved[-1][0])
        for place in (target / name for name in sorted(names)):
            if place.exists():
                moved.append((earlier / str(len(moved)), place))
                _keep(place, moved[-1][0])
        for file in new:
            put.append(target / file.name)
            file.replace(target / file.name)
    except BaseException:
        for place in put:
            place.unlink(missing_ok=True)
        for kept, place in moved:
            if kept.exists():
                kept.replace(place)
        if made:
            target.rmdir()
        raise
    for folder in {one.parent for one in stale} - {target}:
        # Where something else lies in it, it stays.
        with suppress(OSError):
            folder.rmdir()


def _keep(place: Path, kept: Path) -> None:
    """Keep a file elsewhere too, where the disk can do that; else move it there."""
    try:
        kept.hardlink_to(place)
    except OSError:
        place.replace(kept)


def _to_be_made(folder: Path) -> Sequence[Path]:
    """Return the folders that do not exist yet, the innermost first."""
    return [one for one in (folder, *folder.parents) if not one.exists()]


def _own_prefix() -> str:
    # A process is known by its number only on its own machine.
    return f"{UNFINISHED}{platform.node()}-{os.getpid()}-"


def _remove_abandoned(folder: Path) -> None:
    """Remove the staging folders of processes that were killed."""
    for staged in folder.glob(f"{UNFINISHED}*"):
        if _abandoned(staged):
            shutil.rmtree(staged, ignore_errors=True)


def _abandoned(staged: Path) -> bool:
    with suppress(OSError):
        if time.time() - staged.stat().st_mtime > FORGOTTEN:
            return True
    node, _, rest = staged.name.removeprefix(UNFINISHED).rpartition("-")[0].rpartition("-")
    if os.name != "posix" or node != platform.node() or not rest.isdecimal():
        return False
    try:
        os.kill(int(rest), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False
