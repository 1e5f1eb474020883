"""The one place where a graph is compiled and sampled.

Three samplers are known by name: nutpie (the default, compiled with numba), PyMC's own, and
NumPyro's (compiled with JAX, for graphics processors too). Nothing else in fishdown calls one for a
single campaign, so that progress, seeds and errors are handled once.
"""

from __future__ import annotations

import logging
import os
import threading
import time
import warnings
from dataclasses import asdict, dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Literal

from fishdown.errors import FitError
from fishdown.models.data import group_counts

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import xarray as xr

    from fishdown.models.data import ModelData
    from fishdown.typing import Numbers

SamplerName = Literal["nutpie", "pymc", "numpyro"]
SAMPLERS: tuple[SamplerName, ...] = ("nutpie", "pymc", "numpyro")
# nutpie's and NumPyro's default.
DEEPEST_TREE = 10


@dataclass(frozen=True)
class SamplerSettings:
    """How to sample.

    Attributes
    ----------
    draws, tune : int
        Kept and tuning draws of each chain.
    chains, cores : int
        Chains in all, and how many run at once; numpyro runs all of them at once in any case.
    seed : int
        The same seed on the same machine gives the same numbers.
    target_accept : float
        Mean acceptance that the step size is tuned to.
    sampler : {"nutpie", "pymc", "numpyro"}
    """

    draws: int = 1000
    tune: int = 1000
    chains: int = 4
    cores: int = min(4, os.cpu_count() or 1)
    seed: int = 20
    target_accept: float = 0.95
    sampler: SamplerName = "nutpie"

    def __post_init__(self) -> None:
        for name in ("draws", "tune", "chains", "cores"):
            value = getattr(self, name)
            if value < 1:
                raise FitError(f"{name} = {value}: write a whole number, 1 or more")
        if self.draws < 4 or self.chains < 2:
            raise FitError(
                f"{self.chains} chains of {self.draws} draws cannot be judged for convergence; "
                "use 2 chains of 4 draws at the very least"
            )
        if self.seed < 0:
            raise FitError(f"seed = {self.seed}: write a whole number, 0 or more")
        if not 0.0 < self.target_accept < 1.0:
            raise FitError(f"target_accept = {self.target_accept}: must lie between 0 and 1")
        if self.sampler not in SAMPLERS:
            raise FitError(f"unknown sampler {self.sampler!r}; known: {', '.join(SAMPLERS)}")

    def harder(self) -> SamplerSettings:
        """Return settings that try harder: twice the draws, smaller steps."""
        return replace(
            self,
            draws=2 * self.draws,
            tune=2 * self.tune,
            target_accept=1.0 - (1.0 - self.target_accept) / 3.0,
        )

    def entry(self) -> dict[str, int | float | str]:
        """Return the settings as plain values for the record of a fit."""
        return asdict(self)

    @classmethod
    def of(cls, entry: Mapping[str, Any]) -> SamplerSettings:
        """Return the settings of which `entry` is the record; what it lacks is the default."""
        return cls(**{one.name: entry[one.name] for one in fields(cls) if one.name in entry})


class Sampler:
    """A compiled model, ready to be sampled again and again.

    Parameters
    ----------
    model : pymc.Model
        The graph.
    name : {"nutpie", "pymc", "numpyro"}
        Which sampler to compile for.

    Raises
    ------
    FitError
        If what a sampler needs is not installed.
    """

    def __init__(self, model: Any, name: SamplerName) -> None:
        self._model = model
        self._name = name
        started = time.perf_counter()
        self._compiled = self._chains = None
        if name == "nutpie":
            self._compiled = _compile_nutpie(model)
        elif name == "numpyro":
            self._chains = _VectorisedChains(model)
        self.compile_seconds = time.perf_counter() - started

    def feed(self, data: ModelData[Numbers]) -> None:
        """Put another campaign's arrays in place of those that the model was built with.

        Parameters
        ----------
        data : ModelData
            Of as many lakes, seasons and missing temperatures, and that the model `holds`; pulls
            may be fewer or more.

        Raises
        ------
        FitError
            If the model does not hold them, or is for PyMC's own sampler.
        """
        if self._name == "pymc":
            raise FitError("a model for PyMC's own sampler cannot be fed")
        if not self.holds(data):
            raise FitError("the compiled model has too few nets or nights for these data")
        import pymc as pm

        arrays = data.arrays()
        # The chains' starting points come from the graph itself.
        with self._model:
            pm.set_data(arrays)
        if self._compiled is None:
            return
        used = {variable.name for variable in self._compiled.shared_var_keys}
        self._compiled = self._compiled.with_data(
            **{name: arrays[name] for name in used & set(arrays)}
        )

    def holds(self, data: ModelData[Numbers]) -> bool:
        """Return whether there are no more nets, nights and the like than the model has steps for.

        Steps of those that are fewer say nothing, and are drawn from their priors.
        """
        room = self._model.dim_lengths
        return all(count <= int(room[dim].eval()) for dim, count in group_counts(data).items())

    def sample(
        self, settings: SamplerSettings, on_progress: Callable[[int, int, int], None] | None = None
    ) -> xr.DataTree:
        """Draw from the posterior.

        Parameters
        ----------
        on_progress : callable, optional
            Called now and then with draws done, draws in all and divergences so far; it may be
            called from another thread. PyMC's own sampler does not call it.

        Returns
        -------
        xarray.DataTree
            Groups ``posterior`` and ``sample_stats``.

        Raises
        ------
        FitError
            If the sampler found no place to start, or failed.
        KeyboardInterrupt
            If it was interrupted: the draws until then are no sample of the posterior.
        """
        try:
            if self._chains is not None:
                tree = self._chains.sample(settings, on_progress)
            elif self._name == "nutpie":
                tree = self._sample_nutpie(settings, on_progress)
            else:
                tree = self._sample_pymc(settings)
        except (RuntimeError, ValueError, FloatingPointError) as error:
            raise FitError(f"the sampler {self._name} failed: {error}") from error
        found = tuple(tree["posterior"].sizes[name] for name in ("chain", "draw"))
        if found != (settings.chains, settings.draws):
            raise FitError(
                f"the sampler {self._name} ended early, with {found[0]} chains of {found[1]} draws "
                f"in place of {settings.chains} of {settings.draws}"
            )
        return tree

    def _sample_nutpie(
        self, settings: SamplerSettings, on_progress: Callable[[int, int, int], None] | None
    ) -> xr.DataTree:
        import nutpie

        def report(chains: list[Any]) -> None:
            if on_progress is not None:
                on_progress(
                    sum(chain.finished_draws for chain in chains),
                    sum(chain.total_draws for chain in chains),
                    sum(chain.divergences for chain in chains),
                )

        sampling = nutpie.sample(
            self._compiled,
            draws=settings.draws,
            tune=settings.tune,
            chains=settings.chains,
            cores=settings.cores,
            seed=settings.seed,
            target_accept=settings.target_accept,
            save_warmup=False,
            progress_bar=False,
            progress_callback=report,
            progress_rate=200,
            # Were it to wait itself, it would hand back what there is when it is interrupted.
            blocking=False,
        )
        try:
            tree: xr.DataTree = sampling.wait()
        except BaseException:
            sampling.cancel()
            raise
        return tree

    def _sample_pymc(self, settings: SamplerSettings) -> xr.DataTree:
        import pymc as pm

        def sample(at_each_draw: Callable[..., None]) -> xr.DataTree:
            with self._model:
                tree: xr.DataTree = pm.sample(
                    draws=settings.draws,
                    tune=settings.tune,
                    chains=settings.chains,
                    cores=settings.cores,
                    random_seed=settings.seed,
                    nuts_sampler="pymc",
                    nuts={"target_accept": settings.target_accept},
                    progressbar=False,
                    compute_convergence_checks=False,
                    callback=at_each_draw,
                )
            return tree

        logger = logging.getLogger("pymc")
        level = logger.level
        logger.setLevel(logging.ERROR)
        try:
            return _interruptible(sample)
        finally:
            logger.setLevel(level)


class _VectorisedChains:
    """The chains of one campaign with NumPyro, all at once."""

    def __init__(self, model: Any) -> None:
        from fishdown.posterior.jaxified import JaxGraph
        from fishdown.posterior.vectorised import VectorisedNuts

        self._graph = JaxGraph(model)
        self._nuts = VectorisedNuts(self._graph, DEEPEST_TREE)
        self._coords = {name: values for name, values in model.coords.items() if values is not None}

    def sample(
        self, settings: SamplerSettings, on_progress: Callable[[int, int, int], None] | None
    ) -> xr.DataTree:
        from fishdown.posterior.jaxified import stacked
        from fishdown.posterior.vectorised import tree_of

        data = stacked([self._graph.own_data()])
        drawn = self._nuts.sample(
            data,
            [0],
            draws=settings.draws,
            tune=settings.tune,
            chains=settings.chains,
            seed=settings.seed,
            target_accept=settings.target_accept,
            on_progress=on_progress,
        )
        return tree_of(drawn, 0, self._graph.dims, self._coords)


def _interruptible(sample: Callable[[Callable[..., None]], xr.DataTree]) -> xr.DataTree:
    """Let PyMC sample in a thread: by itself it hands back what there is when interrupted.

    The thread ends at the next draw, which this does not wait for long.
    """
    over, done = threading.Event(), threading.Event()
    ended: list[xr.DataTree | BaseException] = []

    def at_each_draw(*_: object, **__: object) -> None:
        if over.is_set():
            raise _OverError

    def work() -> None:
        try:
            ended.append(sample(at_each_draw))
        except BaseException as error:
            ended.append(error)
        done.set()

    try:
        threading.Thread(target=work, daemon=True).start()
        done.wait()
    except BaseException:
        over.set()
        done.wait(timeout=1.0)
        raise
    if isinstance(ended[0], BaseException):
        raise ended[0]
    return ended[0]


class _OverError(Exception):
    """Sampling is not wanted any longer."""


def _compile_nutpie(model: Any) -> Any:
    import pytensor

    from fishdown.posterior.machine_code.functions import compiled

    # Reordered arithmetic would come out differently in freshly compiled code and in code from
    # the disk cache, and the first fit on a machine would differ from the second.
    with warnings.catch_warnings(), pytensor.config.change_flags(numba__fastmath=False):
        # Code with very large tables in it is not kept; that costs time the next time, no more.
        warnings.filterwarnings("ignore", message="Cannot cache compiled function")
        return compiled(model)
