"""The tiers of the tests, told apart in this one place; and a watch that fast tests stay fast.

A test belongs to a tier by its own marker, else by its place (test, file, folder), else by what it
asks for; all others are fast.
"""

from __future__ import annotations

import multiprocessing.process
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from fishdown.posterior import sampling

HERE = Path(__file__).parent

# Those that take longest come first, so that no core is left with them at the end.
TIERS = ("slow", "sampling", "commands", "models", "fast")
LEFT_OUT = "not slow"  # what pyproject.toml leaves out by default
# Those that sample nothing, and start no process and no browser.
QUIET = {"models", "fast"}
# Those that compile nothing to machine code.
AS_WRITTEN = QUIET | {"commands"}
# Folders, files or single tests below tests/.
PLACES = {
    "commands": (
        "calibration/test_command.py",
        "decisions/test_plan.py::test_the_plan_is_the_same_whoever_does_it",
        "figures",
        "formulas/test_formulas_table.py::test_importing_the_formulas_loads_neither_scipy_nor_pandas",
        "models/test_spec.py::test_importing_a_specification_imports_no_pymc",
        "api/test_damaged_fits.py",
        "records/test_records_spoiled.py",
        "records/test_records_files.py::test_importing_the_room_is_light",
        "records/test_records_files.py::test_checking_needs_neither_arrays_nor_models",
        "records/test_records_files.py::test_reading_needs_neither_arrays_nor_models",
        "report",
        "test_cli.py",
        "test_completion.py",
        "test_first_campaign.py",
        "test_marks_elsewhere.py::test_a_fit_and_its_page_have_them",
        "test_parallel.py",
        "test_ctrl_c.py",
        "test_atomic_write.py",
        "test_environment.py",
        "test_output.py",
        "test_spreadsheet.py",
        "test_terminal.py",
        "test_update_command.py",
        "test_walk_through.py",
        "test_wheel.py",
    ),
    "sampling": (
        "calibration/test_study.py",
        "campaigns",
        "checks/test_battery.py",
        "checks/test_evidence.py::test_conflict_withholds_the_verdict",
        "checks/test_sensitivity.py",
        "decisions/test_plan.py::test_refits_are_those_of_the_model",
        "models/test_graph.py::test_no_boolean_is_a_factor",
        "models/test_recaptures.py::test_the_same_for_many_catches_at_once_in_jax",
        "posterior/test_exact.py",
        "posterior/test_jaxified.py",
        "posterior/test_many.py",
        "posterior/test_sampling.py",
        "api/test_arviz.py",
        "api/test_store.py",
        "posterior/test_years_limit.py",
        "statements/test_unweighed.py::test_an_unweighed_lake_beside_a_weighed_one",
        "statements/test_unweighed.py::test_an_unweighed_year_borrows_from_its_lake_and_says_so",
        "test_demo.py",
    ),
    "models": (
        "bycatch/test_bycatch_rates.py::test_intervals_hold_what_they_promise",
        "calibration",
        "checks/test_recaptures_in_time_and_place.py",
        "checks/test_runs.py",
        "decisions/test_plan.py::test_precision_is_that_of_one_marking_and_one_recapture",
        "decisions/test_played_out.py",
        "models/test_padding.py",
        "posterior/test_at_draws.py",
        "posterior/test_pointwise.py",
        "posterior/test_relative_hazard.py",
        "posterior/test_sampling.py::test_no_retry_when_the_first_attempt_passes",
        "posterior/test_sampling.py::test_divergences_are_retried_twice_with_more_care",
        "posterior/test_sampling.py::test_a_retry_that_passes_is_the_last",
        "posterior/test_standard_groups.py",
    ),
}
TIER_OF_PLACE = {place: tier for tier, places in PLACES.items() for place in places}
# Tests that ask for one of these read what a command printed or what a browser showed.
FIXTURES = {"capsys": "commands", "browser": "commands"}


def tier_of(item: pytest.Item) -> str:
    """Return the tier of a test by its own marker, its place, or what it asks for."""
    for tier in TIERS:
        if item.get_closest_marker(tier):
            return tier
    path = item.path.relative_to(HERE)
    name = f"{path.as_posix()}::{getattr(item, 'originalname', item.name)}"
    for place in (name, *(one.as_posix() for one in (path, *path.parents))):
        if place in TIER_OF_PLACE:
            return TIER_OF_PLACE[place]
    asked = getattr(item, "fixturenames", ())
    return next((FIXTURES[one] for one in asked if one in FIXTURES), "fast")


def assign(items: list[pytest.Item]) -> None:
    """Mark each test with its tier; put the files with long ones first."""
    rank: dict[Path, int] = {}
    for item in items:
        tier = tier_of(item)
        item.add_marker(tier)
        if tier != "slow":
            rank[item.path] = min(rank.get(item.path, len(TIERS)), TIERS.index(tier))
    items.sort(key=lambda item: rank.get(item.path, 0))


@contextmanager
def no_machine_code() -> Iterator[None]:
    """Have graphs evaluated as they are written, node by node, by NumPy.

    For a few points that is by far the fastest: PyTensor's quickest way of compiling still rewrites
    the graph first, which takes ten times as long. Here what is there twice is computed once, and
    shapes are looked up, as some variables, which cannot be drawn, have nothing else. What the
    sampler makes of graphs is compiled all the same: that is for the tests that sample.
    """
    pytensor = sys.modules.get("pytensor")  # importing it takes longer than most tests
    if pytensor is None:
        yield
        return
    from pytensor.compile.mode import FAST_COMPILE, Mode
    from pytensor.graph.rewriting.db import RewriteDatabaseQuery

    shapes = RewriteDatabaseQuery(include=["local_shape_to_shape_i"])
    rewrites = RewriteDatabaseQuery(
        include=["merge", "ShapeOpt", "canonicalize"], subquery={"canonicalize": shapes}
    )
    as_written = Mode(linker="py", optimizer=rewrites)
    with pytest.MonkeyPatch.context() as patch:
        # The one object that PyMC and fishdown ask for, by name or by itself.
        for name in ("linker", "provided_linker", "_optimizer", "provided_optimizer"):
            patch.setattr(FAST_COMPILE, name, getattr(as_written, name))
        # Nor is it noted for every node which line made it.
        with pytensor.config.change_flags(mode="FAST_COMPILE", traceback__limit=0):
            yield


@contextmanager
def nothing_slow() -> Iterator[None]:
    """Let a test fail that samples, or starts another Python or a browser."""

    def refused(what: str) -> Callable[..., Any]:
        def fail(*arguments: Any, **options: Any) -> Any:
            pytest.fail(
                f"a test of the tiers fast and models {what}; put it into another in "
                "tests/tiers.py, or mark it sampling or commands",
                pytrace=False,
            )

        return fail

    start = subprocess.Popen.__init__

    # PyTensor asks the C++ compiler for its version; that is no matter.
    def start_no_python(self: Any, args: Any, *more: Any, **options: Any) -> None:
        program = args if isinstance(args, str) else str(args[0])
        if program == sys.executable or "chrom" in program:
            refused("starts another process")()
        start(self, args, *more, **options)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sampling, "_compile_nutpie", refused("samples"))
        patch.setattr(sampling.Sampler, "_sample_pymc", refused("samples"))
        patch.setattr(subprocess.Popen, "__init__", start_no_python)
        patch.setattr(
            multiprocessing.process.BaseProcess, "start", refused("starts another process")
        )
        yield
