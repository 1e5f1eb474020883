"""The hazard of every pull in the graph: catchability and all effects on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pymc as pm
import pytensor.tensor as pt

from fishdown.labels import group_labels
from fishdown.models.data import active_effects
from fishdown.models.parts.catchability.graph import log_base_hazard
from fishdown.models.variables import in_each_lake, shared_from_prior

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.part import Effect, Steps
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import Numbers


def log_hazard(
    spec: ModelSpec, data: ModelData[Numbers], nodes: ModelData[Any], vulnerable_fish: Any
) -> tuple[Any, Any]:
    """Return the logarithm of the hazard of every pull, and what effects add to it, shape (pull,).

    Parameters
    ----------
    spec : ModelSpec
    data, nodes : ModelData
        As arrays, and as nodes of the graph.
    vulnerable_fish : tensor, shape (season,)
        Vulnerable fish before the first pull.
    """
    catches = nodes.catches
    effects: Any = pt.zeros_like(catches.caught)
    for effect in active_effects(spec):
        choice, inputs = spec.part(effect.name), nodes.effects[effect.name]
        values = _values(spec, effect, choice, data, inputs)
        reference = spec.reference_temperature
        effects = effects + effect.log_effect(pt, choice, inputs, values, reference)
        for name, derived in effect.derived(pt, choice, values, reference).items():
            pm.Deterministic(name, derived, dims="lake")
    fish = vulnerable_fish[catches.season] - catches.gone_before
    base = log_base_hazard(spec, data, nodes, fish, effects)
    return base[catches.lake] + effects, effects


def _values(
    spec: ModelSpec, effect: Effect, choice: str, data: ModelData[Numbers], inputs: Any
) -> dict[str, Any]:
    """Add the parameters, steps and levels of an effect to the graph."""
    values = {}
    spreads = {one.by_lake.spread for one in effect.parameters.values() if one.by_lake}
    for name in effect.choices[choice]:
        parameter, called = effect.parameters[name], effect.called(choice, name)
        if parameter.by_lake is not None:
            values[name] = in_each_lake(spec, name, parameter.by_lake, called)
        elif name not in spreads and name in spec.priors:
            # Spreads between lakes come with the parameters that have them; what only pooled lakes
            # have has no prior without them.
            values[name] = shared_from_prior(called, spec.priors[name])
    for steps in effect.steps:
        if steps.needed(choice, data.effects[effect.name]):
            values[steps.name] = pm.Normal(steps.name, dims=_dimensions(steps, data, effect.name))
    for level in effect.levels:
        of_seasons = level.of(pt, inputs, values)
        values[level.name] = pm.Deterministic(level.name, of_seasons, dims="season")
    return values


def _dimensions(steps: Steps, data: ModelData[Numbers], effect: str) -> tuple[str, ...]:
    """Return the dimensions of an effect's steps, added to the graph if they are new there."""
    model = pm.modelcontext(None)
    if steps.count is not None:
        model.add_coord(steps.dim, length=steps.count(data.effects[effect]))
    elif steps.groups is not None and steps.dim not in model.coords:
        model.add_coord(steps.dim, group_labels(steps.groups(data.pulls)[0]))
    if not steps.functions:
        return (steps.dim,)
    functions = f"{steps.name}_function"
    model.add_coord(functions, length=steps.functions)
    return steps.dim, functions
