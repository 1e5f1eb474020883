"""Rates of change from year to year, as draws: of the fit, of a prior, or as given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.recruitment import CHANCE, COMPENSATION, OPTIONAL, SHAPE, SIZE
from fishdown.equality import by_value
from fishdown.intervals import low_median_high, normal_sd
from fishdown.models.parts import parameters
from fishdown.models.parts.years.transition import replaced
from fishdown.models.priors import Prior
from fishdown.units import label, shown
from fishdown.words import amount

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

    type Given = tuple[float, float]

# The model whose priors stand in where a fit has no such parameter.
STAND_IN = "many_years"
OF_EVERY_LAKE = (
    "survival", "winter_spread", "recruits", "recruit_variation", "process_error", "growth",
    "young_weight"
)  # fmt: skip
# Of these no model has an estimate: `models/README.md`, section "Years ahead", has their reasons.
OF_WEIGHT = {
    "growth": Prior("logitnormal", (0.3, 0.7)),
    "young_weight": Prior("logitnormal", (0.3, 0.7)),
}
OF_CONNECTED_LAKES = ("exchange", "outside_ratio")
EFFECT = "young_eaten_effect"
WORDS = {
    "survival": ("natural survival", "a year"),
    "winter_spread": ("its spread from winter to winter", "logit standard deviation"),
    "recruits": ("recruitment", "fish/ha a year"),
    "recruit_variation": ("the variation of recruitment", "coefficient of variation"),
    "process_error": ("process error", "log standard deviation"),
    "young_eaten_effect": ("recruitment ratio, with to without egg and fry predators", "ratio"),
    "growth": ("growth of the survivors", "share of the way to their final weight a year"),
    "young_weight": ("mean weight of recruits", "ratio to the lake's before its first netting"),
    "exchange": ("the exchange with connected waters", "share a year"),
    SHAPE: (
        "the shape of the stock–recruit curve",
        "ratio of the lake's level to the abundance with most young",
    ),
    CHANCE: ("the chance of a strong year class", "a year"),
    SIZE: ("recruitment in a strong year", "ratio to an ordinary year"),
    COMPENSATION: ("the compensation of survival", "power of the share of fish left"),
    "outside_ratio": ("the density of connected waters", "ratio to the lake's first season"),
}


@by_value
@dataclass(frozen=True)
class Rates:
    """Draws of the yearly rates of the lakes of a fit.

    Attributes
    ----------
    draws : dict of ndarray, shape (chain, draw)
        By name, those that all lakes have in common.
    survival : ndarray, shape (chain, draw, lake)
        Natural survival in a median winter.
    recruits : ndarray, shape (chain, draw, lake)
        Fish/ha in an average year without egg and fry predators.
    level : ndarray, shape (chain, draw, lake)
        Fish before the first pull of each lake's first season; 0 in a lake without one.
    origins : dict of str
        By name: ``records`` (the fit's posterior), ``prior`` or ``given``.
    """

    draws: dict[str, FloatArray]
    survival: FloatArray
    recruits: FloatArray
    level: FloatArray
    origins: dict[str, str]

    def named(
        self, origin: str, *, eaten: bool, connected: bool, others: Sequence[str] = ()
    ) -> list[str]:
        """Return the names of the rates of an origin that matter for a lake and scenario."""
        names = [*OF_EVERY_LAKE]
        names += [EFFECT] if eaten else []
        names += OF_CONNECTED_LAKES if connected else []
        names += others
        return [name for name in names if self.origins[name] == origin]

    def said(self, name: str, lakes: Sequence[int]) -> str:
        """Return a rate with its interval and unit, in words.

        Recruitment goes with how many fish a lake held, unless it is given: it is told of these
        lakes alone, whose estimates are not withheld.
        """
        what, unit = WORDS[name]
        of_lakes = {"survival": self.survival, "recruits": self.recruits}
        draws = of_lakes[name] if name in of_lakes else self.draws[name]
        if name == "recruits" and self.origins[name] != "given":
            draws = draws[..., list(lakes)]
        if not draws.size:
            return f"{what} (withheld)"
        if name == "recruits":
            draws = shown(draws, "fish/ha")
        low, median, high = low_median_high(draws)
        return f"{what} {amount(median)} ({amount(low)} to {amount(high)}; {label(unit)})"


def rates(
    fit: FittedCampaign, rng: np.random.Generator, survival: Given | None, recruits: Given | None
) -> Rates:
    """Gather the rates of a fit.

    Parameters
    ----------
    rng : numpy.random.Generator
        For what is drawn from a prior or from the user's interval.
    survival, recruits : (float, float), optional
        Ends of the interval that holds 90 %, as the user gives it: of survival on the logit scale
        (shares a year), of recruits where no fish eat the young on the log scale (fish/ha a year).
    """
    abundance = fit.quantities["abundance_after"]
    size = (abundance.sizes["chain"], abundance.sizes["draw"])
    posterior = fit.tree["posterior"].dataset
    lakes = fit.campaign.lakes
    area = lakes["area"].values
    draws: dict[str, FloatArray] = {}
    origins: dict[str, str] = {}
    common = ("winter_spread", "recruit_variation", "process_error", EFFECT)
    for name in (*common, *OF_CONNECTED_LAKES):
        if name in posterior:
            draws[name], origins[name] = posterior[name].values, "records"
        else:
            draws[name], origins[name] = prior_of(fit, name).draw(rng, size), "prior"
    if "survival" in posterior:
        lives, origins["survival"] = posterior["survival"].values, "records"
    else:
        lives = _prior_by_lake(fit, "survival", rng, (*size, len(area)))
        origins["survival"] = "prior"
    if survival is not None:
        low, high = np.log(survival) - np.log1p(-np.array(survival))
        given = 1.0 / (1.0 + np.exp(-_normal(low, high, rng, size)))
        lives, origins["survival"] = np.repeat(given[..., None], len(area), axis=2), "given"
    for name, prior in OF_WEIGHT.items():
        draws[name], origins[name] = prior.draw(rng, size), "prior"
    # Drawn apart, so that the other draws are the same whether these are used or not.
    apart = rng.spawn(1)[0]
    for name, prior in OPTIONAL.items():
        draws[name], origins[name] = prior.draw(apart, size), "prior"
    level = _first_abundance(fit, len(area))
    if "recruits" in posterior:
        eaten = lakes["young_eaten"].values
        # What the fit calls recruits of such a lake are those that were not eaten.
        open_water = posterior["recruits"].values / np.where(eaten, draws[EFFECT][..., None], 1.0)
        origins["recruits"] = "records"
    else:
        ratio = _prior_by_lake(fit, "replacement", rng, (*size, len(area)))
        open_water, origins["recruits"] = ratio * replaced(lives, level) / area, "prior"
    if recruits is not None:
        low, high = np.log(recruits)
        given = np.exp(_normal(low, high, rng, size))
        open_water, origins["recruits"] = np.repeat(given[..., None], len(area), axis=2), "given"
    return Rates(draws, lives, open_water, level, origins)


def prior_of(fit: FittedCampaign, name: str) -> Prior:
    """Return the prior of the fit's own model, or else that of `STAND_IN`."""
    from fishdown.models.spec import read_model

    own = fit.spec.priors.get(name)
    return read_model(STAND_IN).priors[name] if own is None else own


def _prior_by_lake(
    fit: FittedCampaign, name: str, rng: np.random.Generator, size: tuple[int, int, int]
) -> FloatArray:
    """Draw a parameter of each lake, about that of a typical one, shape (chain, draw, lake)."""
    by_lake = parameters()[name].by_lake
    assert by_lake is not None
    typical = prior_of(fit, name).draw(rng, size[:2])[..., None]
    apart = prior_of(fit, by_lake.spread).draw(rng, size[:2])[..., None] * rng.normal(size=size)
    if by_lake.scale == "logit":
        odds: FloatArray = typical / (1.0 - typical) * np.exp(apart)
        return odds / (1.0 + odds)
    return typical * np.exp(apart)


def _first_abundance(fit: FittedCampaign, lakes: int) -> FloatArray:
    """Return the fish before netting in the first season of each lake."""
    fish = fit.quantities["abundance_before"].transpose("chain", "draw", "season").values
    found = np.zeros((*fish.shape[:2], lakes))
    lake, first = np.unique(fit.campaign.seasons["lake_index"].values, return_index=True)
    found[..., lake] = fish[..., first]
    return found


def _normal(low: float, high: float, rng: np.random.Generator, size: tuple[int, ...]) -> FloatArray:
    return rng.normal(0.5 * (low + high), normal_sd(low, high), size)
