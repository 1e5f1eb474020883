"""Fixtures that several rooms share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fake_fits import StubSampler
from field_records import write_folder


@pytest.fixture
def folder_of(tmp_path: Path) -> Callable[..., Path]:
    """Write records as a campaign folder; returns its path."""

    def write(**tables: Any) -> Path:
        return write_folder(tmp_path / "records", **tables)

    return write


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Print as into a file, 80 columns wide, wherever the tests run."""
    for name in ("FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE", "CLICOLOR_FORCE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def stub(monkeypatch: pytest.MonkeyPatch) -> Callable[..., type[StubSampler]]:
    """Put a sampler in place that only pretends; for exit codes, retries and printing."""

    def put(*divergences: int) -> type[StubSampler]:
        sampler = StubSampler.with_divergences(*divergences)
        monkeypatch.setattr("fishdown.posterior.attempts.Sampler", sampler)
        return sampler

    return put
