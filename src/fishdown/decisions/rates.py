"""Rates of change from year to year, as draws: of the fit, of a prior, or as given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.intervals import low_median_high, normal_sd
from fishdown.words import amount

if TYPE_CHECKING:
    from fishdown.models.priors import Prior
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

    type Given = tuple[float, float]

# The model whose priors stand in where a fit has no such parameter.
STAND_IN = "many_years"
OF_EVERY_LAKE = ("survival", "recruits", "recruit_variation", "process_error")
OF_CONNECTED_LAKES = ("exchange", "outside_density")
EFFECT = "young_eaten_effect"
WORDS = {
    "survival": ("survival", "a year"),
    "recruits": ("recruitment", "fish/ha a year"),
    "recruit_variation": ("the variation of recruitment", "coefficient of variation"),
    "process_error": ("process error", "log standard deviation"),
    "young_eaten_effect": ("recruitment ratio, with to without egg and fry predators", "ratio"),
    "exchange": ("the exchange with connected waters", "share a year"),
    "outside_density": ("the density of connected waters", "fish/ha"),
}


@by_value
@dataclass(frozen=True)
class Rates:
    """Draws of the yearly rates of the lakes of a fit.

    Attributes
    ----------
    draws : dict of ndarray, shape (chain, draw)
        By name, those that all lakes have in common.
    recruits : ndarray, shape (chain, draw, lake)
        Fish/ha a year without egg and fry predators.
    origins : dict of str
        By name: ``records`` (the fit's posterior), ``prior`` or ``given``.
    """

    draws: dict[str, FloatArray]
    recruits: FloatArray
    origins: dict[str, str]

    def named(self, origin: str, *, eaten: bool, connected: bool) -> list[str]:
        """Return the names of the rates of an origin that matter for a lake and scenario."""
        names = [*OF_EVERY_LAKE]
        names += [EFFECT] if eaten else []
        names += OF_CONNECTED_LAKES if connected else []
        return [name for name in names if self.origins[name] == origin]

    def said(self, name: str) -> str:
        """Return a rate with its interval and unit, in words."""
        low, median, high = low_median_high(
            self.recruits if name == "recruits" else self.draws[name]
        )
        what, unit = WORDS[name]
        return f"{what} {amount(median)} ({amount(low)} to {amount(high)}; {unit})"


def rates(
    fit: FittedCampaign, rng: np.random.Generator, survival: Given | None, recruits: Given | None
) -> Rates:
    """Gather the rates of a fit.

    Parameters
    ----------
    fit : FittedCampaign
    rng : numpy.random.Generator
        For what is drawn from a prior or from the user's interval.
    survival, recruits : (float, float), optional
        Ends of the interval that holds 90 %, as the user gives it: of survival on the logit scale
        (shares a year), of recruits where no fish eat the young on the log scale (fish/ha a year).
    """
    abundance = fit.quantities["abundance_after"]
    size = (abundance.sizes["chain"], abundance.sizes["draw"])
    posterior = fit.tree["posterior"].dataset
    draws: dict[str, FloatArray] = {}
    origins: dict[str, str] = {}
    for name in ("survival", "recruit_variation", "process_error", EFFECT, *OF_CONNECTED_LAKES):
        if name in posterior:
            draws[name], origins[name] = posterior[name].values, "records"
        else:
            draws[name], origins[name] = prior_of(fit, name).draw(rng, size), "prior"
    lakes = fit.campaign.lakes.sizes["lake"]
    if "recruits" in posterior:
        eaten = fit.campaign.lakes["young_eaten"].values
        # What the fit calls recruits of such a lake are those that were not eaten.
        open_water = posterior["recruits"].values / np.where(eaten, draws[EFFECT][..., None], 1.0)
        origins["recruits"] = "records"
    else:
        spread = prior_of(fit, "recruit_spread").draw(rng, size)[..., None]
        typical = prior_of(fit, "recruits").draw(rng, size)[..., None]
        open_water = typical * np.exp(spread * rng.normal(size=(*size, lakes)))
        origins["recruits"] = "prior"
    if survival is not None:
        low, high = np.log(survival) - np.log1p(-np.array(survival))
        draws["survival"] = 1.0 / (1.0 + np.exp(-_normal(low, high, rng, size)))
        origins["survival"] = "given"
    if recruits is not None:
        low, high = np.log(recruits)
        open_water = np.repeat(np.exp(_normal(low, high, rng, size))[..., None], lakes, axis=2)
        origins["recruits"] = "given"
    return Rates(draws, open_water, origins)


def prior_of(fit: FittedCampaign, name: str) -> Prior:
    """Return the prior of the fit's own model, or else that of `STAND_IN`."""
    from fishdown.models.spec import read_model

    own = fit.spec.priors.get(name)
    return read_model(STAND_IN).priors[name] if own is None else own


def _normal(low: float, high: float, rng: np.random.Generator, size: tuple[int, ...]) -> FloatArray:
    drawn: FloatArray = rng.normal(0.5 * (low + high), normal_sd(low, high), size)
    return drawn
