"""Open a campaign, be it a folder or a workbook, as text; nothing is written anywhere."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.records.codes import Wrong
from fishdown.records.folder import open_folder
from fishdown.records.plain_file import said_by_system
from fishdown.records.source import Source
from fishdown.records.workbook import open_workbook

if TYPE_CHECKING:
    import os
    from collections.abc import Mapping


def open_source(path: str | os.PathLike[str], tried: Mapping[str, str] | None = None) -> Source:
    """Read all files of a campaign as text.

    Parameters
    ----------
    path : str or path-like
        A folder with campaign.toml and CSV files, or an .xlsx workbook.
    tried : mapping of str to str, optional
        Settings to read it with besides its own.
    """
    place = Path(path)
    source = Source({})
    try:
        mode = place.stat().st_mode
    except (OSError, ValueError) as error:
        if not isinstance(error, FileNotFoundError | NotADirectoryError):
            source.report(Wrong.FILE_REFUSED, str(path), said=said_by_system(error))
        elif place.is_symlink():
            source.report(Wrong.CAMPAIGN_LINKS_NOWHERE, str(path))
        else:
            source.report(Wrong.NO_SUCH_CAMPAIGN, str(path))
        return source
    if stat.S_ISDIR(mode):
        return open_folder(place, tried or {})
    if stat.S_ISREG(mode) and place.suffix.lower() == ".xlsx":
        return open_workbook(place, tried or {})
    source.report(Wrong.NO_CAMPAIGN, str(path))
    return source
