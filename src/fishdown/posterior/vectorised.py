"""NumPyro's NUTS over campaigns and chains at once: one program, with all of them in step."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.posterior.jaxified import need_jax

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import xarray as xr

    from fishdown.posterior.jaxified import JaxGraph
    from fishdown.typing import BoolArray, FloatArray, IntArray, Numbers

# Draws between two reports; Ctrl-C is heard there too.
AT_ONCE = 25
# Chains start within this distance of the starting point, in each coordinate, as with the other
# samplers; where the density is not finite there, half of it, and so on.
APART, HALVINGS = 1.0, 10


@by_value
@dataclass(frozen=True, eq=False)
class Drawn:
    """Draws of several campaigns.

    Attributes
    ----------
    variables : dict of str to ndarray, shape (campaign, chain, draw, …)
        The model's variables, free and derived.
    diverging : ndarray of bool, shape (campaign, chain, draw)
    steps : ndarray of int, shape (campaign, chain, draw)
        Steps of the leapfrog integrator.
    acceptance : ndarray, shape (campaign, chain, draw)
        Mean probability of acceptance over the trajectory.
    energy : ndarray, shape (campaign, chain, draw)
    step_size : ndarray, shape (campaign, chain, draw)
    """

    variables: dict[str, FloatArray]
    diverging: BoolArray
    steps: IntArray
    acceptance: FloatArray
    energy: FloatArray
    step_size: FloatArray


class VectorisedNuts:
    """NUTS for campaigns with data of one shape, compiled on first use.

    Parameters
    ----------
    graph : JaxGraph
    max_tree_depth : int
        A trajectory has at most two to this power steps. All chains of all campaigns wait for the
        longest one.
    """

    def __init__(self, graph: JaxGraph, max_tree_depth: int) -> None:
        need_jax()
        import jax

        self._graph = graph
        self._depth = max_tree_depth
        self._variables = jax.jit(_over_draws(graph.variables))
        self._first_points = jax.jit(
            jax.vmap(partial(_first_points, graph), in_axes=(0, 0, None)), static_argnums=2
        )
        self._programs: dict[tuple[int, float], tuple[Any, Any]] = {}

    def sample(
        self,
        data: Mapping[str, Numbers],
        numbers: Sequence[int],
        *,
        draws: int,
        tune: int,
        chains: int,
        seed: int,
        target_accept: float,
        on_progress: Callable[[int, int, int], None] | None = None,
    ) -> Drawn:
        """Draw from the posteriors.

        Parameters
        ----------
        data : mapping of str to ndarray, shape (campaign, …)
        numbers : sequence of int
            Number of each campaign, which with the seed determines its random numbers.
        draws, tune, chains, seed, target_accept
            As in `fishdown.posterior.sampling.SamplerSettings`.
        on_progress : callable, optional
            Called with draws done and draws in all, of all chains, and divergences so far.

        Raises
        ------
        FitError
            If the density is not finite about the starting point of a campaign.
        """
        import jax
        import jax.numpy as jnp

        begin, go_on = self._program(tune, target_accept)
        keys = jax.vmap(partial(jax.random.fold_in, jax.random.key(seed)))(jnp.asarray(numbers))
        fed = jax.tree.map(jnp.asarray, dict(data))
        points, finite = self._first_points(fed, keys, chains)
        if not bool(finite.all()):
            lost = [str(number) for number, found in zip(numbers, finite, strict=True)
                    if not bool(found.all())]  # fmt: skip
            which = f" for campaign {', '.join(lost)}" if len(numbers) > 1 else ""
            raise FitError(f"the sampler numpyro found no place to start{which}")
        state = begin(points, fed, keys)
        wanted = tune + draws
        kept: list[Any] = []
        diverged = 0
        for done in range(AT_ONCE, wanted + AT_ONCE, AT_ONCE):
            state, found = go_on(state, fed)
            found = jax.tree.map(np.asarray, found)
            # The first piece that is kept may begin with tuning draws.
            tuning = max(0, tune - (done - AT_ONCE))
            if tuning < AT_ONCE:
                kept.append(jax.tree.map(lambda one, first=tuning: one[:, :, first:], found))
                diverged += int(kept[-1]["diverging"].sum())
            if on_progress is not None:
                lanes = len(numbers) * chains
                on_progress(min(done, wanted) * lanes, wanted * lanes, diverged)
        found = {
            name: np.concatenate([one[name] for one in kept], axis=2)[:, :, :draws]
            for name in kept[0]
        }
        variables = self._variables(found.pop("point"), fed)
        return Drawn(
            variables={name: np.asarray(values) for name, values in variables.items()}, **found
        )

    def _program(self, tune: int, target_accept: float) -> tuple[Any, Any]:
        """Return functions that begin, and that go on for `AT_ONCE` draws."""
        import jax
        from numpyro.infer.hmc import hmc

        if (tune, target_accept) in self._programs:
            return self._programs[tune, target_accept]

        def potential_of(data: Mapping[str, Any]) -> Callable[[Any], Any]:
            return lambda point: -self._graph.log_density(point, data)

        start, move = hmc(potential_fn_gen=potential_of, algo="NUTS")

        def begin_one(point: Any, data: Any, key: Any) -> Any:
            return start(
                point,
                tune,
                target_accept_prob=target_accept,
                max_tree_depth=self._depth,
                model_args=(data,),
                rng_key=key,
            )

        def begin(points: Any, data: Any, key: Any) -> Any:
            keys = jax.random.split(jax.random.fold_in(key, 1), len(points))
            return jax.vmap(begin_one, in_axes=(0, None, 0))(points, data, keys)

        def go_on(state: Any, data: Any) -> Any:
            def one_chain(state: Any, data: Any) -> Any:
                return move(state, model_args=(data,))

            every = jax.vmap(jax.vmap(one_chain, in_axes=(0, None)))

            def one_draw(state: Any, _: None) -> Any:
                state = every(state, data)
                return state, {
                    "point": state.z,
                    "diverging": state.diverging,
                    "steps": state.num_steps,
                    "acceptance": state.accept_prob,
                    "energy": state.energy,
                    "step_size": state.adapt_state.step_size,
                }

            state, found = jax.lax.scan(one_draw, state, None, length=AT_ONCE)
            # From (draw, campaign, chain, …).
            return state, {name: jax.numpy.moveaxis(values, 0, 2) for name, values in found.items()}

        self._programs[tune, target_accept] = jax.jit(jax.vmap(begin)), jax.jit(go_on)
        return self._programs[tune, target_accept]


def tree_of(
    drawn: Drawn, which: int, dims: Mapping[str, tuple[str, ...]], coords: Mapping[str, Any]
) -> xr.DataTree:
    """Return the draws of one campaign as the other samplers give them.

    Parameters
    ----------
    which : int
        Position of the campaign.
    dims : mapping of str to tuple of str
        Dimensions of the variables.
    coords : mapping of str to sequence of str
        Labels of dimensions; of a longer one only the first are kept, and what is there for
        larger campaigns is left out.

    Returns
    -------
    xarray.DataTree
        Groups ``posterior`` and ``sample_stats``.
    """
    import xarray as xr

    def own(name: str, values: FloatArray) -> FloatArray:
        kept = [slice(len(coords[dim]) if dim in coords else None) for dim in dims[name]]
        return values[(slice(None), slice(None), *kept)]

    chains, draws = drawn.diverging.shape[1:]
    sampled = ("chain", "draw")
    numbered = {"chain": np.arange(chains), "draw": np.arange(draws)}
    used = {dim for one in dims.values() for dim in one}
    posterior = xr.Dataset(
        {name: ((*sampled, *dims[name]), own(name, drawn.variables[name][which])) for name in dims},
        coords={**numbered, **{dim: list(of) for dim, of in coords.items() if dim in used}},
    )
    stats = {
        "diverging": drawn.diverging,
        "n_steps": drawn.steps,
        "acceptance_rate": drawn.acceptance,
        "energy": drawn.energy,
        "step_size": drawn.step_size,
    }
    return xr.DataTree.from_dict(
        {
            "posterior": posterior,
            "sample_stats": xr.Dataset(
                {name: (sampled, values[which]) for name, values in stats.items()}, coords=numbered
            ),
        }
    )


def _first_points(graph: JaxGraph, data: Any, key: Any, chains: int) -> tuple[Any, Any]:
    """Return where the chains of a campaign start, and whether the density is finite there."""
    import jax
    import jax.numpy as jnp

    def of_chain(key: Any) -> tuple[Any, Any]:
        away = jax.random.uniform(key, (graph.size,), minval=-APART, maxval=APART)
        tries = centre + away * 0.5 ** jnp.arange(HALVINGS)[:, None]

        def is_finite(point: Any) -> Any:
            value, slope = jax.value_and_grad(graph.log_density)(point, data)
            return jnp.isfinite(value) & jnp.isfinite(slope).all()

        finite = jax.lax.map(is_finite, tries)
        return tries[jnp.argmax(finite)], finite.any()

    centre = graph.start(data)
    found: tuple[Any, Any] = jax.vmap(of_chain)(jax.random.split(key, chains))
    return found


def _over_draws(variables: Callable[[Any, Any], Any]) -> Callable[[Any, Any], Any]:
    """Return the same for points of shape (campaign, chain, draw, size); draws one by one."""
    import jax

    def of_campaign(points: Any, data: Any) -> Any:
        def of_chain(points: Any) -> Any:
            return jax.lax.map(lambda point: variables(point, data), points)

        return jax.vmap(of_chain)(points)

    found: Callable[[Any, Any], Any] = jax.vmap(of_campaign)
    return found
