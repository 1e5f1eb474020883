"""The rooms of DEVELOPERS.md: every module is in one, none imports upwards, none in a circle."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from pathlib import Path
from typing import Any

import grimp
import pytest
from importlinter.contracts.layers import LayersContract

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "fishdown"
SETTINGS: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"][
    "importlinter"
]
(CONTRACT,) = SETTINGS["contracts"]
# From the top.
LAYERS: list[list[str]] = [re.split(r" *[|:] *", layer) for layer in CONTRACT["layers"]]
DOCUMENT = (ROOT / "DEVELOPERS.md").read_text("utf-8")


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph(
        "fishdown",
        exclude_type_checking_imports=SETTINGS["exclude_type_checking_imports"],
        cache_dir=None,
    )


@pytest.fixture
def with_import(graph: grimp.ImportGraph) -> Iterator[Callable[[str, str], None]]:
    """Let one room's module import another's, for as long as a test takes."""
    added: list[tuple[str, str]] = []

    def add(importer: str, imported: str) -> None:
        graph.add_import(importer=f"fishdown.{importer}", imported=f"fishdown.{imported}")
        added.append((importer, imported))

    yield add
    for importer, imported in added:
        graph.remove_import(importer=f"fishdown.{importer}", imported=f"fishdown.{imported}")


def rows_of_the_table() -> list[list[str]]:
    """Return the rooms of src/fishdown, row by row."""
    rows = re.findall(r"^\| (`src/fishdown/[^|]+)\|", DOCUMENT, re.MULTILINE)
    return [
        [
            name.removeprefix("src/fishdown/").removesuffix(".py").strip("/")
            for name in re.findall(r"`([^`]+)`", row)
        ]
        for row in rows
    ]


def circle(graph: grimp.ImportGraph) -> list[str]:
    """Return the modules of a circle, if there is one."""
    imports = {name: graph.find_modules_directly_imported_by(name) for name in graph.modules}
    try:
        TopologicalSorter(imports).prepare()
    except CycleError as error:
        modules: list[str] = error.args[1]
        return modules
    return []


def kept(graph: grimp.ImportGraph) -> bool:
    """Tell whether the layers of pyproject.toml are kept."""
    session = {"root_packages": [SETTINGS["root_package"]]}
    # As import-linter hands them on: without TOML's truth values.
    options = {key: str(said) if said is True else said for key, said in CONTRACT.items()}
    contract = LayersContract(CONTRACT["name"], session, options)
    return bool(contract.check(graph=graph, verbose=False).kept)


def test_every_module_is_in_a_room_of_the_table_and_every_room_in_the_layers() -> None:
    modules = {
        path.stem
        for path in SOURCE.iterdir()
        if path.suffix == ".py" or (path / "__init__.py").is_file()
    }
    table = sorted(room for row in rows_of_the_table() for room in row)
    assert table == sorted(modules - {"__init__"})
    assert table == sorted(room for layer in LAYERS for room in layer)


def test_the_table_goes_upwards() -> None:
    height = {room: -depth for depth, layer in enumerate(LAYERS) for room in layer}
    rows = rows_of_the_table()
    for below, above in pairwise(rows):
        assert max(height[room] for room in below) <= min(height[room] for room in above)


def test_no_module_imports_in_a_circle(graph: grimp.ImportGraph) -> None:
    assert circle(graph) == []


def test_rooms_import_downwards_only(graph: grimp.ImportGraph) -> None:
    assert kept(graph)


def test_a_circle_within_a_room_is_seen(
    graph: grimp.ImportGraph, with_import: Callable[[str, str], None]
) -> None:
    with_import("records.text", "records.folder")
    with_import("records.folder", "records.text")
    assert {"fishdown.records.text", "fishdown.records.folder"} <= set(circle(graph))
    assert kept(graph)


@pytest.mark.parametrize(
    ("importer", "imported"),
    [
        ("posterior.fitted", "api.fit"),
        ("posterior.quality", "statements.verdicts"),
        ("checks.result", "figures.canvas"),
        ("decisions.ahead", "figures.files"),
        ("display.ahead", "figures.ahead"),
        ("errors", "records.problems"),
    ],
)
def test_an_import_upwards_or_across_is_seen(
    graph: grimp.ImportGraph,
    with_import: Callable[[str, str], None],
    importer: str,
    imported: str,
) -> None:
    with_import(importer, imported)
    assert not kept(graph)


def test_imports_for_types_and_within_functions_count(graph: grimp.ImportGraph) -> None:
    modules = [path for path in SOURCE.rglob("*.py") if path.name != "__init__.py"]
    for path in modules:
        text = path.read_text("utf-8")
        name = ".".join(("fishdown", *path.relative_to(SOURCE).with_suffix("").parts))
        said = set(re.findall(r"^ +from (fishdown[\w.]*) import", text, re.MULTILINE))
        seen = graph.find_modules_directly_imported_by(name)
        for one in said:
            assert any(found == one or found.startswith(f"{one}.") for found in seen), (name, one)
