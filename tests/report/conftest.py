"""One browser and a few pages for all tests of the report."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser import Browser, lacking
from drawn_fits import HOSTILE, drawn_fit, records

from fishdown import Fit
from fishdown.demo import demo_folder


@pytest.fixture(scope="session")
def demo_fit() -> Fit:
    """Give the demo's records handmade draws."""
    return drawn_fit(demo_folder() / "watershed")


@pytest.fixture(scope="session")
def hostile_fit(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    """Lakes and species whose names would be markup to a browser or a formula to a spreadsheet."""
    folder = tmp_path_factory.mktemp("hostile") / "records"
    return drawn_fit(records(folder, HOSTILE, bycatch=("@SUM(A1)", "<b>roach")))


@pytest.fixture(scope="session")
def single_fit(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    return drawn_fit(records(tmp_path_factory.mktemp("single") / "records"), "one_lake")


@pytest.fixture(scope="session")
def many_fit(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    """Twelve lakes, one of them with a name that fits in no column."""
    names = [*(f"Lake {letter}" for letter in "ABCDEFGHIJK"), "Long Lostwithin Backwater Lagoon"]
    return drawn_fit(records(tmp_path_factory.mktemp("many") / "records", names))


@pytest.fixture(scope="session")
def page_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Save a fit and its page into a folder, once; returns the folder."""
    made: dict[tuple[int, bool], Path] = {}

    def folder(fit: Fit, *, despite_gate: bool = False) -> Path:
        key = (id(fit), despite_gate)
        if key not in made:
            made[key] = fit.save(tmp_path_factory.mktemp("page"), despite_gate=despite_gate)
            fit.report(made[key], despite_gate=despite_gate)
        return made[key]

    return folder


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    reason = lacking()
    if reason:
        pytest.skip(reason)
    browser = Browser(tmp_path_factory.mktemp("profile"))
    yield browser
    browser.close()
