"""What a part of the model is. Everything about a part stands in one file of `parts/`.

A part has choices, the first of which is usually to leave it out; each choice has parameters, and a
model file states a prior for each. An `Effect` is a part that multiplies the hazard of a pull.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import pandas as pd

    from fishdown.campaign import Campaign
    from fishdown.models.pull_table import PullTable
    from fishdown.typing import IntArray

# Choices to change, by part, and notes in words.
type LeftOut = tuple[dict[str, str], tuple[str, ...]]
# Labels of different things, in order, and which of them each pull belongs to.
type Groups = tuple[tuple[tuple[str, ...], ...], IntArray]

SHARE = ("beta", "logitnormal")


@dataclass(frozen=True)
class ByLake:
    """A parameter that each lake has a value of.

    With pooled lakes the values vary about that of a typical lake, which has the prior.

    Attributes
    ----------
    spread : str
        The parameter that is the standard deviation between lakes.
    scale : {"log", "logit", "level"}
        The scale on which it is one.
    wider_alone : bool
        Whether a lake by itself has the standard deviations of typical lakes and between lakes
        together; else the prior of a typical one.
    """

    spread: str
    scale: Literal["log", "logit", "level"] = "log"
    wider_alone: bool = False


@dataclass(frozen=True)
class Parameter:
    """Meaning, unit and possible priors of one parameter.

    Attributes
    ----------
    meaning : str
        In the field's terms.
    unit : str
        In UDUNITS, as netCDF readers parse it; "1" if dimensionless.
    families : tuple of str
        The families that its prior may have: `lognormal` for positive parameters, `beta` and
        `logitnormal` for proportions, `normal` for the rest.
    label : str
        Its unit for people, if it is reported; else empty.
    by_lake : ByLake, optional
        If each lake has a value; else one is common to all.
    among_lakes : bool
        Whether it is needed only with pooled lakes.
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
    applies : callable
        Given the choices of all parts, whether this one is part of the model.
    left_out : callable
        Given a campaign and the choices of all parts, other choices where its records carry no
        information, and notes on them.
    objection : callable
        Given the choices of all parts, why this one's is incompatible with the others; empty if
        it is not.
    reported : mapping of str to Parameter
        Quantities of a season that the graph derives from the parameters, by their variable. They
        have no prior of their own.
    unreported : mapping of str to tuple of str
        Parameters of a choice that are not reported, since the records inform what is derived
        from them and hardly them.
    """

    name: str
    choices: Mapping[str, tuple[str, ...]]
    parameters: Mapping[str, Parameter] = field(default_factory=dict)
    applies: Callable[[Mapping[str, str]], bool] = _always
    left_out: Callable[[Campaign, Mapping[str, str]], LeftOut] = _nothing_left_out
    objection: Callable[[Mapping[str, str]], str] = _no_objection
    reported: Mapping[str, Parameter] = field(default_factory=dict)
    unreported: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def default(self) -> str:
        """The choice in a model file that does not name the part."""
        return next(iter(self.choices))

    def needs(self, parts: Mapping[str, str]) -> tuple[str, ...]:
        """Return the parameters that this part needs, given the choices of all parts."""
        if not self.applies(parts):
            return ()
        pooled = parts["pooling"] == "lakes"
        return tuple(
            name
            for name in self.choices[parts.get(self.name, self.default)]
            if pooled or not self.parameters[name].among_lakes
        )


def with_catches(parts: Mapping[str, str]) -> bool:
    """Return whether catches are in the likelihood, given the choices of all parts."""
    return parts["evidence"] != "marks"


def with_marks(parts: Mapping[str, str]) -> bool:
    """Return whether recaptures are in the likelihood, given the choices of all parts."""
    return parts["evidence"] != "depletion"


@dataclass(frozen=True)
class Steps:
    """Sampler coordinates: standard normal a priori.

    Attributes
    ----------
    name : str
    dim : str
        Their dimension.
    count : callable, optional
        Given the effect's inputs, their number; not needed if the dimension has labels.
    choices : tuple of str
        The choices that need them; if empty, all do.
    groups : callable, optional
        Given pulls, what has a step of its own (a net, a night) and which of them each pull belongs
        to. What the fit has not seen is drawn anew for pulls to come.
    functions : int
        Number of basis functions, if each of these has a step for every one; else 0.
    """

    name: str
    dim: str
    count: Callable[[Any], int] | None = None
    choices: tuple[str, ...] = ()
    groups: Callable[[PullTable], Groups] | None = None
    functions: int = 0

    def needed(self, choice: str, inputs: Any) -> bool:
        """Return whether a choice needs any of them for these inputs."""
        chosen = not self.choices or choice in self.choices
        return chosen and (self.count is None or self.count(inputs) > 0)


@dataclass(frozen=True)
class Level:
    """A quantity of each season, of the pulls that were fitted; it is kept with the draws.

    Attributes
    ----------
    name : str
    of : callable
        ``of(pt, inputs, values)``: it, shape (season,), from an effect's inputs, parameters and
        steps in the graph.
    """

    name: str
    of: Callable[[Any, Any, Mapping[str, Any]], Any]


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
        Given the pulls to predict and those that were fitted (the same in a fit), a frozen
        dataclass of arrays, see `fishdown.models.inputs`.
    log_effect : callable
        ``log_effect(xp, choice, inputs, values, reference)``: what is added to the logarithm of
        the hazard of each pull. ``xp`` is NumPy or PyTensor's tensor module, ``values`` holds the
        parameters and steps, with one axis more in front for draws, ``reference`` is the
        reference temperature in °C.
    unfed : callable
        Why these pulls carry no information on it; empty if they do.
    steps : tuple of Steps
    levels : tuple of Level
        Of the choices other than the default; among ``values`` for `log_effect`.
    in_time : bool
        Whether it changes in time for reasons not on record.
    derived : callable
        ``derived(xp, choice, values, reference)``: quantities of each lake to report beside its
        parameters, by name.
    variable : mapping
        (choice, parameter) → the variable's name in the graph, if it differs.
    absent : str
        The choice that leaves it out, if that is not the default.
    told : callable
        Given the checked rows of a season's valid pulls, what can be estimated of it and what to
        remark, for `fishdown check`; either may be empty.
    """

    inputs: Callable[[PullTable, PullTable], Any]
    log_effect: Callable[[Any, str, Any, Mapping[str, Any], float], Any]
    unfed: Callable[[PullTable], str]
    steps: tuple[Steps, ...] = ()
    levels: tuple[Level, ...] = ()
    in_time: bool = False
    derived: Callable[[Any, str, Mapping[str, Any], float], dict[str, Any]] = _nothing_derived
    variable: Mapping[tuple[str, str], str] = field(default_factory=dict)
    absent: str = ""
    told: Callable[[pd.DataFrame], tuple[str, str]] = _nothing_told
    applies: Callable[[Mapping[str, str]], bool] = with_catches

    @property
    def left(self) -> str:
        """The choice that leaves it out."""
        return self.absent or self.default

    def active(self, parts: Mapping[str, str]) -> bool:
        """Return whether it is in a model, given the choices of all parts."""
        return self.applies(parts) and parts[self.name] != self.left

    def called(self, choice: str, parameter: str) -> str:
        """Return the name that the graph has for a parameter."""
        return self.variable.get((choice, parameter), parameter)
