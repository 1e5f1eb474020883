"""What tells one graph from another, and from the same graph under another release."""

from __future__ import annotations

from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from types import FunctionType
from typing import TYPE_CHECKING, Any

import numpy as np
from pytensor import config
from pytensor.graph.basic import Constant
from pytensor.graph.op import Op
from pytensor.graph.traversal import toposort
from pytensor.graph.type import Type

if TYPE_CHECKING:
    from collections.abc import Sequence

_LIBRARIES = ("numba", "numpy", "nutpie", "pymc", "pytensor", "scipy")
# Of what these define a release says all; what others do, nothing here can know.
_OURS = "fishdown"
_KNOWN = ("numpy", "pymc", "pytensor", _OURS)
_PLAIN = (bool, int, float, complex, str, bytes, type(None), np.dtype, np.generic, slice)


class UnknownError(Exception):
    """A graph contains what cannot be told apart."""


def fingerprint(inputs: Sequence[Any], outputs: Sequence[Any], *more: object) -> str | None:
    """Return a digest of all that the machine code of a graph depends on.

    Parameters
    ----------
    inputs, outputs : sequence of tensor
        Of the graph; data are among the inputs.
    *more : object
        Plain values to tell apart besides.

    Returns
    -------
    str or None
        None if the graph has operations of which a change would go unnoticed: those defined
        outside fishdown and its libraries.
    """
    try:
        stated = [_graph(inputs, outputs), _described(more), config.floatX, *_releases()]
    except UnknownError:
        return None
    return sha256("\n".join(stated).encode()).hexdigest()


def _releases() -> list[str]:
    """List the libraries' releases, and fishdown's own code line by line."""
    package = Path(__file__).parents[2]
    own = sha256()
    for room in ("models", "posterior/machine_code"):
        for path in sorted((package / room).rglob("*.py")):
            own.update(path.read_bytes())
    return [*(f"{name} {version(name)}" for name in _LIBRARIES), own.hexdigest()]


def _graph(inputs: Sequence[Any], outputs: Sequence[Any]) -> str:
    """Write a graph down, node by node."""
    places = {variable: f"input {place}" for place, variable in enumerate(inputs)}
    lines = [repr(variable.type) for variable in inputs]
    described: dict[Any, str] = {}

    def place_of(variable: Any) -> str:
        if variable not in places:
            if not isinstance(variable, Constant):
                raise UnknownError(f"{variable} is no input")
            places[variable] = f"{variable.type!r} {_described(variable.data)}"
        return places[variable]

    for number, node in enumerate(toposort(outputs, blockers=inputs)):
        if node.op not in described:
            described[node.op] = _described(node.op)
        from_where = ", ".join(place_of(variable) for variable in node.inputs)
        kinds = ", ".join(repr(variable.type) for variable in node.outputs)
        lines.append(f"{described[node.op]} of {from_where} gives {kinds}")
        for place, variable in enumerate(node.outputs):
            places.setdefault(variable, f"node {number}.{place}")
    return "\n".join([*lines, *(place_of(variable) for variable in outputs)])


def _described(thing: Any) -> str:
    """Write down what an operation, or a property of one, is."""
    if isinstance(thing, _PLAIN):
        return f"{type(thing).__name__} {thing!r}"
    if isinstance(thing, np.ndarray):
        if thing.dtype.hasobject:
            raise UnknownError(f"{thing!r}")
        content = sha256(np.ascontiguousarray(thing).tobytes()).hexdigest()
        return f"array {thing.dtype.str} {thing.shape} {content}"
    if isinstance(thing, tuple | list):
        return f"({', '.join(map(_described, thing))})"
    if isinstance(thing, frozenset | set):
        return f"{{{', '.join(sorted(map(_described, thing)))}}}"
    if isinstance(thing, dict) or hasattr(thing, "items"):
        return f"{{{', '.join(sorted(map(_described, thing.items())))}}}"
    if isinstance(thing, type | FunctionType):
        return _name(thing)
    if isinstance(thing, Type):
        return f"{_name(type(thing))} {thing!r}"
    if isinstance(thing, Op) and hasattr(thing, "fgraph"):
        inner = _graph(thing.fgraph.inputs, thing.fgraph.outputs)
        return f"{_name(type(thing))} {inner}"
    if isinstance(thing, Op) and hasattr(thing, "__props__"):
        return f"{_name(type(thing))} {_described(thing._props_dict())}"
    return f"{_name(type(thing))} {_described(_state(thing))}"


def _state(thing: Any) -> dict[str, Any]:
    state = {name: value for name, value in vars(thing).items() if not name.startswith("_")}
    # What a scalar operation is called, and what it was compiled to, does not change it.
    return {name: value for name, value in state.items() if name not in {"name", "tag", "nfunc"}}


def _name(thing: Any) -> str:
    """Return where a class or function is defined."""
    module, name = thing.__module__ or "", thing.__qualname__
    if module.split(".")[0] not in _KNOWN or "<" in name:
        raise UnknownError(f"{module}.{name}")
    return f"{module}.{name}"
