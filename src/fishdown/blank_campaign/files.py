"""Write a new campaign as a folder of text files, or as a workbook; never over another."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.blank_campaign.contents import blank_tables, settings
from fishdown.errors import FishdownError

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from fishdown.blank_campaign.contents import BlankColumn

WORKBOOK = ".xlsx"


def new_campaign(path: str | os.PathLike[str], *, us: bool = False) -> list[str]:
    """Write a campaign to fill in.

    Parameters
    ----------
    path : str or path-like
        A folder, made if need be, or an .xlsx workbook.
    us : bool
        Whether its columns are in US customary units.

    Returns
    -------
    list of str
        The files, or the sheets of the workbook.

    Raises
    ------
    FishdownError
        If something is there already, or it cannot be written.
    """
    place = Path(path)
    tables = blank_tables(us=us)
    if place.suffix.lower() == WORKBOOK:
        if place.exists() or place.is_symlink():
            raise FishdownError(f"{place} is there already; name another file")
        from fishdown.blank_campaign.book import blank_book

        # Into memory: an archive that a full disk cuts off complains again when it is let go.
        content = io.BytesIO()
        blank_book(tables, settings(us=us)).save(content)
        with all_or_none(place.parent, make=True) as staged:
            (staged / place.name).write_bytes(content.getvalue())
        return ["campaign", *tables]
    if place.is_symlink() or (place.exists() and not place.is_dir()):
        raise FishdownError(f"{place} is there already; name another folder")
    if place.is_dir() and any(place.iterdir()):
        raise FishdownError(f"{place} is not empty; name a new folder, or an empty one")
    texts = {"campaign.toml": _toml(tables, us=us)}
    texts |= {f"{name}.csv": _csv(columns) for name, columns in tables.items()}
    with all_or_none(place, make=True) as staged:
        for name, text in texts.items():
            (staged / name).write_text(text, encoding="utf-8")
    return list(texts)


def _csv(columns: Sequence[BlankColumn]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(column.name for column in columns)
    writer.writerow(column.example for column in columns)
    return text.getvalue()


def _toml(tables: dict[str, list[BlankColumn]], *, us: bool) -> str:
    lines = ["# The settings of the campaign. A line behind # is a comment."]
    for name, value, meaning, needed in settings(us=us):
        setting = f'{name} = "{value}"' if isinstance(value, str) else f"{name} = {value}"
        lines.append(f"{'' if needed else '# '}{setting}  # {meaning}")
    lines += [
        "",
        "# The tables. Replace the example row of each by your own; delete a table that you do not",
        "# need, other than lakes.csv and pulls.csv. Cells marked * must be filled.",
    ]
    for name, columns in tables.items():
        lines += ["#", f"# {name}.csv"]
        lines += [
            f"#   {column.name}{'*' if column.field.required else ''}: {column.meaning}"
            for column in columns
        ]
    return "\n".join([*lines, ""])
