"""What holds arrays is equal or not: no answer for each element, no error."""

from __future__ import annotations

import ast
import copy
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from drawn_fits import drawn_fit, records

import fishdown
from fishdown.equality import by_value, same

SOURCE = Path(__file__).parents[1] / "src" / "fishdown"
# Annotations of what compares element by element.
HOLDS_ARRAYS = re.compile(
    r"\b(FloatArray|IntArray|ndarray|NDArray|Array|Flags|Series|DataFrame|Dataset|DataArray"
    r"|DataTree)\b"
)


def without_value(source: str) -> Iterator[str]:
    """Yield the dataclasses of a source that hold arrays and are not compared by value."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.ClassDef):
            continue
        decorators = [ast.unparse(one) for one in node.decorator_list]
        held = [ast.unparse(one.annotation) for one in node.body if isinstance(one, ast.AnnAssign)]
        if (
            any(one.startswith("dataclass") for one in decorators)
            and any(HOLDS_ARRAYS.search(one) and "Callable" not in one for one in held)
            and decorators[0] != "by_value"
        ):
            yield node.name


def test_every_dataclass_with_arrays_is_compared_by_value() -> None:
    found = {
        f"{path.relative_to(SOURCE)}: {name}"
        for path in SOURCE.rglob("*.py")
        for name in without_value(path.read_text("utf-8"))
    }
    assert found == set()


@pytest.mark.parametrize("decorators", ["@dataclass(frozen=True)", "@dataclass"])
def test_one_that_is_not_would_be_found(decorators: str) -> None:
    body = "class Draws:\n    of: str\n    values: FloatArray | None\n"
    assert list(without_value(f"{decorators}\n{body}")) == ["Draws"]
    assert list(without_value(f"@by_value\n{decorators}\n{body}")) == []


NAN = float("nan")


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        (np.array([1.0, NAN]), np.array([1.0, NAN]), True),
        (np.array([1.0, NAN]), np.array([1.0, 2.0]), False),
        (np.zeros(2), np.zeros((2, 1)), False),
        (np.zeros(0), np.zeros(0), True),
        (np.zeros(1), 0.0, False),
        (np.array([1]), np.array(["1"]), False),
        (np.array(["a", "b"]), np.array(["a", "b"]), True),
        (np.array(["a", None], dtype=object), np.array(["a", None], dtype=object), True),
        (np.array(["2025", "NaT"], "M8[D]"), np.array(["2025", "NaT"], "M8[D]"), True),
        (pd.DataFrame({"a": [1.0, NAN]}), pd.DataFrame({"a": [1.0, NAN]}), True),
        (pd.DataFrame({"a": [1.0]}), pd.DataFrame({"b": [1.0]}), False),
        (xr.Dataset({"a": ("x", [1.0])}), xr.Dataset({"a": ("x", [1.0])}), True),
        (xr.Dataset({"a": ("x", [1.0])}), xr.Dataset({"a": ("y", [1.0])}), False),
        (xr.DataArray([1.0], attrs={"units": "kg"}), xr.DataArray([1.0]), False),
        ({"k": [np.ones(2), NAN]}, {"k": [np.ones(2), NAN]}, True),
        ({"k": [np.ones(2)]}, {"k": [np.ones(3)]}, False),
        ({"k": 1}, {"l": 1}, False),
        ((1, 2), (1, 2, 3), False),
        (1.0, np.float64(1.0), True),
        (np.float64(NAN), np.float64(NAN), True),
        (None, np.zeros(2), False),
    ],
)
def test_two_values(one: Any, other: Any, alike: bool) -> None:
    assert same(one, other) is alike
    assert same(other, one) is alike


@by_value
@dataclass(frozen=True)
class Catch:
    fish: np.ndarray[Any, Any]
    net: str = "a"


def test_a_class() -> None:
    one = Catch(np.arange(3))
    assert one == Catch(np.arange(3))
    assert one != Catch(np.arange(4))
    assert one != replace(one, net="b")
    assert one != "something else"
    with pytest.raises(TypeError, match="unhashable"):
        hash(one)


@pytest.fixture(scope="module")
def fit(tmp_path_factory: pytest.TempPathFactory) -> fishdown.Fit:
    return drawn_fit(records(tmp_path_factory.mktemp("records")), "one_lake")


def test_campaigns(fit: fishdown.Fit) -> None:
    campaign = fit.campaign
    assert campaign == copy.deepcopy(campaign)
    pulls = campaign.pulls.copy(deep=True)
    pulls["caught"].values[0] += 1
    assert campaign != replace(campaign, pulls=pulls)
    assert campaign != replace(campaign, warnings=("odd",))


def test_data_of_the_model(fit: fishdown.Fit) -> None:
    data = fit.data
    assert data == copy.deepcopy(data)
    more = replace(data.catches, caught=data.catches.caught + 1)
    assert data != replace(data, catches=more)
    assert data != replace(data, counts=replace(data.counts, bound=data.counts.bound + 1))


def test_fits(fit: fishdown.Fit) -> None:
    campaign, run = copy.deepcopy(fit.campaign), copy.deepcopy(fit.run)
    again = fishdown.Fit(campaign, fit.spec, fit.tree.copy(deep=True), run)
    assert fit == again
    again.tree["quantities"]["abundance_before"].values.flat[0] += 1
    assert fit != again
    assert fit != replace(fit, run={**fit.run, "seed": 1})
    assert fit in [fit]


def test_tables_ahead(fit: fishdown.Fit) -> None:
    assert fit.ahead(2, despite_gate=True) == fit.ahead(2, despite_gate=True)
    assert fit.ahead(2, despite_gate=True) != fit.ahead(2, seed=1, despite_gate=True)
    assert fit.ahead(2, despite_gate=True) != fit.ahead(3, despite_gate=True)
