"""Campaigns spoiled at random are read, or refused with readable words; nothing else happens."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from spoiling import outcome, somewhere, spoiled_folders
from spoiling_books import spoiled_workbooks

FEW, AT_A_TIME = 25, 500  # A minute or a few, so that a long run can be broken off and looked at.
MANY = [*(10 * ["folders"]), "workbooks"]
ORDINARY = settings(
    max_examples=FEW, deadline=None, derandomize=True, database=None,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
NAMES = st.sampled_from([b"campaign", b"lacs l\xe9gers", b"\x1b[2J", b"a b", b"[bold]"])


def try_folders(how: settings) -> Counter[int]:
    outcomes: Counter[int] = Counter()

    @how
    @given(make=spoiled_folders(), name=NAMES)
    def try_one(make: Callable[[Path], None], name: bytes) -> None:
        with somewhere(name) as folder:
            make(folder)
            outcomes[outcome(folder)] += 1

    try_one()
    return outcomes


def try_workbooks(how: settings) -> Counter[int]:
    outcomes: Counter[int] = Counter()

    @how
    @given(content=spoiled_workbooks())
    def try_one(content: bytes) -> None:
        with somewhere(b"book.xlsx") as book:
            book.write_bytes(content)
            outcomes[outcome(book)] += 1

    try_one()
    return outcomes


def test_spoiled_folders() -> None:
    assert try_folders(ORDINARY).total() >= FEW


def test_spoiled_workbooks() -> None:
    assert try_workbooks(ORDINARY).total() >= FEW


@pytest.mark.slow
@pytest.mark.parametrize(("run", "kind"), [*enumerate(MANY)])
def test_thousands_of_spoiled_campaigns(
    run: int, kind: str, record_property: Callable[[str, object], None]
) -> None:
    how = settings(ORDINARY, max_examples=AT_A_TIME, derandomize=False, print_blob=True)
    outcomes = try_folders(how) if kind == "folders" else try_workbooks(how)
    print(f"run {run}, {kind}: {outcomes[0]:,} read, {outcomes[1]:,} refused")
    record_property("outcomes", dict(outcomes))
    assert outcomes.total() >= AT_A_TIME
    assert min(outcomes[0], outcomes[1]) > AT_A_TIME / 50
