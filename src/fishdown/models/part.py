"""What a part of the model is. All that a part knows about itself stands in one file of `parts/`.

A part has choices, the first of which is to do without it; each choice has parameters, and a model
file states a prior for each. An `Effect` is a part that multiplies the hazard of a pull.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import pandas as pd

    from fishdown.campaign import Campaign
    from fishdown.models.pull_table import PullTable

# Choices to change, by part, and notes in words.
type LeftOut = tuple[dict[str, str], tuple[str, ...]]

SHARE = ("beta", "logitnormal")


@dataclass(frozen=True)
class ByLake:
    """A parameter that each lake has a value of.

    Where lakes are pooled the values lie about that of a typical lake, of which the prior is.

    Attributes
    ----------
    spread : str
        The parameter that is the standard deviation between lakes.
    scale : {"log", "level"}
        The scale on which it is one.
    """

    spread: str
    scale: Literal["log", "level"] = "log"


@dataclass(frozen=True)
class Parameter:
    """Meaning, unit and possible priors of one parameter.

    Attributes
    ----------
    meaning : str
        In the words of the trade.
    unit : str
        As netCDF readers parse it (UDUNITS), "1" when there is none.
    families : tuple of str
        The families that its prior may have: `lognormal` for what is above zero, `beta` and
        `logitnormal` for shares, `normal` for the rest.
    label : str
        Its unit for people, where it is reported; empty where it is not.
    by_lake : ByLake, optional
        If each lake has a value; else all have one.
    among_lakes : bool
        Whether it is needed only where lakes are pooled.
    """

    meaning: str
    unit: str = "1"
    families: tuple[str, ...] = ("lognormal",)
    label: str = ""
    by_lake: ByLake | None = None
    among_lakes: bool = False


def _always(parts: Mapping[str, str]) -> bool:
    return True


def _nothing_left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    return {}, ()


def _no_objection(parts: Mapping[str, str]) -> str:
    return ""


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part of the model.

    Attributes
    ----------
    name : str
        As in a model file.
    choices : mapping of str to tuple of str
        The parameters of each choice; the default choice comes first. A part with one choice only
        is in every model and not named in model files.
    parameters : mapping of str to Parameter
        All of them.
    speaks : callable
        Given the choices of all parts, whether this one has a say at all.
    left_out : callable
        Given a campaign and the choices of all parts, the choices that its records cannot feed,
        changed to some that they can, and what to note about it.
    objection : callable
        Given the choices of all parts, why this one's does not go with the others; empty when it
        does.
    """

    name: str
    choices: Mapping[str, tuple[str, ...]]
    parameters: Mapping[str, Parameter] = field(default_factory=dict)
    speaks: Callable[[Mapping[str, str]], bool] = _always
    left_out: Callable[[Campaign, Mapping[str, str]], LeftOut] = _nothing_left_out
    objection: Callable[[Mapping[str, str]], str] = _no_objection

    @property
    def default(self) -> str:
        """The choice of a model file that does not name the part."""
        return next(iter(self.choices))

    def needs(self, parts: Mapping[str, str]) -> tuple[str, ...]:
        """Return the parameters that the choices of all parts make this one need."""
        if not self.speaks(parts):
            return ()
        pooled = parts["pooling"] == "lakes"
        return tuple(
            name
            for name in self.choices[parts.get(self.name, self.default)]
            if pooled or not self.parameters[name].among_lakes
        )


def with_catches(parts: Mapping[str, str]) -> bool:
    """Tell whether catches speak, given the choices of all parts."""
    return parts["evidence"] != "marks"


def with_marks(parts: Mapping[str, str]) -> bool:
    """Tell whether marks speak, given the choices of all parts."""
    return parts["evidence"] != "depletion"


@dataclass(frozen=True)
class Steps:
    """Working variables of the sampler: standard normal before the records.

    Attributes
    ----------
    name : str
    dim : str
        The dimension that they have a value each along.
    count : callable, optional
        Given the effect's inputs, how many there are; not needed where the dimension has labels.
    choices : tuple of str
        The choices that need them; all where empty.
    """

    name: str
    dim: str
    count: Callable[[Any], int] | None = None
    choices: tuple[str, ...] = ()

    def needed(self, choice: str, inputs: Any) -> bool:
        """Tell whether a choice needs any of them for these inputs."""
        chosen = not self.choices or choice in self.choices
        return chosen and (self.count is None or self.count(inputs) > 0)


def _nothing_derived(
    xp: Any, choice: str, values: Mapping[str, Any], reference: float
) -> dict[str, Any]:
    return {}


def _nothing_told(pulls: pd.DataFrame) -> tuple[str, str]:
    return "", ""


@dataclass(frozen=True, kw_only=True)
class Effect(Part):
    """A part that multiplies the hazard of a pull.

    Attributes
    ----------
    inputs : callable
        Given the pulls to answer for and those that were fitted (the two are the same in a fit), a
        frozen dataclass of arrays, see `fishdown.models.inputs`.
    log_effect : callable
        ``log_effect(xp, choice, inputs, values, reference)``: what is added to the logarithm of
        the hazard of each pull. ``xp`` is NumPy or PyTensor's tensor module, ``values`` holds the
        parameters and steps, with one axis more in front for draws, ``reference`` is the
        reference temperature in °C.
    unfed : callable
        Why these pulls cannot feed it; empty when they can.
    steps : tuple of Steps
    derived : callable
        ``derived(xp, choice, values, reference)``: what it reports of each lake beyond its
        parameters, by name.
    variable : mapping
        (choice, parameter) → the variable's name in the graph, where it is another.
    told : callable
        Given the checked rows of a season's valid pulls, what can be estimated of it and what to
        remark, for `fishdown check`; either may be empty.
    """

    inputs: Callable[[PullTable, PullTable], Any]
    log_effect: Callable[[Any, str, Any, Mapping[str, Any], float], Any]
    unfed: Callable[[PullTable], str]
    steps: tuple[Steps, ...] = ()
    derived: Callable[[Any, str, Mapping[str, Any], float], dict[str, Any]] = _nothing_derived
    variable: Mapping[tuple[str, str], str] = field(default_factory=dict)
    told: Callable[[pd.DataFrame], tuple[str, str]] = _nothing_told
    speaks: Callable[[Mapping[str, str]], bool] = with_catches

    def called(self, choice: str, parameter: str) -> str:
        """Return the name that the graph has for a parameter."""
        return self.variable.get((choice, parameter), parameter)
