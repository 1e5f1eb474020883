"""Fixtures that several rooms share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from field_records import write_folder


@pytest.fixture
def folder_of(tmp_path: Path) -> Callable[..., Path]:
    """Write records as a campaign folder; returns its path."""

    def write(**tables: Any) -> Path:
        return write_folder(tmp_path / "records", **tables)

    return write
