"""Writing several files so that all of them are there, or none."""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.errors import FishdownError

if TYPE_CHECKING:
    import os
    from collections.abc import Collection, Iterator


@contextmanager
def all_or_none(
    folder: str | os.PathLike[str],
    *,
    into: str = "",
    instead_of: Collection[str] = (),
    make: bool = False,
    refusal: type[FishdownError] = FishdownError,
) -> Iterator[Path]:
    """Take files into a draft; when it is complete they take their places, each in one step.

    A failure leaves what was there before.

    Parameters
    ----------
    folder : path
        Where the files go, and the draft beside them.
    into : str
        A folder in it, made if need be, where the files go instead.
    instead_of : collection of str
        Names of files that an earlier draft may have left: those that this one lacks would not
        belong to the others, and are removed.
    make : bool
        Make the folder, too.
    refusal : type
        What is raised.

    Yields
    ------
    Path
        A folder for the draft.

    Raises
    ------
    FishdownError
        Or `refusal`, if the folder cannot be written.
    """
    folder = Path(folder)
    try:
        if make:
            folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".unfinished-") as name:
            draft = Path(name)
            yield draft
            target = folder / into
            target.mkdir(exist_ok=True)
            files = sorted(draft.iterdir())
            for file in files:
                file.replace(target / file.name)
            for stale in {*instead_of} - {file.name for file in files}:
                (target / stale).unlink(missing_ok=True)
    except OSError as error:
        raise refusal(f"cannot write to {folder}: {error.strerror or error}") from error
