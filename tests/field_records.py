"""Field records for tests: folders of CSV written from short tables."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

Rows = Sequence[dict[str, Any]]


def write_folder(
    folder: Path,
    *,
    lakes: Rows,
    pulls: Rows,
    species: str = "common carp",
    threshold: float = 100.0,
    **tables: Rows,
) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "campaign.toml").write_text(
        f'title = "A test"\nspecies = "{species}"\nthreshold_kg_per_ha = {threshold}\n',
        encoding="utf-8",
    )
    for name, rows in {"lakes": lakes, "pulls": pulls, **tables}.items():
        columns = list(dict.fromkeys(column for row in rows for column in row))
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fieldnames=columns)
            writer.writeheader()
            writer.writerows(rows)
    return folder


def daily_pulls(lake: str, catches: Sequence[int], start: str = "2024-06-01", **more: Any) -> Rows:
    """One pull a day; `more` gives further columns, a value or a sequence each."""
    import datetime as dt

    first = dt.date.fromisoformat(start)
    rows = []
    for day, caught in enumerate(catches):
        row = {"date": first + dt.timedelta(days=day), "lake": lake, "net": "A", "caught": caught}
        for column, value in more.items():
            row[column] = value[day] if isinstance(value, list | tuple) else value
        rows.append(row)
    return rows
