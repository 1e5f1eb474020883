"""Drift: catchability changes slowly in the course of a season, for reasons not on record.

A Gaussian process over the days of a season, of squared-exponential covariance, on a Hilbert-space
basis (Riutort-Mayol et al. 2023, Statistics and Computing 33:17): here the sines and cosines of a
circle, so that no day is at a boundary.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.part import Effect, Level, Parameter, Steps
from fishdown.models.pull_table import numbered

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.pull_table import PullTable
    from fishdown.typing import FloatArray, IntArray

    type Numbers = FloatArray | IntArray

# Days of a season that one process covers, and those of the circle that it lives on: the first and
# the last of these days are 90 days apart the other way round.
STRETCH_DAYS, CIRCLE_DAYS = 150, 240
# Sines and cosines: with length scales of 8 days and more they have 97 % of the variance.
WAVES = 10
# With fewer dates or days in a season, drift is not told from chance (our judgement, no source).
FEWEST_DATES, FEWEST_DAYS = 3, 10


@by_value
@dataclass(frozen=True, eq=False)
class DriftInputs[A]:
    """The dates of the pulls: what is the same for all pulls of a date is computed once.

    Attributes
    ----------
    season : array of int, shape (pull,)
        Position of the season.
    stretch : array of int, shape (pull,)
        Number of the stretch of its season, over all seasons.
    date : array of int, shape (pull,)
        Position of the date among those of its season, over all seasons.
    stretch_of_date : array of int, shape (season_date,)
    waves : array, shape (wave, season_date)
        Cosines and sines on that day.
    pulls : array, shape (season,)
        How many pulls each season has, at least 1.
    """

    season: A = field(metadata=over("pull"))
    stretch: A = field(metadata=over("pull", groups=True))
    date: A = field(metadata=over("pull", groups=True, fill="season_date"))
    stretch_of_date: A = field(metadata=over("season_date"))
    waves: A = field(metadata=over("wave", "season_date"))
    pulls: A = field(metadata=over("season", units="count"))


def by_stretch(pulls: PullTable) -> tuple[tuple[tuple[str, str, str], ...], IntArray]:
    """Return the stretches of seasons (lake, season, number), and which each pull belongs to."""
    number = (days_of_season(pulls) // STRETCH_DAYS).astype(int)
    keys = zip(pulls.season.tolist(), number.tolist(), strict=True)
    return numbered([(*pulls.seasons[season], str(place)) for season, place in keys])


def days_of_season(pulls: PullTable) -> FloatArray:
    """Return the days since the first pull of the season, shape (pull,)."""
    day = pulls.date.astype("datetime64[D]").astype(float)
    first = np.full(len(pulls.seasons), np.inf)
    np.minimum.at(first, pulls.season, day)
    days: FloatArray = day - first[pulls.season]
    return days


def _inputs(pulls: PullTable, known: PullTable) -> DriftInputs[Numbers]:
    days, stretch = days_of_season(pulls), by_stretch(pulls)[1]
    keys, first, date = np.unique(
        np.stack([pulls.season, days]), axis=1, return_index=True, return_inverse=True
    )
    angle = 2.0 * np.pi / CIRCLE_DAYS * (keys[1] % STRETCH_DAYS)
    turns = np.arange(1, WAVES + 1)[:, None] * angle
    count = np.bincount(pulls.season, minlength=len(pulls.seasons))
    return DriftInputs(
        season=pulls.season,
        stretch=stretch,
        date=date.ravel(),
        stretch_of_date=stretch[first],
        waves=np.concatenate([np.cos(turns), np.sin(turns)]),
        pulls=np.maximum(count, 1).astype(float),
    )


def drift(xp: Any, inputs: DriftInputs[Any], values: Mapping[str, Any]) -> Any:
    """Return the process at the pulls, on the log scale, less its mean over all days of the circle.

    Σ_j √(2 S(ω_j) / W) (a_j cos ω_j t + b_j sin ω_j t) on a circle of W days, with ω_j = 2πj / W
    and S(ω) = σ² √(2π) ℓ exp(−ω²ℓ²/2), the spectral density of the covariance σ² exp(−t²/2ℓ²).

    Parameters
    ----------
    xp : module
        NumPy or PyTensor's, see `fishdown.models.array_library`.
    inputs : DriftInputs
    values : mapping
        ``drift_size`` σ, ``drift_days`` ℓ (days), ``drift_step`` a and b, shape (…, stretch, wave),
        standard normal a priori.

    Returns
    -------
    array or tensor, shape (…, pull)
    """
    size, days = values["drift_size"], values["drift_days"]
    frequency = 2.0 * np.pi / CIRCLE_DAYS * np.tile(np.arange(1, WAVES + 1), 2)
    scale = size * xp.sqrt(2.0 * np.sqrt(2.0 * np.pi) * days / CIRCLE_DAYS)
    root = scale * xp.exp(-((frequency * days) ** 2) / 4.0)
    weight = root[..., None, :] * values["drift_step"]
    by_date = (weight[..., inputs.stretch_of_date, :] * inputs.waves.T).sum(axis=-1)
    return by_date[..., inputs.date]


def _season_level(xp: Any, inputs: DriftInputs[Any], values: Mapping[str, Any]) -> Any:
    """Return its mean over the pulls of each season, shape (season,)."""
    total = xp.inc_subtensor(xp.zeros_like(inputs.pulls)[inputs.season], drift(xp, inputs, values))
    return total / inputs.pulls


def _log_effect(
    xp: Any, choice: str, inputs: DriftInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    return drift(xp, inputs, values) - values["drift_level"][..., inputs.season]


def _unfed(pulls: PullTable) -> str:
    day, season = days_of_season(pulls), pulls.season
    dates = np.unique(np.stack([season, day]), axis=1)[0].astype(int)
    enough = np.bincount(dates, minlength=len(pulls.seasons)) >= FEWEST_DATES
    span = np.zeros(len(pulls.seasons))
    np.maximum.at(span, season, day)
    if (enough & (span >= FEWEST_DAYS)).any():
        return ""
    return (
        f"no season has pulls on {FEWEST_DATES} dates over {FEWEST_DAYS} days: "
        "no slow change of the share that a pull takes"
    )


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    dates = pulls["date"].drop_duplicates()
    span = (dates.max() - dates.min()).days
    telling = len(dates) >= FEWEST_DATES and span >= FEWEST_DAYS
    return f"drift of catchability ({len(dates)} dates over {span} days)" if telling else "", ""


DRIFT = Effect(
    name="drift",
    choices={"none": (), "smooth": ("drift_size", "drift_days")},
    parameters={
        "drift_size": Parameter(
            "slow drift of catchability in the course of a season", label="log standard deviation"
        ),
        "drift_days": Parameter(
            "length scale of the drift of catchability (days over which it changes)",
            "d",
            label="days",
        ),
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    steps=(Steps("drift_step", "stretch", groups=by_stretch, functions=2 * WAVES),),
    levels=(Level("drift_level", _season_level),),
    in_time=True,
    told=_told,
)
