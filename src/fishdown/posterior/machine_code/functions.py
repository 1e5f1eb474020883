"""From a graph to the machine code that the sampler calls, and from the disk if it is there."""

from __future__ import annotations

import dataclasses
import threading
import uuid
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise
from math import prod
from typing import TYPE_CHECKING, Any

import numba
import numpy as np
import pymc as pm
import pytensor.tensor as pt
from numba.core.errors import NumbaError
from nutpie.compile_pymc import CompiledPyMCModel, _prepare_dims_and_coords, address_as_void_pointer
from pymc.initial_point import make_initial_point_fn
from pymc.model.transform.optimization import freeze_dims_and_data
from pymc.pytensorf import compile as compile_graph
from pytensor.compile.sharedvalue import SharedVariable
from pytensor.graph.replace import clone_replace
from pytensor.graph.rewriting.utils import rewrite_graph
from pytensor.graph.traversal import ancestors
from pytensor.link.numba.cache import compile_numba_function_src
from pytensor.link.numba.dispatch.basic import numba_funcify

from fishdown.posterior.machine_code.data_block import block_of, reading
from fishdown.posterior.machine_code.fingerprint import fingerprint
from fishdown.posterior.machine_code.normal_coordinates import NormalCoordinates

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from fishdown.typing import FloatArray, Numbers

    type StartingPoint = Callable[[int | None], dict[str, FloatArray]]

_SIZE, _NUMBERS, _WORDS = (
    numba.types.uint64,
    numba.types.CPointer(numba.types.double),  # type: ignore[no-untyped-call]
    numba.types.CPointer(numba.types.int64),  # type: ignore[no-untyped-call]
)


@dataclass(frozen=True)
class _Form:
    """How the sampler calls one of the functions, and what that does with the graph's results."""

    signature: Any
    head: str
    body: str


_LOG_DENSITY = _Form(
    numba.types.int64(_SIZE, _NUMBERS, _NUMBERS, _NUMBERS, _WORDS),
    "def log_density(size, place, slope, density, data):",
    """
    found, by_place = computed(carray(place, ({size},)), data)
    carray(density, (1,))[0] = found.item()
    carray(slope, ({size},))[:] = by_place
    if not np.all(np.isfinite(by_place)):
        return 3
    if not np.isfinite(found.item()):
        return 4
    return 0
    """,
)
_VALUES = _Form(
    numba.types.int64(_SIZE, _SIZE, _NUMBERS, _NUMBERS, _WORDS),
    "def values(size, count, place, found, data):",
    """
    (all_values,) = computed(carray(place, ({size},)), data)
    carray(found, ({count},))[:] = all_values
    return 0
    """,
)


class MachineCode(CompiledPyMCModel):  # type: ignore[misc]
    """A compiled graph as nutpie takes it, with the data in one block."""

    def with_data(self, **updates: Numbers) -> MachineCode:
        """Return the same machine code with other arrays in place of some."""
        data = {
            name: np.array(updates.get(name, before), before.dtype, order="C")
            for name, before in self.shared_data.items()
        }
        return dataclasses.replace(self, shared_data=data, user_data=block_of(list(data.values())))


def compiled(model: pm.Model) -> MachineCode:
    """Return the machine code of a model's graph: that on disk, or else newly compiled.

    The data may be replaced by others, of other lengths too; the dimensions of variables stay.
    """
    stated = _Stated(model)
    density = _kept(stated, _LOG_DENSITY)
    values = _kept(stated, _VALUES)
    ends = [0, *accumulate(prod(shape) for shape in stated.shapes.values())]
    slices = [slice(*ends_of_one) for ends_of_one in pairwise(ends)]
    shape_info = list(stated.shapes), slices, list(stated.shapes.values())
    moved = [
        stated.model.rvs_to_values[free].name
        for free in stated.model.free_RVs
        if stated.model.rvs_to_transforms.get(free) is not None
    ]
    dims, coords = _prepare_dims_and_coords(stated.model, shape_info, moved)
    return MachineCode(
        _n_dim=stated.size,
        dims=dims,
        _coords=coords,
        _shapes=stated.shapes,
        compiled_logp_func=density,
        compiled_expand_func=values,
        initial_point_func=stated.start,
        shared_data=stated.data,
        shared_var_keys={shared: shared.name for shared in stated.shared},
        user_data=block_of(list(stated.data.values())),
        n_expanded=stated.count,
        shape_info=shape_info,
        logp_func=None,
        expand_func=None,
        reparameterized_names=moved,
    )


class _Stated:
    """A model's graph as it was stated: its inputs, what is wanted, and their names and shapes.

    Parameters
    ----------
    model : pymc.Model
    """

    def __init__(self, model: pm.Model) -> None:
        self.model = freeze_dims_and_data(model, data=[])
        # Where chains start follows data that are exchanged in the model itself.
        self._starting_point: StartingPoint = make_initial_point_fn(
            model=model,
            default_strategy="support_point",
            jitter_rvs=set(model.free_RVs),
            return_transformed=True,
        )
        self._one_at_a_time = threading.Lock()
        free = [self.model[one.name] for one in model.free_RVs]
        self.coordinates = [self.model.rvs_to_values[one] for one in free]
        known = {coordinate.name for coordinate in self.coordinates}
        self.others = [
            value for value in self.model.unobserved_value_vars if value.name not in known
        ]
        point = self._starting_point(0)
        self.shapes = {one.name: np.shape(point[one.name]) for one in self.coordinates}
        self.size = sum(map(prod, self.shapes.values()))
        self.normal = NormalCoordinates.of(self.model, free, self.shapes)
        log_density = self.normal.log_density_of_others()
        self.shared = [
            node
            for node in ancestors([log_density, *self.others])
            if isinstance(node, SharedVariable)
        ]
        self.data = {node.name: np.array(node.get_value(), order="C") for node in self.shared}
        self.shapes |= self._other_shapes(point)
        self.count = sum(map(prod, self.shapes.values()))
        self.fed = [shared.type(name=shared.name) for shared in self.shared]
        self.log_density, *self.others = clone_replace(
            [log_density, *self.others], dict(zip(self.shared, self.fed, strict=True))
        )

    def _other_shapes(self, point: Mapping[str, FloatArray]) -> dict[str, tuple[int, ...]]:
        unknown = [value for value in self.others if None in value.type.shape]
        found = {value.name: value.type.shape for value in self.others}
        if unknown:
            shapes = pm.pytensorf.compile(
                self.coordinates,
                [value.shape for value in unknown],
                mode="FAST_COMPILE",
                on_unused_input="ignore",
            )(*(point[one.name] for one in self.coordinates))
            found |= {
                value.name: tuple(map(int, shape))
                for value, shape in zip(unknown, shapes, strict=True)
            }
        return found

    def start(self, seed: int | None = None) -> FloatArray:
        """Return where a chain starts."""
        # Chains ask from threads of their own.
        with self._one_at_a_time:
            point = self._starting_point(seed)
        return np.concatenate([np.ravel(point[one.name]) for one in self.coordinates]).astype(float)

    @cached_property
    def key(self) -> str:
        """By what the machine code is found again; if by nothing, something new."""
        found = fingerprint(
            [*self.coordinates, *self.fed],
            [self.log_density, *self.others],
            tuple(self.shapes.items()),
            self.normal.described,
            self.model.check_bounds,
        )
        return found or uuid.uuid4().hex

    @cached_property
    def _parts(self) -> tuple[Any, list[Any]]:
        """The sampler's vector, and the coordinates cut out of it."""
        place = pt.TensorType("float64", shape=(self.size,))(name="place")
        parts, begin = [], 0
        for one in self.coordinates:
            shape = self.shapes[one.name]
            part = place[begin : begin + prod(shape)]
            parts.append(part.reshape(shape).astype(one.dtype))
            begin += prod(shape)
        return place, parts

    def results(self, form: _Form) -> list[Any]:
        """Return what one of the functions computes, in terms of coordinates and data."""
        if form is _VALUES:
            return [pt.concatenate([pt.as_tensor(one).ravel() for one in self._all_values])]
        rewrites = ["canonicalize", "stabilize"]
        if not self.model.check_bounds:
            rewrites.append("local_remove_check_parameter")
        density = rewrite_graph(self.log_density, include=rewrites)
        slopes = pt.grad(density, self.coordinates, disconnected_inputs="ignore")
        joined = pt.concatenate([slope.ravel() for slope in slopes])
        place, _ = self._parts
        of_normal, slope_of_normal = self.normal.at(place)
        return [density + of_normal, joined + slope_of_normal]

    @property
    def _all_values(self) -> list[Any]:
        return [*self.coordinates, *self.others]

    def function(self, form: _Form) -> Any:
        """Return one of the functions for numba, with the sampler's vector and the data."""
        place, parts = self._parts
        replaced = dict(zip(self.coordinates, parts, strict=True))
        results = clone_replace(self.results(form), replaced)
        with self.model:
            simplified = compile_graph(
                [place, *self.fed], results, mode="NUMBA", on_unused_input="ignore"
            )
        return numba_funcify(simplified.maker.fgraph)


def _kept(stated: _Stated, form: _Form) -> Any:
    """Return one of the functions as a C callback."""
    lines, names = reading(list(stated.data.values()))
    # A function of its own: where exceptions are caught, numba takes no call of so many arguments.
    computed = "\n".join(
        [
            "def computed(place, data):",
            *(f"    {line}" for line in lines),
            f"    return graph({', '.join(['place', *names])})",
        ]
    )
    body = form.body.format(size=stated.size, count=stated.count)
    inner = [line.removeprefix("    ") for line in body.strip("\n").splitlines()]
    source = "\n".join(
        [
            form.head,
            "    try:",
            *(f"        {line}" for line in inner if line.strip()),
            "    except Exception:",
            "        return 1",
        ]
    )
    name = form.head.removeprefix("def ").partition("(")[0]

    def callback(graph: Any) -> Any:
        known = {
            "np": np,
            "carray": numba.carray,  # type: ignore[attr-defined]
            "pointer": address_as_void_pointer,
            "graph": graph,
            # What is read from the disk looks for its module.
            "__name__": __name__,
        }
        known["computed"] = numba.njit(
            compile_numba_function_src(computed, "computed", global_env=known)
        )
        function = compile_numba_function_src(
            source, name, global_env=known, cache_key=f"{stated.key}_{name}"
        )
        return numba.cfunc(form.signature, cache=True)(function)

    try:
        # What is on disk is complete; only if nothing is, the graph is looked for, in vain.
        return callback(None)
    except NumbaError:
        return callback(stated.function(form))
