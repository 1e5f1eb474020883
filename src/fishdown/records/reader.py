"""Open a campaign, be it a folder or a workbook, as text; nothing is written anywhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.records.folder import SETTINGS_FILE, open_folder
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
    if place.is_dir():
        return open_folder(place)
    if place.is_file() and place.suffix.lower() == ".xlsx":
        return open_workbook(place)
    source = Source({})
    if place.is_file():
        wrong = "neither a folder nor an .xlsx workbook"
        mend = f"name the folder that holds {SETTINGS_FILE}, or a workbook saved as .xlsx"
    else:
        wrong = "no such folder or workbook"
        mend = "check the spelling, or the folder you are in"
    source.report([Problem(str(path), None, None, "", wrong, mend)])
    return source
