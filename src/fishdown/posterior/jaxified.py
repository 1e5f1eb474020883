"""A model's graph as functions of JAX: of the sampler's coordinates and of the data.

Data are arguments here, so that one compiled function serves many campaigns, and many at once.
"""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.errors import FitError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from fishdown.typing import FloatArray, Numbers

type Array = Any


def need_jax() -> None:
    """See that what the sampler `numpyro` needs is installed.

    Raises
    ------
    FitError
        If it is not.
    """
    try:
        import jax  # noqa: F401
        import numpyro  # noqa: F401
    except ImportError as error:
        raise FitError(
            f"the sampler numpyro needs JAX and NumPyro ({error}): pip install 'fishdown[jax]'"
        ) from error


class JaxGraph:
    """A model's log-density, starting point and variables, as functions of JAX.

    All are pure, in double precision, and can be differentiated and mapped over campaigns, chains
    and draws.

    Parameters
    ----------
    model : pymc.Model
        The graph.

    Attributes
    ----------
    size : int
        Number of the sampler's coordinates.
    dims : dict of str to tuple of str
        Dimensions of each variable of `variables`.

    Raises
    ------
    FitError
        If JAX or NumPyro is not installed.
    """

    def __init__(self, model: Any) -> None:
        need_jax()
        from pymc.initial_point import make_initial_point_expression

        # How JAX computes the recaptures; known to PyTensor from here on.
        import fishdown.models.parts.recaptures.in_jax  # noqa: F401

        self._nodes = {node.name: node for node in model.data_vars}
        named = [*model.free_RVs, *model.deterministics]
        self.dims = {one.name: tuple(model.named_vars_to_dims.get(one.name) or ()) for one in named}
        coordinates = list(model.value_vars)
        self._start = self._function(
            [],
            make_initial_point_expression(
                free_rvs=model.free_RVs,
                rvs_to_transforms=model.rvs_to_transforms,
                initval_strategies=model.rvs_to_initial_values,
                return_transformed=True,
            ),
        )
        self._log_density = self._function(coordinates, [model.logp()])
        self._variables = self._function(coordinates, model.replace_rvs_by_values(named))
        start = self._start(*(node.get_value() for node in self._nodes.values()))
        self._shapes = [np.shape(value) for value in start]
        self.size = sum(int(np.prod(shape)) for shape in self._shapes)

    def data(self, arrays: Mapping[str, Numbers]) -> dict[str, Numbers]:
        """Return a campaign's arrays with the types that the graph has for them.

        Raises
        ------
        TypeError
            If numbers would be lost.
        """
        return {
            name: np.asarray(arrays[name]).astype(node.type.dtype, casting="same_kind")
            for name, node in self._nodes.items()
        }

    def own_data(self) -> dict[str, Numbers]:
        """Return the arrays that the model has now."""
        return {name: node.get_value() for name, node in self._nodes.items()}

    def log_density(self, point: Array, data: Mapping[str, Array]) -> Array:
        """Return the log-density of the posterior on the sampler's coordinates.

        Parameters
        ----------
        point : array, shape (size,)
        data : mapping of str to array

        Returns
        -------
        array, shape ()
        """
        return self._log_density(*self.apart(point), *self._in_order(data))[0]

    def start(self, data: Mapping[str, Array]) -> Array:
        """Return where the chains start, before they are set apart; shape (size,)."""
        import jax.numpy as jnp

        return jnp.concatenate([jnp.ravel(one) for one in self._start(*self._in_order(data))])

    def variables(self, point: Array, data: Mapping[str, Array]) -> dict[str, Array]:
        """Return all free and derived variables of the model at a point, by name."""
        found = self._variables(*self.apart(point), *self._in_order(data))
        return dict(zip(self.dims, found, strict=True))

    def apart(self, point: Array) -> list[Array]:
        """Return a point's coordinates, variable by variable, in the order of the model."""
        places = np.cumsum([0, *(int(np.prod(shape)) for shape in self._shapes)])
        return [
            point[first:last].reshape(shape)
            for first, last, shape in zip(places, places[1:], self._shapes, strict=False)
        ]

    def _in_order(self, data: Mapping[str, Array]) -> list[Array]:
        return [data[name] for name in self._nodes]

    def _function(self, coordinates: Sequence[Any], outputs: Sequence[Any]) -> Any:
        """Return a function of coordinates and data, in this order, that gives the outputs."""
        import pytensor.tensor as pt
        from pytensor.compile.mode import JAX
        from pytensor.compile.sharedvalue import SharedVariable
        from pytensor.graph.fg import FunctionGraph
        from pytensor.graph.replace import clone_replace
        from pytensor.graph.traversal import graph_inputs
        from pytensor.link.jax.dispatch import jax_funcify

        data = {node: node.type(name=node.name) for node in self._nodes.values()}
        # Lengths of dimensions.
        fixed = {
            one: pt.constant(one.get_value())
            for one in graph_inputs(outputs)
            if isinstance(one, SharedVariable) and one not in data
        }
        graph = FunctionGraph(
            inputs=[*coordinates, *data.values()],
            outputs=clone_replace(outputs, replace={**data, **fixed}),
            clone=True,
        )
        with warnings.catch_warnings():
            # What is checked of the parameters of a prior cannot be checked in compiled code.
            warnings.filterwarnings("ignore", message="Skipping")
            JAX.optimizer.rewrite(graph)
            return jax_funcify(graph)


def stacked(many: Sequence[Mapping[str, Numbers]]) -> dict[str, FloatArray]:
    """Stack the arrays of several campaigns along a new first axis."""
    return {name: np.stack([one[name] for one in many]) for name in many[0]}
