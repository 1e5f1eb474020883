"""What becomes of a drawn lake over the winter.

As in `truth`, the formulas are those of `models/README.md`, section "Years", written again in plain
NumPy; the transition and the densities of `fishdown.models` have no part in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.parts.years.links import Winters
    from fishdown.typing import FloatArray, IntArray, Numbers


def luck_of_winters(
    values: dict[str, FloatArray],
    winters: Winters[Numbers],
    lake: IntArray,
    rng: np.random.Generator,
) -> None:
    """Draw how well fish survive each winter: the logit of survival moves by its luck.

    Adds ``winter_step`` and ``winter_survival``, shape (winter,).

    Parameters
    ----------
    values : dict of str to ndarray
        Parameters drawn, by the names of the graph.
    lake : ndarray of int, shape (season,)
        Position of the lake of each season.
    """
    step = rng.normal(size=len(winters.after))
    odds = values["survival"] / (1.0 - values["survival"])
    odds = odds[lake[winters.after]] * np.exp(values["winter_spread"] * step)
    values["winter_step"], values["winter_survival"] = step, odds / (1.0 + odds)


def winter(
    values: dict[str, FloatArray],
    lakes: xr.Dataset,
    place: tuple[int, int],
    level: float,
    left: float,
    marks: int,
    rng: np.random.Generator,
) -> tuple[float, int]:
    """Draw what a lake holds at the start of the next season.

    Parameters
    ----------
    values : dict of str to ndarray
        Parameters drawn, by the names of the graph.
    place : (int, int)
        Position of the lake, and of the winter among all of the campaign.
    level : float
        Fish of the lake before the first pull of its first season.
    left, marks : float and int
        Fish that the season left, and marked fish among them.

    Returns
    -------
    fish : float
        In the lake next season, marked ones included; not rounded. Log-normal, of the mean and
        variance of survivors, immigrants and recruits together (Fenton 1960), times all else.
    lasted : int
        Marks still there, each by the same chance, of which the survival of all fish is a factor.
    """
    lake, which = place
    alive, c = float(values["winter_survival"][which]), float(values["recruit_variation"][0])
    e, outside = 0.0, 0.0
    if bool(lakes["connected"].values[lake]):
        e, outside = float(values["exchange"][0]), float(values["outside_ratio"][0]) * level
    young = float(values["replacement"][lake] * (1.0 - values["survival"][lake])) * level
    if bool(lakes["young_eaten"].values[lake]):
        young *= float(values["young_eaten_effect"][0])
    fish = max(left, 0.0)
    stay = alive * (1.0 - e)
    mean = stay * fish + alive * e * outside + young
    variance = stay * (1.0 - stay) * fish + alive * e * outside + young + (c * young) ** 2
    log_variance = np.log1p(variance / mean**2) + float(values["process_error"][0]) ** 2
    started = mean * np.exp(np.sqrt(log_variance) * rng.normal() - 0.5 * log_variance)
    # A model that leaves marks out has no chance of theirs to last.
    kappa = float(values["overwinter_retention"][0]) if "overwinter_retention" in values else 1.0
    return float(started), int(rng.binomial(marks, stay * kappa))
