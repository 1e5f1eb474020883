"""Whether a model's density is that of the campaigns its calibration draws: without sampling.

    python benchmarks/scores.py [MODEL ...] --campaigns 3000

The slope of the log-density at the truth is zero on average, in every direction and whichever
campaigns are kept by what their records say: given the records, truths are draws of the posterior,
and the slope of a density integrates to zero. So is one more than slope × truth, which a density
too narrow or too wide would not meet (Stein's identity: Gorham and Mackey 2015, Advances in Neural
Information Processing Systems 28; from memory). Campaigns with an empty catch are left out: where a
lake was emptied, the density of a continuous number of fish has a cliff within the last fish, over
which whole numbers do not add up to an integral. Prints for each model the direction in which each
mean is farthest from zero, in standard errors. Results are kept in CALIBRATION.md.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

import numpy as np
import pymc as pm
import pytensor
import pytensor.tensor as pt
from pytensor.graph.replace import graph_replace

from fishdown.calibration.crew_notes import draw_campaign
from fishdown.calibration.design import design_for, fed
from fishdown.calibration.walked import walked
from fishdown.models.data import ModelData, model_data
from fishdown.models.graph import build
from fishdown.models.spec import read_model

# Left out are those in which one or two marks are lost, or last a winter, in many a campaign: whole
# numbers do not add up to an integral there either. And detailed_nets leaves too few campaigns.
MODELS = (
    "few_passes",
    "marks_only",
    "one_lake",
    "pooled_lakes",
    "shy_marks",
    "smooth_cooling",
    "hidden_fish",
)
# Of sound models so many have a mean beyond the limit.
FALSE_ALARMS = 0.05


@dataclass(frozen=True)
class Slopes:
    """What was found of one model.

    Attributes
    ----------
    directions : list of str
        The sampler's own coordinates, one name each.
    slopes, places : ndarray, shape (campaign, direction)
        Slope of the joint log-density at the truth, and the truth.
    drawn : int
        Campaigns drawn, those with empty catches among them.
    """

    directions: list[str]
    slopes: np.ndarray
    places: np.ndarray
    drawn: int

    def row(self, model: str) -> str:
        """Return one line of the table, with what chance leaves of the largest mean."""
        # About its middle, so that where zero lies makes no difference.
        moved = self.places - np.median(self.places, axis=0)
        means = [_in_errors(x) for x in (self.slopes, moved * self.slopes + 1.0)]
        count = len(self.directions)
        limit = NormalDist().inv_cdf(1.0 - FALSE_ALARMS / (2 * len(means) * count))
        farthest = [int(np.abs(mean).argmax()) for mean in means]
        told = " | ".join(
            f"{mean[place]:+.2f} ({self.directions[place]})"
            for mean, place in zip(means, farthest, strict=True)
        )
        return f"| {model} | {len(self.slopes)} of {self.drawn} | {count} | {told} | {limit:.2f} |"


def _in_errors(x: np.ndarray) -> np.ndarray:
    found: np.ndarray = x.mean(axis=0) / (x.std(axis=0, ddof=1) / np.sqrt(len(x)))
    return found


class _Density:
    """The slope of a model's log-density in the sampler's coordinates, for one campaign or more."""

    def __init__(self, graph: Any) -> None:
        self._graph = graph
        self._free = graph.free_RVs
        known = [variable.type() for variable in self._free]
        coordinates = {}
        for variable, one in zip(self._free, known, strict=True):
            transform = graph.rvs_to_transforms[variable]
            moved = one if transform is None else transform.forward(one, *variable.owner.inputs)
            coordinates[graph.rvs_to_values[variable]] = moved
        slopes = graph_replace(graph.dlogp(self._free), coordinates)
        place = pt.concatenate([moved.ravel() for moved in coordinates.values()])
        self._function = pytensor.function(known, [slopes, place], on_unused_input="ignore")

    def feed(self, data: ModelData) -> None:
        with self._graph:
            pm.set_data(data.arrays())

    def at(self, known: dict[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
        """Return slopes and place, both shape (direction,)."""
        # A number of the truth may be of shape (1,).
        arrays = [
            np.reshape(known[variable.name], ()).astype(float)
            if variable.type.ndim == 0
            else np.asarray(known[variable.name], dtype=float)
            for variable in self._free
        ]
        slopes, place = self._function(*arrays)
        return slopes, place

    def directions(self, known: dict[str, np.ndarray]) -> list[str]:
        """Return a name for each direction; those of several lakes or nets are numbered."""
        sizes = {variable.name: np.size(known[variable.name]) for variable in self._free}
        return [
            f"{name} {number + 1}" if size > 1 else name
            for name, size in sizes.items()
            for number in range(size)
        ]


def slopes_at_truth(model: str, campaigns: int, seed: int) -> Slopes:
    """Draw campaigns and take the slope of the log-density at each truth."""
    spec, _ = fed(read_model(model))
    design = design_for(spec)
    template = design.template()
    rng = np.random.default_rng(seed)
    density: _Density | None = None
    slopes, places, directions = [], [], []
    for _ in range(campaigns):
        campaign, truth, _ = draw_campaign(spec, design, template, rng)
        if not campaign.pulls["caught"].values.all():
            continue
        data = model_data(campaign, spec)
        density = density or _Density(build(spec, data, campaign.coords))
        density.feed(data)
        truth = truth.in_whole_fish()
        known = truth.values | walked(truth, spec, data)
        directions = directions or density.directions(known)
        slope, place = density.at(known)
        slopes.append(slope)
        places.append(place)
    return Slopes(directions, np.array(slopes), np.array(places), campaigns)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("models", nargs="*", metavar="MODEL", help=", ".join(MODELS))
    parser.add_argument("--campaigns", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print("| model | campaigns | directions | slope | 1 + slope × truth | limit of chance |")
    print("| --- | ---: | ---: | ---: | ---: | ---: |")
    for model in options.models or MODELS:
        print(slopes_at_truth(model, options.campaigns, options.seed).row(model), flush=True)


if __name__ == "__main__":
    main()
