"""One setting as the crew wrote it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """One setting as written: its value and the line it stands on."""

    value: object
    row: int | None
