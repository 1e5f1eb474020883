"""How the cost of one joint fit grows with the lakes: reading it in, its gradient, and sampling.

    python benchmarks/region.py 10 100
    python benchmarks/region.py 100 --draws 300 --tune 500 --depth 8

Lakes with three seasons of 40 pulls each, simulated fish by fish, fitted by `many_years` under JAX,
on a graphics processor where there is one: seconds for simulating, collecting the model's arrays,
stating the graph, translating and compiling it, and milliseconds for one gradient of four chains
together. With `--draws` the four chains are sampled. Results are kept in RESULTS.md.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from typing import Any

import arviz_stats
import jax
import numpy as np
import xarray as xr
from recovery import draw_world

from fishdown.models.data import model_data
from fishdown.models.graph import build
from fishdown.posterior.choice import chosen_model
from fishdown.posterior.jaxified import JaxGraph, stacked
from fishdown.posterior.vectorised import VectorisedNuts
from fishdown.worlds import simulate

CHAINS, GRADIENTS, SEED = 4, 30, 1
TARGET_ACCEPT = 0.9


class Clock:
    """Seconds from one stage to the next."""

    def __init__(self) -> None:
        self._last = time.perf_counter()

    def lap(self) -> float:
        """Return the seconds since the last lap."""
        last, self._last = self._last, time.perf_counter()
        return self._last - last


def region(lakes: int) -> tuple[JaxGraph, np.ndarray, list[Any]]:
    """Simulate and state a model; return it, the true abundances, and cells of the table."""
    clock, rng = Clock(), np.random.default_rng(SEED)
    world = replace(draw_world(rng, lakes), years=3, rounds=10, season_spread=0.2)
    campaign, truth = simulate(world, rng)
    known = truth[truth["quantity"] == "abundance_before"]["value"].to_numpy()
    cells: list[Any] = [lakes, f"{campaign.pulls.sizes['pull']:,}", f"{clock.lap():.1f}"]
    chosen = chosen_model(campaign, "many_years")
    data = model_data(chosen.campaign, chosen.spec)
    cells.append(f"{clock.lap():.1f}")
    graph = JaxGraph(build(chosen.spec, data, chosen.campaign.coords))
    cells.append(f"{clock.lap():.1f}")
    fed = jax.tree.map(jax.numpy.asarray, graph.own_data())
    gradient = jax.jit(jax.vmap(jax.value_and_grad(graph.log_density), in_axes=(0, None)))
    points = jax.numpy.stack([graph.start(fed)] * CHAINS)
    jax.block_until_ready(gradient(points, fed))
    cells.append(f"{clock.lap():.1f}")
    for _ in range(GRADIENTS):
        jax.block_until_ready(gradient(points, fed))
    return graph, known, [*cells, f"{1e3 * clock.lap() / GRADIENTS:.1f}", f"{graph.size:,}"]


def sampled(graph: JaxGraph, known: np.ndarray, options: argparse.Namespace) -> str:
    """Sample the chains and say how it went."""
    clock = Clock()
    drawn = VectorisedNuts(graph, options.depth).sample(
        stacked([graph.own_data()]), [0], draws=options.draws, tune=options.tune, chains=CHAINS,
        seed=SEED, target_accept=TARGET_ACCEPT,
    )  # fmt: skip
    seconds = clock.lap()
    abundance = drawn.variables["abundance"][0]
    tree = xr.Dataset({"abundance": (("chain", "draw", "season"), abundance)})
    low, high = np.quantile(abundance, (0.05, 0.95), axis=(0, 1))
    return (
        f"{CHAINS} chains of {options.draws} draws after {options.tune}, trajectories of "
        f"{drawn.steps.mean():.0f} steps on average: {seconds:.0f} s with compiling; "
        f"{int(drawn.diverging.sum())} divergences, largest R-hat "
        f"{float(arviz_stats.rhat(tree)['abundance'].max()):.3f}, fewest effective draws "
        f"{float(arviz_stats.ess(tree)['abundance'].min()):.0f}, 90 % intervals of abundance hold "
        f"{100 * np.mean((low <= known) & (known <= high)):.0f} %"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("lakes", nargs="+", type=int)
    parser.add_argument("--draws", type=int, default=0)
    parser.add_argument("--tune", type=int, default=500)
    parser.add_argument("--depth", type=int, default=8, help="trajectories of at most 2^N steps")
    options = parser.parse_args()
    print(f"{jax.devices()[0].device_kind}")
    print("| lakes | pulls | simulated, s | collected, s | stated and translated, s "
          "| compiled, s | gradient of 4 chains, ms | coordinates |")  # fmt: skip
    print("| ---: |" + " ---: |" * 7)
    for lakes in options.lakes:
        graph, known, cells = region(lakes)
        print(f"| {' | '.join(map(str, cells))} |", flush=True)
        if options.draws:
            print(sampled(graph, known, options), flush=True)


if __name__ == "__main__":
    main()
