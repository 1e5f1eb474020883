"""Simulation-based calibration: whether a model's posterior is what Bayes' rule says it is.

Parameters are drawn from the model's own priors, records from them, and the model is fitted to the
records. Over many simulations the truth must fall evenly among the draws of the posterior [1]_, in
every quantity; also in the joint log-likelihood, which notices a posterior that has learnt too
little or too much from the records where single parameters do not [2]_.

A study that finds every quantity even calls the model calibrated only if it has simulations enough
to have found a fault: `fishdown.calibration.detectable` has the rule.

References
----------
.. [1] Talts, Betancourt, Simpson, Vehtari & Gelman 2018. Validating Bayesian inference algorithms
   with simulation-based calibration. arXiv:1804.06788
.. [2] Modrák, Moon, Kim, Bürkner, Huurre, Faltejsková, Gelman & Vehtari 2023. Simulation-based
   calibration checking for Bayesian computation: the choice of test quantities shapes sensitivity.
   Bayesian Analysis. doi:10.1214/23-BA1404
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import cached_property, partial
from itertools import batched
from math import isfinite
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from fishdown.calibration.design import design_for, fed
from fishdown.calibration.detectable import Detectable, detectable, simulations_needed
from fishdown.calibration.simulation import RANKED_AMONG, Job, simulation, simulations_at_once
from fishdown.checks.uniform import Evenness, evenness
from fishdown.errors import FitError
from fishdown.intervals import TAILS
from fishdown.models.plain_spec import spec_entry
from fishdown.models.spec import ModelSpec, read_model
from fishdown.posterior.sampling import SamplerSettings
from fishdown.results_log import ResultsLog
from fishdown.version import __version__
from fishdown.words import counted

if TYPE_CHECKING:
    import os
    from collections.abc import Callable
    from pathlib import Path

    from matplotlib.figure import Figure

    from fishdown.typing import FloatArray

type Outcome = Literal["calibrated", "not calibrated", "cannot tell"]

# How often a study of a sound model finds some quantity uneven.
FALSE_ALARM = 0.05
# Enough for every shipped model to be called calibrated: see `detectable`.
SIMULATIONS = 200
# Simulations sampled together by numpyro.
AT_ONCE = 256
SETTINGS = SamplerSettings(draws=1000, tune=1000, chains=2)


@dataclass(frozen=True)
class Calibration:
    """What a study found.

    Attributes
    ----------
    spec : ModelSpec
    rows : dict of int to dict
        One a simulation: see `fishdown.calibration.simulation.simulation`.
    """

    spec: ModelSpec
    rows: dict[int, dict[str, Any]]

    def __repr__(self) -> str:
        """Say what was studied, and with what outcome."""
        return f"<Calibration of {self.spec.name}: {self.simulations} simulations, {self.outcome}>"

    @cached_property
    def places(self) -> dict[str, FloatArray]:
        """Where the truth fell among the draws, between 0 and 1, by quantity."""
        kept = [row["places"] for _, row in sorted(self.rows.items()) if "places" in row]
        names = list(kept[0]) if kept else []
        return {name: np.array([places[name] for places in kept]) for name in names}

    @property
    def simulations(self) -> int:
        """Simulations that were fitted."""
        return sum("places" in row for row in self.rows.values())

    @property
    def failed(self) -> int:
        """Simulations in which the sampler failed."""
        return len(self.rows) - self.simulations

    @cached_property
    def spread(self) -> dict[str, Evenness]:
        """The distribution of the places of every quantity, with its band.

        The bands hold all quantities at once with 95 %: each has its part of the false alarms.
        """
        return {name: evenness(places, self._band) for name, places in self.places.items()}

    @property
    def _band(self) -> float:
        return 1.0 - FALSE_ALARM / max(len(self.places), 1)

    @cached_property
    def detectable(self) -> Detectable:
        """The smallest faults of one quantity that so many simulations would have shown."""
        return detectable(self.simulations, self._band)

    @property
    def simulations_needed(self) -> int:
        """Simulations that it takes, with so many quantities, to call a model calibrated."""
        return simulations_needed(self._band)

    @property
    def outcome(self) -> Outcome:
        """What the study says of the model.

        ``not calibrated`` if a quantity is not even or a simulation failed; ``cannot tell`` if all
        are even but there are too few simulations to have shown a fault; else ``calibrated``.
        """
        if self.failed or not all(even.even for even in self.spread.values()):
            return "not calibrated"
        return "calibrated" if self.detectable.enough else "cannot tell"

    @property
    def calibrated(self) -> bool:
        """Whether every quantity is even, by simulations enough to tell, and none failed."""
        return self.outcome == "calibrated"

    def table(self) -> pd.DataFrame:
        """Return one row a quantity.

        Returns
        -------
        pandas.DataFrame
            quantity, simulations, mean_place (½ when even) and mean_place_error (standard error
            by chance alone), held_by_90 (share of simulations whose 90 % interval holds the
            truth) and mc_error (standard error of that share, if it were 90 %), outcome; and the
            smallest faults that so many simulations would have shown: detectable_bias (posterior
            standard deviations) and detectable_narrower (share of the interval's width), missing
            where none would.
        """
        rows = []
        even = "even" if self.detectable.enough else "cannot tell"
        for name, places in self.places.items():
            held = float(((places >= TAILS[0]) & (places <= TAILS[1])).mean())
            rows.append(
                {
                    "quantity": name,
                    "simulations": len(places),
                    "mean_place": float(places.mean()),
                    "mean_place_error": float(1.0 / np.sqrt(12.0 * len(places))),
                    "held_by_90": held,
                    "mc_error": float(np.sqrt(TAILS[0] * 2 * (1 - TAILS[0] * 2) / len(places))),
                    "outcome": even if self.spread[name].even else _departure(places),
                    "detectable_bias": self.detectable.bias,
                    "detectable_narrower": self.detectable.narrower,
                }
            )
        return pd.DataFrame(rows)

    def figure(self) -> Figure:
        """Draw how far the distribution of places strays from even, quantity by quantity."""
        from matplotlib.figure import Figure

        columns = 4
        lines = max(1, -(-len(self.spread) // columns))
        figure = Figure(figsize=(11.0, 2.2 * lines), layout="constrained")
        axes = figure.subplots(lines, columns, sharex=True, sharey=True, squeeze=False).ravel()
        for place, (name, even) in zip(axes, self.spread.items(), strict=False):
            place.fill_between(
                even.points, even.low - even.points, even.high - even.points, alpha=0.25
            )
            color = "black" if even.even else "C3"
            place.step(even.points, even.found - even.points, where="post", color=color)
            place.axhline(0.0, linewidth=0.8, linestyle="--", color="black")
            place.set_title(name.replace("_", " "), fontsize=8)
        for unused in axes[len(self.spread) :]:
            unused.set_axis_off()
        figure.suptitle(
            f"{self.spec.name}, {counted(self.simulations, 'simulation')}: "
            "a calibrated model stays in all bands with 95 %"
        )
        figure.supxlabel("place of the truth among the draws")
        figure.supylabel("share of simulations − place")
        return figure


def calibrate(
    model: str | Path | ModelSpec,
    *,
    simulations: int = SIMULATIONS,
    settings: SamplerSettings | None = None,
    keep_in: str | os.PathLike[str],
    cores: int = 1,
    scheduler: str | None = None,
    on_progress: Callable[[int, int], None] | None = None,
) -> Calibration:
    """Calibrate a model by simulation.

    Parameters
    ----------
    model : str, path or ModelSpec
    simulations : int
        In all, 200 by default; those already kept count.
    settings : SamplerSettings, optional
        Its seed is that of the study. Two chains of 1,000 draws by default. With the sampler
        numpyro simulations are sampled together, on a graphics processor if there is one.
    keep_in : path
        File that every simulation is written to as soon as it is done. A study that was stopped
        goes on from there; a file of another study is refused.
    cores : int
        Processes on this machine.
    scheduler : str, optional
        Address of a Dask scheduler, to use its workers instead.
    on_progress : callable, optional
        Called with simulations done and simulations in all.

    Returns
    -------
    Calibration

    Raises
    ------
    ModelFileError
        If there is no such model.
    FitError
        If the file belongs to another study, or the cluster cannot be reached.
    """
    spec, _ = fed(model if isinstance(model, ModelSpec) else read_model(model))
    settings = settings or SETTINGS
    if simulations < 1 or cores < 1:
        raise FitError("simulations and cores: write whole numbers, 1 or more")
    entry = spec_entry(spec)
    job = Job(json.dumps(entry), settings, settings.seed)
    header = {
        "study": "calibration",
        "version": __version__,
        "model": entry,
        "design": asdict(design_for(spec)),
        "settings": {**settings.entry(), "cores": 1},
        "ranked_among": RANKED_AMONG,
    }
    log = ResultsLog(keep_in, header, _wrong)
    if settings.sampler == "numpyro":
        missing = [number for number in range(simulations) if number not in log.rows]
        for batch in batched(missing, AT_ONCE):
            for number, row in simulations_at_once(job, list(batch), cores):
                log.add(number, row)
                if on_progress is not None:
                    on_progress(len(log.rows), simulations)
        return Calibration(spec, {number: log.rows[number] for number in range(simulations)})
    rows = log.complete(
        partial(simulation, job),
        range(simulations),
        cores=cores,
        scheduler=scheduler,
        on_progress=on_progress,
    )
    return Calibration(spec, dict(enumerate(rows)))


def _wrong(row: dict[str, Any]) -> str:
    """Return why a line that was kept cannot be of a simulation; else nothing."""
    if "failed" in row:
        return ""
    places = row.get("places")
    if not isinstance(places, dict) or not all(map(_is_number, places.values())):
        return "places are missing, or are no numbers"
    for name, place in places.items():
        if not 0.0 <= place <= 1.0:
            return f"the place of {name} is {place}, not between 0 and 1"
    for name in ("divergences", "ess"):
        if not _is_number(row.get(name)) or row[name] < 0:
            return f"{name} = {row.get(name)!r}"
    return ""


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


def _departure(places: FloatArray) -> str:
    # An even spread has mean ½ and variance 1/12.
    centre = (places.mean() - 0.5) * np.sqrt(12.0 * len(places))
    if abs(centre) > 3.0:
        return "NOT EVEN: estimates too low" if centre > 0 else "NOT EVEN: estimates too high"
    wide = places.var() > 1.0 / 12.0
    return "NOT EVEN: intervals too narrow" if wide else "NOT EVEN: intervals too wide"
