"""One simulation: draw a lake from the priors, net it, fit it, and see where the truth falls."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.calibration.crew_notes import draw_campaign, left_of
from fishdown.calibration.design import Design, design_for
from fishdown.calibration.measured_fish import mean_weight_left
from fishdown.calibration.truth import warmth
from fishdown.calibration.walked import with_truth
from fishdown.calibration.whole_fish import in_whole_fish
from fishdown.checks.spread import places_among
from fishdown.errors import FitError
from fishdown.models.data import model_data
from fishdown.models.parts.weights.left import DAYS, log_left, log_weight_change
from fishdown.models.parts.weights.weighings import days_netted
from fishdown.models.plain_spec import spec_from
from fishdown.parallel import here
from fishdown.posterior.at_draws import likelihood_of, rates_at_draws, thinned
from fishdown.posterior.log_priors import densities, values_of
from fishdown.posterior.sampling import Sampler, SamplerSettings

if TYPE_CHECKING:
    from collections.abc import Iterator

    import xarray as xr

    from fishdown.calibration.truth import Truth
    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, Numbers

# Draws that the truth is ranked among, spread evenly over the chains so that they are nearly
# independent.
RANKED_AMONG = 199
# A compiled model holds one campaign, and the workers of a cluster may be threads of one process.
_ONE_AT_A_TIME = Lock()
LOG_LIKELIHOOD = "log_likelihood"
BIOMASS = "biomass_after"
FIRST_LAKE = "first lake: "
LAST_SEASON = "abundance_last_season"


@dataclass(frozen=True)
class Job:
    """What a worker needs to know; small, and the same for all simulations of a study.

    Attributes
    ----------
    model : str
        The specification, as JSON.
    settings : SamplerSettings
    seed : int
        Of the whole study; each simulation has its own child of it.
    """

    model: str
    settings: SamplerSettings
    seed: int

    @property
    def spec(self) -> ModelSpec:
        """The specification itself."""
        return spec_from(json.loads(self.model))

    def generator(self, number: int) -> np.random.Generator:
        """Return the random numbers of one simulation, whoever does it and whenever."""
        # The number-th of the children that `SeedSequence(seed).spawn` would give.
        return np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=(number,)))


def simulation(job: Job, number: int) -> dict[str, Any]:
    """Do one simulation.

    Parameters
    ----------
    number : int

    Returns
    -------
    dict
        places (of the truth among the draws, between 0 and 1, by quantity), divergences, ess (the
        smallest of the quantities ranked), tries (lakes drawn until the records were worth
        fitting); or failed, the reason why the sampler failed.
    """
    with _ONE_AT_A_TIME:
        return _workshop(job).simulate(number)


@lru_cache(maxsize=1)
def _workshop(job: Job) -> _Workshop:
    return _Workshop(job)


def simulations_at_once(
    job: Job, numbers: list[int], cores: int = 1
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Do many simulations as one vectorised sampling, see `fishdown.posterior.many`.

    Parameters
    ----------
    job : Job
        Whose settings name the sampler numpyro.
    numbers : list of int
    cores : int
        Processes that draw campaigns and rank the truth.

    Yields
    ------
    number : int
    row : dict
        As `simulation` returns it.
    """
    from fishdown.posterior.many import ManySampler, prepare

    drawn = dict(here(partial(_draw, job), numbers, cores, "the study"))
    sampler = ManySampler(job.settings, at_once=len(numbers))
    prepared = ((number, prepare(one.campaign, job.spec)) for number, one in drawn.items())
    fitted = [(found.number, drawn[found.number], found.tree) for found in sampler.sample(prepared)]
    for (number, *_), row in here(partial(_rank, job), fitted, cores, "the study"):
        yield number, row


def _draw(job: Job, number: int) -> _Drawn:
    return _workshop(job).draw(number)


def _rank(job: Job, fitted: tuple[int, _Drawn, xr.DataTree]) -> dict[str, Any]:
    _, drawn, tree = fitted
    return _workshop(job).rank(drawn, tree)


@dataclass(frozen=True, eq=False)
class _Drawn:
    """A campaign drawn from the priors, with what is true of it."""

    campaign: Campaign
    truth: Truth
    tries: int
    data: ModelData[Numbers]
    seed: int
    rng: np.random.Generator


class _Workshop:
    """A model compiled once, wherever this runs, and fed with one campaign after another."""

    def __init__(self, job: Job) -> None:
        from fishdown.models.graph import build

        self._job = job
        self._spec = job.spec
        self._design = design_for(self._spec)
        self._template = self._design.template()
        first, _, _ = draw_campaign(self._spec, self._design, self._template, job.generator(0))
        self._graph = build(self._spec, model_data(first, self._spec), first.coords)
        self._likelihood = likelihood_of(self._graph)

    @cached_property
    def _sampler(self) -> Sampler:
        return Sampler(self._graph, "nutpie")

    def simulate(self, number: int) -> dict[str, Any]:
        drawn = self.draw(number)
        self._sampler.feed(drawn.data)
        try:
            settings = replace(self._job.settings, seed=drawn.seed, cores=1)
            tree = self._sampler.sample(settings)
        except FitError as error:
            return {"failed": str(error), "tries": drawn.tries}
        return self.rank(drawn, tree)

    def draw(self, number: int) -> _Drawn:
        rng = self._job.generator(number)
        campaign, truth, tries = draw_campaign(self._spec, self._design, self._template, rng)
        data = model_data(campaign, self._spec)
        return _Drawn(campaign, truth, tries, data, int(rng.integers(2**31)), rng)

    def rank(self, one: _Drawn, tree: xr.DataTree) -> dict[str, Any]:
        import pymc as pm

        campaign, truth, data, rng = one.campaign, one.truth, one.data, one.rng
        with self._graph:
            pm.set_data(data.arrays())
        posterior = tree["posterior"].to_dataset()
        few = thinned(posterior, RANKED_AMONG)
        both = in_whole_fish(with_truth(few, truth, self._spec, data), data)
        drawn = drawn_quantities(both.isel(sample=slice(-1)), campaign, self._spec, data)
        known = true_quantities(truth.in_whole_fish(), campaign, self._design, self._spec)
        *told, true = self._likelihood(both)
        drawn[LOG_LIKELIHOOD], known[LOG_LIKELIHOOD] = np.array(told), float(true)
        names = sorted(drawn)
        observed = np.array([known[name] for name in names])
        places = places_among(observed, np.stack([drawn[name] for name in names], axis=1), rng)
        return {
            "places": dict(zip(names, np.round(places, 6).tolist(), strict=True)),
            "divergences": int(tree["sample_stats"].dataset["diverging"].values.sum()),
            "ess": round(_smallest_ess(posterior, self._spec), 1),
            "tries": one.tries,
        }


def drawn_quantities(
    few: xr.Dataset, campaign: Campaign, spec: ModelSpec, data: ModelData[Numbers]
) -> dict[str, FloatArray]:
    """Return the draws of every quantity that the truth is ranked in, shape (sample,) each.

    Every parameter of the model file (in the first lake where each has its own), with pooled lakes
    the first lake's own too, the biomass after netting, with linked years that of the last season,
    and the fish of the last season before netting.
    """
    area, gone = campaign.lakes["area"].values, campaign.seasons["gone"].values
    last = _last_season(campaign)
    found = {
        name: _first(densities(few, data) if name == "density" else values_of(few, name))
        for name in spec.priors
    }
    if spec.part("pooling") == "lakes":
        for name in _BY_LAKE:
            if name in few:
                found[FIRST_LAKE + name] = _first(few[name].values)
    fish = few["abundance"].values[:, last]
    if spec.part("years") == "linked":
        found[LAST_SEASON] = fish
    if "mean_weight" in few:
        weight = few["mean_weight"].values[:, last]
        if "net_selectivity" in few:
            time = days_netted(campaign)[last] / DAYS
            s, trend = few["net_selectivity"].values, few["weight_trend"].values
            weight = weight * np.exp(log_weight_change(log_left(fish, gone[last]), time, s, trend))
        rates = rates_at_draws(few)
        left = rates.present(fish[:, None], gone[last], data.times.end.at(last))[:, 0]
        found[BIOMASS] = left * weight / area[0]
    return found


_BY_LAKE = (
    "area_fished_ha", "temperature_effect", "threshold_temperature", "mean_weight", "condition",
    "survival", "replacement"
)  # fmt: skip


def true_quantities(
    truth: Truth, campaign: Campaign, design: Design, spec: ModelSpec
) -> dict[str, float]:
    """Return what `drawn_quantities` should have found."""
    values = truth.values
    found = {"density": float(truth.abundance[0] / design.areas[0])}
    for name in spec.priors:
        for stem in (f"{name}_linear", name):
            for key in (f"{stem}_typical", stem):
                if key in values:
                    found.setdefault(name, float(values[key][0]))
    if spec.part("pooling") == "lakes":
        found |= {FIRST_LAKE + name: float(values[name][0]) for name in _BY_LAKE if name in values}
        if spec.part("temperature") != "none":
            found[FIRST_LAKE + "temperature_effect"] = _cold(truth, spec)
    last = _last_season(campaign)
    if spec.part("years") == "linked":
        found[LAST_SEASON] = float(truth.abundance[last])
    if "mean_weight" in values:
        left = left_of(truth, campaign, last)
        found[BIOMASS] = float(left * mean_weight_left(truth, campaign, last) / design.areas[0])
    return found


def _last_season(campaign: Campaign) -> int:
    """Return the position of the first lake's last season."""
    return int(np.flatnonzero(campaign.seasons["lake_index"].values == 0)[-1])


def _cold(truth: Truth, spec: ModelSpec) -> float:
    """Return what is left of the first lake's hazard 10 °C below the reference."""
    at = np.array([spec.reference_temperature - 10.0])
    return float(np.exp(warmth(spec, truth.values, at, np.zeros(1, dtype=np.int64)))[0])


def _smallest_ess(posterior: xr.Dataset, spec: ModelSpec) -> float:
    import arviz_stats

    names = [str(name) for name in posterior.data_vars if name in {"abundance", *spec.priors}]
    found: Any = arviz_stats.ess(posterior[names])
    # Of draws that never change there is none, and nothing was learnt from them.
    return float(np.nan_to_num([found[name].values.min() for name in names]).min())


def _first(values: FloatArray) -> FloatArray:
    return values.reshape(len(values), -1)[:, 0]
