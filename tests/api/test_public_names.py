"""The public names: each is there, says what it takes, and describes it."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from drawn_fits import drawn_fit, records

import fishdown

VERBS = (
    "calibrate",
    "compare_shapes",
    "fit",
    "lift_time",
    "load",
    "plan",
    "read",
    "read_model",
    "rerun",
    "update",
)
METHODS = [
    getattr(fishdown.Fit, name)
    for name in dir(fishdown.Fit)
    if not name.startswith("_") and inspect.isfunction(getattr(fishdown.Fit, name))
]


def described(function: Callable[..., Any]) -> set[str]:
    """Return the parameters that a docstring in numpydoc's format describes."""
    parts = re.split(r"\n(\w+)\n-+\n", inspect.getdoc(function) or "")
    sections = dict(zip(parts[1::2], parts[2::2], strict=True))
    heads = re.findall(r"^(\w[\w, ]*?)(?: :.*)?$", sections.get("Parameters", ""), re.MULTILINE)
    return {name for head in heads for name in head.split(", ")}


def test_each_name_is_there() -> None:
    for name in fishdown.__all__:
        assert getattr(fishdown, name) is not None
    assert set(fishdown.__all__) == set(dir(fishdown))


def test_an_unknown_name() -> None:
    with pytest.raises(AttributeError, match="has no attribute 'fits'"):
        _ = fishdown.fits


@pytest.mark.parametrize(
    "function",
    [*METHODS, *(getattr(fishdown, name) for name in VERBS)],
    ids=lambda function: function.__qualname__,
)
def test_arguments_are_named_and_described(function: Callable[..., Any]) -> None:
    named = [one for one in inspect.signature(function).parameters.values() if one.name != "self"]
    assert all(one.kind not in (one.VAR_POSITIONAL, one.VAR_KEYWORD) for one in named)
    assert described(function) >= {one.name for one in named}


def test_a_fit_says_in_a_line_what_it_is(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "records"), "few_passes")
    assert re.fullmatch(r"<Fit of <Campaign '.*> by few_passes: gate (passed|FAILED)>", repr(fit))
