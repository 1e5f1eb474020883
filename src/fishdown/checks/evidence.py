"""Consistency of mark–recapture with depletion: whether both estimate the same abundance.

Marks and catches inform abundance by different routes and their assumptions fail for different
reasons. Each is fitted without the other. Their consistency is the two-sided tail probability of
the difference of the two posteriors: twice the probability that a draw from the one lies on the
far side of a draw from the other. Under a correct model small values are rare:
`benchmarks/RESULTS.md` has their measured frequency.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown import intervals
from fishdown.checks.effective_marks_alone import by_quadrature
from fishdown.checks.marks_alone import marks_of_seasons
from fishdown.intervals import low_median_high
from fishdown.models.parts.counting.counts import marks_inform
from fishdown.posterior.disagreement import KINDS, POINTS

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray


def both_speak(campaign: Campaign, spec: ModelSpec) -> bool:
    """Return whether mark–recapture and depletion can be compared: some season has both."""
    if spec.part("evidence") != "both":
        return False
    seasons = range(campaign.seasons.sizes["season"])
    marked = any(marks_inform(campaign, season) for season in seasons)
    netted = np.bincount(
        campaign.pulls["season_index"].values[~campaign.pulls["spoiled"].values],
        minlength=len(seasons),
    )
    # Without linked years, a season whose pulls are all void has no depletion to fit.
    fed = spec.part("years") == "linked" or bool((netted > 0).all())
    return marked and fed and bool((netted > 1).any())


def marks_trusted(campaign: Campaign, spec: ModelSpec, season: int) -> bool:
    """Return whether a season has recapture data and the model takes every mark at face value."""
    doubts = {"marks": "all_count", "deaths": "recorded"}
    if any(spec.part(part) != choice for part, choice in doubts.items()):
        return False
    if spec.part("recaptures") == "uneven" or spec.part("evidence") == "depletion":
        return False
    return marks_inform(campaign, season)


def catches_alone(spec: ModelSpec) -> ModelSpec:
    """Return the same model without its marks (depletion only).

    The proportion vulnerable to the gear keeps its prior, so that both estimates count all fish.
    """
    return spec.with_parts(evidence="depletion", marks="all_count", weights="none")


def marks_alone_spec(spec: ModelSpec) -> ModelSpec | None:
    """Return the same model with its marks only; None where no sampling is needed.

    Linked years tie the marks of one season to those of the next, and where batches, kinds of mark
    or recaptures differ there are too many unknowns for the quadrature.
    """
    plain = {"years": ("apart",), "marks": ("all_count", "lost"), "deaths": ("recorded",)}
    plain |= {"batches": ("together",), "recaptures": ("random",)}
    if by_quadrature(spec):
        return None
    if all(spec.part(part) in choices for part, choices in plain.items()):
        return None
    return spec.with_parts(evidence="marks", weights="none")


def compare(
    campaign: Campaign,
    spec: ModelSpec,
    both: xr.DataArray,
    depletion: xr.DataArray,
    marks: xr.DataArray | None = None,
) -> xr.Dataset:
    """Compare the posteriors of abundance: mark–recapture only, depletion only, joint.

    Parameters
    ----------
    spec : ModelSpec
        The model of the joint fit.
    both, depletion : xarray.DataArray
        Draws of abundance before netting, dimensions (chain, draw, season), from the joint fit and
        from depletion only.
    marks : xarray.DataArray, optional
        The same from the marks only, for models that `marks_alone` cannot integrate.

    Returns
    -------
    xarray.Dataset
        ``abundance`` (season, evidence, point), fish; ``tail_probability`` (season). NaN where a
        season has no recapture data.
    """
    count = campaign.seasons.sizes["season"]
    abundance = np.full((count, len(KINDS), len(POINTS)), np.nan)
    tail_probability = np.full(count, np.nan)
    by_marks = marks_of_seasons(campaign, spec, marks)
    for season in range(count):
        catches: FloatArray = depletion.isel(season=season).values.ravel()
        abundance[season, 1] = low_median_high(catches)
        abundance[season, 2] = low_median_high(both.isel(season=season).values)
        if season not in by_marks:
            continue
        abundance[season, 0] = by_marks[season].quantile(intervals.POINTS)
        # No smaller than the draws can resolve.
        least = 0.5 / len(catches)
        below = np.clip(by_marks[season].at_most(catches).mean(), least, 1 - least)
        tail_probability[season] = 2.0 * min(below, 1.0 - below)
    unit = {"units": "count", "long_name": "fish before the first pull, by source of evidence"}
    tail = {
        "units": "1",
        "long_name": "two-sided tail probability of the difference of mark–recapture and depletion",
    }
    return xr.Dataset(
        {
            "abundance": (("season", "evidence", "point"), abundance, unit),
            "tail_probability": ("season", tail_probability, tail),
        },
        coords={
            "season": campaign.seasons["season"].values,
            "evidence": list(KINDS),
            "point": list(POINTS),
        },
    )
