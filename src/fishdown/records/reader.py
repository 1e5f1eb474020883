"""Open a campaign, be it a folder or a workbook, as text; nothing is written anywhere."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.records.folder import SETTINGS_FILE, open_folder
from fishdown.records.plain_file import refused_by_system
from fishdown.records.problems import Problem
from fishdown.records.source import Source
from fishdown.records.workbook import open_workbook

if TYPE_CHECKING:
    import os


def open_source(path: str | os.PathLike[str]) -> Source:
    """Read all files of a campaign as text.

    Parameters
    ----------
    path : str or path-like
        A folder with campaign.toml and CSV files, or an .xlsx workbook.

    Returns
    -------
    Source
        What was found, with every problem of its files.
    """
    place = Path(path)
    source = Source({})
    try:
        mode = place.stat().st_mode
    except (OSError, ValueError) as error:
        missing = isinstance(error, FileNotFoundError | NotADirectoryError)
        if missing and place.is_symlink():
            wrong, mend = "a link to nothing", "name the folder or workbook itself"
        elif missing:
            wrong = "no such folder or workbook"
            mend = "check the spelling, or the folder you are in"
        else:
            refused = refused_by_system(error)
            wrong, mend = refused.wrong, refused.mend
        source.report([Problem(str(path), None, None, "", wrong, mend)])
        return source
    if stat.S_ISDIR(mode):
        return open_folder(place)
    if stat.S_ISREG(mode) and place.suffix.lower() == ".xlsx":
        return open_workbook(place)
    wrong = "neither a folder nor an .xlsx workbook"
    mend = f"name the folder that holds {SETTINGS_FILE}, or a workbook saved as .xlsx"
    source.report([Problem(str(path), None, None, "", wrong, mend)])
    return source
