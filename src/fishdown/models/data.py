"""The inputs of all parts of a model from one campaign, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.labels import group_labels, net_labels
from fishdown.models.inputs import arrays_of, nodes_of, over
from fishdown.models.padding import emptied, with_spare
from fishdown.models.part import Effect
from fishdown.models.parts import all_parts, effects
from fishdown.models.parts.counting.counts import Counts, count, count_without_marks
from fishdown.models.parts.marks import marks_known
from fishdown.models.parts.marks.heard import HeardTags, heard_tags
from fishdown.models.parts.marks.second_looks import SecondLooks, second_looks
from fishdown.models.parts.open_lake.times import Times, times
from fishdown.models.parts.surveys.runs import Surveys, surveys
from fishdown.models.parts.weights.measured import WeightData, weight_data
from fishdown.models.parts.years.links import Winters, winters
from fishdown.models.pull_table import PullTable, pull_table

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import BoolArray, Numbers

# More fish than any lake holds.
ALL_GONE = 1e12


@by_value
@dataclass(frozen=True, eq=False)
class Catches[A]:
    """The pulls whose catch is in the likelihood.

    Attributes
    ----------
    season, lake : array of int, shape (pull,)
        Position of each pull's season and lake.
    caught, gone_before : array, shape (pull,)
        Catch, and fish gone from the lake before the pull, fish.
    on_record : array, shape (pull,)
        1; 0 for a pull that was never made, see `fishdown.models.padding`.
    """

    season: A = field(metadata=over("pull"))
    lake: A = field(metadata=over("pull"))
    caught: A = field(metadata=over("pull", units="count"))
    gone_before: A = field(metadata=over("pull", units="count", fill=ALL_GONE))
    on_record: A = field(metadata=over("pull"))


@by_value
@dataclass(frozen=True, eq=False)
class ModelData[A]:
    """Inputs of all parts of a model; "pull" has only the pulls whose catch is in the likelihood.

    Attributes
    ----------
    area : array, shape (lake,)
        ha.
    lake_of_season : array of int, shape (season,)
        Position of each season's lake.
    counts : Counts
        Bounds, marks and counting terms of all seasons.
    winters : Winters or None
        Which seasons follow each other; None if years are not linked.
    heard : HeardTags or None
        Tags heard alive; None if the model does without.
    second_looks : SecondLooks or None
        Fish looked at twice for marks; None if the model does without.
    surveys : Surveys or None
        Runs of another gear; None if the model does without.
    catches : Catches
    effects : dict
        The inputs of each effect in the model, by its name.
    weights : WeightData
        Sums over the fish measured.
    times : Times
        How long fish had to die or to arrive.
    pulls : PullTable
        The records of the pulls of `catches`.
    """

    pulls: PullTable
    area: A = field(metadata=over("lake", units="ha"))
    lake_of_season: A = field(metadata=over("season"))
    counts: Counts[A]
    winters: Winters[A] | None
    heard: HeardTags[A] | None
    second_looks: SecondLooks[A] | None
    surveys: Surveys[A] | None
    catches: Catches[A]
    effects: dict[str, Any]
    weights: WeightData[A]
    times: Times[A]

    @property
    def linked(self) -> Winters[A]:
        """The winters of a model with linked years."""
        assert self.winters is not None
        return self.winters

    def arrays(self) -> dict[str, Numbers]:
        """Return the data of the graph by name; they may be replaced by another campaign's."""
        return arrays_of(self)

    def nodes(self) -> ModelData[Any]:
        """Return the same with a data node of the model in context for every array."""
        return nodes_of(self)


def fitting_spec(campaign: Campaign, spec: ModelSpec) -> tuple[ModelSpec, tuple[str, ...]]:
    """Leave out the parts of a model on which this campaign carries no information.

    Returns
    -------
    spec : ModelSpec
        Without pooling if there is one lake, without linked years if each lake has one season,
        without effects on which the pulls carry no information; each part decides by itself.
    notes : tuple of str
        What was left out.
    """
    notes: tuple[str, ...] = ()
    pulls = pull_table(campaign, ~campaign.pulls["spoiled"].values)
    for part in all_parts():
        changes, more = part.left_out(campaign, spec.parts)
        if changes:
            spec = spec.with_parts(**changes)
        notes += more
        if isinstance(part, Effect) and spec.part(part.name) != part.left:
            missing = part.unfed(pulls)
            if missing:
                spec = spec.with_parts(**{part.name: part.left})
                notes += (missing,)
    return spec, notes


def model_data(campaign: Campaign, spec: ModelSpec) -> ModelData[Numbers]:
    """Collect the arrays of a model's graph.

    Raises
    ------
    FitError
        If no record of a season carries information on its abundance.
    """
    counts = count(campaign, spec.parts)
    spoiled = campaign.pulls["spoiled"].values
    in_likelihood: BoolArray = (
        np.zeros_like(spoiled) if spec.part("evidence") == "marks" else ~spoiled
    )
    pulls = pull_table(campaign, in_likelihood)
    return ModelData(
        pulls=pulls,
        area=campaign.lakes["area"].values,
        lake_of_season=campaign.seasons["lake_index"].values,
        counts=counts,
        winters=winters(campaign, counts, with_marks=spec.part("evidence") != "depletion")
        if spec.part("years") == "linked"
        else None,
        heard=heard_tags(campaign, spec.priors) if hears(campaign, spec) else None,
        second_looks=second_looks(campaign) if "mark_detection" in spec.priors else None,
        surveys=surveys(campaign, spec.priors) if "second_gear_odds" in spec.priors else None,
        catches=Catches(
            pulls.season, pulls.lake, pulls["caught"], pulls["gone_before"], np.ones(len(pulls))
        ),
        effects={effect.name: effect.inputs(pulls, pulls) for effect in active_effects(spec)},
        weights=weight_data(campaign, spec.parts),
        times=times(campaign, in_likelihood),
    )


def by_catches_alone(
    data: ModelData[Numbers], campaign: Campaign, spec: ModelSpec
) -> ModelData[Numbers] | None:
    """Return arrays for the same graph by which only catches tell of abundance.

    No catch was looked at for marks, and no fish weighed: nets that select by size would tell.

    Parameters
    ----------
    data : ModelData
        Those of the campaign for this model.

    Returns
    -------
    ModelData or None
        None if marks are more to the model than their recaptures: with unknown marks at large,
        linked years, or another gear.
    """
    alone = marks_known(spec.parts) and data.winters is None and data.surveys is None
    if not alone or spec.part("evidence") != "both":
        return None
    data = emptied(data, {"examined", "release", "weighing"})
    counts = count_without_marks(campaign, spec.parts, data.counts.examined)
    return replace(data, counts=counts)


def hears(campaign: Campaign, spec: ModelSpec) -> bool:
    """Return whether tags heard by antennas are in the likelihood."""
    return "heard_per_night" in spec.priors and campaign.antenna.sizes.get("history", 0) > 0


def group_counts(data: ModelData[Numbers]) -> dict[str, int]:
    """Return how many nets, nights and the like have a step of their own, by dimension."""
    return {
        steps.dim: len(steps.groups(data.pulls)[0])
        for effect in effects()
        if effect.name in data.effects
        for steps in effect.steps
        if steps.groups is not None
    }


def step_coords(
    data: ModelData[Numbers], spec: ModelSpec, *, to_spare: bool = False
) -> dict[str, list[str]]:
    """Return the labels of the nets, nights and the like that have a step of their own.

    Parameters
    ----------
    to_spare : bool
        With some more nets and nights, for pulls to come: steps of which no pull tells keep to
        their priors.
    """
    found = {}
    for steps in (one for effect in active_effects(spec) for one in effect.steps):
        if steps.groups is not None:
            labels = group_labels(steps.groups(data.pulls)[0])
            # Stretches of a season, whose steps are of functions, do not grow in number.
            found[steps.dim] = with_spare(labels) if to_spare and not steps.functions else labels
    nets = net_labels(data.pulls.nets)
    return {**found, "net": with_spare(nets) if to_spare else nets}


def active_effects(spec: ModelSpec) -> tuple[Effect, ...]:
    """Return the effects on the hazard of a pull that are in a model."""
    return tuple(effect for effect in effects() if effect.active(spec.parts))
