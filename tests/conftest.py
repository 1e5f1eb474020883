"""Fixtures that several rooms share."""

from __future__ import annotations

import gc
import os
import signal
from collections.abc import Callable, Generator, Iterator
from contextlib import nullcontext
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from fake_fits import StubSampler
from field_records import write_folder
from tiers import AS_WRITTEN, LEFT_OUT, QUIET, assign, no_machine_code, nothing_slow, tier_of

# --- tiers, and how they are shared out over the cores


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Count the cores that this process may use; the plugin would count those it could see."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    assign(items)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """Look for garbage less often, and never among what was imported.

    Graphs are made of many small objects: looking through them took a fifth of the time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(400_000, 20, 20)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    tier = tier_of(item)
    with (
        nothing_slow() if tier in QUIET else nullcontext(),
        no_machine_code() if tier in AS_WRITTEN else nullcontext(),
    ):
        return (yield)


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say what was left out and how to have it."""
    config = terminalreporter.config
    if config.option.markexpr == LEFT_OUT:
        terminalreporter.write_line(
            "slow tests left out; have them with: python3 tests/run.py -m slow"
        )
    elif config.option.markexpr:
        terminalreporter.write_line(
            f"only the tests for -m {config.option.markexpr!r}; have the others with: "
            "python3 tests/run.py"
        )


# --- fixtures


@pytest.fixture
def folder_of(tmp_path: Path) -> Callable[..., Path]:
    """Write records as a campaign folder; returns its path."""

    def write(**tables: Any) -> Path:
        return write_folder(tmp_path / "records", **tables)

    return write


@pytest.fixture(scope="module")
def shared_folder_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """As `folder_of`, for records that the tests of a module share; a folder each time."""

    def write(**tables: Any) -> Path:
        return write_folder(tmp_path_factory.mktemp("records"), **tables)

    return write


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Print as into a file, 80 columns wide, wherever the tests run."""
    for name in ("FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE", "CLICOLOR_FORCE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def stub(monkeypatch: pytest.MonkeyPatch) -> Callable[..., type[StubSampler]]:
    """Put a sampler in place that only pretends; for exit codes, retries and printing.

    Priors are drawn from a few times only: that is a third of what is left to do.
    """

    def put(*divergences: int) -> type[StubSampler]:
        from fishdown.posterior import standard_groups

        sampler = StubSampler.with_divergences(*divergences)
        monkeypatch.setattr("fishdown.posterior.attempts.Sampler", sampler)
        few = partial(standard_groups.prior_draws, draws=20)
        monkeypatch.setattr(standard_groups, "prior_draws", few)
        return sampler

    return put


@pytest.fixture
def ctrl_c() -> Iterator[None]:
    """Hear Ctrl-C, and have children hear it: shells have it ignored in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
