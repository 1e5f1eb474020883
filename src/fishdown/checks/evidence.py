"""Marks against depletion: whether the two kinds of evidence tell of the same number of fish.

Marks and catches inform abundance by different routes and fail for different reasons. Each is
fitted alone, and their disagreement is the probability, taken twice, that a draw from the one
posterior lies on the far side of a draw from the other. Without a cause small values are rare:
`benchmarks/RESULTS.md` has their measured frequency.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import xarray as xr

from fishdown import intervals
from fishdown.checks.marks_alone import marks_of_seasons
from fishdown.intervals import low_median_high
from fishdown.models.counts import ledger_of_season
from fishdown.words import percent

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

KINDS = ("marks", "depletion", "both")
POINTS = ("low", "median", "high")
# Below this the statement is withheld; below the other it carries a remark.
CONFLICT = 0.01
DOUBT = 0.05

MORE_BY_MARKS = (
    "lost or overlooked marks, marked fish shy of the nets, fish that never come to the bait, "
    "fish leaving the lake, or depletion around the nets only"
)
MORE_BY_DEPLETION = (
    "marked fish drawn to the nets or not yet mixed with the others, fish entering the lake, or "
    "catches that rose for a reason of their own"
)


@dataclass(frozen=True)
class Disagreement:
    """What marks and depletion say of one season.

    Attributes
    ----------
    agreement : float
        Two-sided tail probability; NaN where one of the two is silent.
    more_by_marks : bool
        Whether the marks tell of more fish.
    """

    agreement: float
    more_by_marks: bool

    @property
    def conflict(self) -> bool:
        """Whether a statement must be withheld."""
        return self.agreement < CONFLICT

    def sentence(self) -> str:
        """Say it in the trade's words; empty where both are in keeping or one is silent."""
        if not self.agreement < DOUBT:
            return ""
        causes = MORE_BY_MARKS if self.more_by_marks else MORE_BY_DEPLETION
        more = "more" if self.more_by_marks else "fewer"
        strength = "contradict each other" if self.conflict else "are in some tension"
        shown = percent(self.agreement)
        return (
            f"marks and catches {strength} (agreement {shown}): the marks tell of {more} "
            f"fish than the catches do; likely causes: {causes}"
        )


def both_speak(campaign: Campaign, spec: ModelSpec) -> bool:
    """Tell whether marks and catches can be compared: some season has both."""
    if spec.part("evidence") != "both":
        return False
    seasons = range(campaign.seasons.sizes["season"])
    marked = any(len(ledger_of_season(campaign, season, "marks").weights) for season in seasons)
    netted = np.bincount(
        campaign.pulls["season_index"].values[~campaign.pulls["spoiled"].values],
        minlength=len(seasons),
    )
    # By itself, a season without a pull that speaks has no depletion to fit.
    fed = spec.part("years") == "linked" or bool((netted > 0).all())
    return marked and fed and bool((netted > 1).any())


def marks_trusted(campaign: Campaign, spec: ModelSpec, season: int) -> bool:
    """Tell whether marks of a season speak, and the model takes every one at face value."""
    doubts = {"marks": "kept", "deaths": "recorded"}
    if any(spec.part(part) != choice for part, choice in doubts.items()):
        return False
    if spec.part("recaptures") == "uneven" or spec.part("evidence") == "depletion":
        return False
    return len(ledger_of_season(campaign, season, "marks").weights) > 0


def catches_alone(spec: ModelSpec) -> ModelSpec:
    """Return the same model without its marks: what is left to tell abundance are the catches.

    Fish out of reach stay out of reach, by their prior, so that both sides count all fish.
    """
    return spec.with_parts(evidence="depletion", marks="kept", weights="none")


def marks_alone_spec(spec: ModelSpec) -> ModelSpec | None:
    """Return the same model with nothing but its marks; None where no sampling is needed.

    Linked years tie the marks of one season to those of the next, and where batches, kinds of mark
    or recaptures differ there is more to integrate over than a quadrature does.
    """
    plain = {"years": ("apart",), "marks": ("kept", "lost"), "deaths": ("recorded",)}
    plain |= {"batches": ("together",), "recaptures": ("by_lot",)}
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
    """Set the three posteriors of abundance side by side.

    Parameters
    ----------
    campaign : Campaign
    spec : ModelSpec
        The model of the joint fit.
    both, depletion : xarray.DataArray
        Draws of abundance before netting, dimensions (chain, draw, season), from the joint fit and
        from the catches alone.
    marks : xarray.DataArray, optional
        The same from the marks alone, for models whose marks `marks_alone` cannot integrate.

    Returns
    -------
    xarray.Dataset
        ``abundance`` (season, evidence, point), fish; ``agreement`` (season). NaN where a season
        has no marks that speak.
    """
    count = campaign.seasons.sizes["season"]
    abundance = np.full((count, len(KINDS), len(POINTS)), np.nan)
    agreement = np.full(count, np.nan)
    by_marks = marks_of_seasons(campaign, spec, marks)
    for season in range(count):
        catches: FloatArray = depletion.isel(season=season).values.ravel()
        abundance[season, 1] = low_median_high(catches)
        abundance[season, 2] = low_median_high(both.isel(season=season).values)
        if season not in by_marks:
            continue
        abundance[season, 0] = by_marks[season].quantile(intervals.POINTS)
        # No more than the draws can tell.
        least = 0.5 / len(catches)
        below = np.clip(by_marks[season].at_most(catches).mean(), least, 1 - least)
        agreement[season] = 2.0 * min(below, 1.0 - below)
    unit = {"units": "count", "long_name": "fish before the first pull, by kind of evidence"}
    tail = {"units": "1", "long_name": "agreement of marks and catches (two-sided tail)"}
    return xr.Dataset(
        {
            "abundance": (("season", "evidence", "point"), abundance, unit),
            "agreement": ("season", agreement, tail),
        },
        coords={
            "season": campaign.seasons["season"].values,
            "evidence": list(KINDS),
            "point": list(POINTS),
        },
    )


def disagreement(evidence: xr.Dataset, season: int) -> Disagreement:
    """Return what marks and catches of one season have to say to each other."""
    median = evidence["abundance"].sel(point="median").isel(season=season)
    return Disagreement(
        agreement=float(evidence["agreement"].isel(season=season)),
        more_by_marks=bool(median.sel(evidence="marks") > median.sel(evidence="depletion")),
    )


def evidence_frame(campaign: Campaign, evidence: xr.Dataset) -> pd.DataFrame:
    """Tabulate the comparison: one row for each season and kind of evidence.

    Returns
    -------
    pandas.DataFrame
        lake, season, evidence, low, median, high (fish before netting, 90 % interval), agreement.
    """
    rows = []
    for season in range(evidence.sizes["season"]):
        for kind in KINDS:
            points = evidence["abundance"].isel(season=season).sel(evidence=kind).values
            rows.append(
                {
                    "lake": str(campaign.seasons["lake"].values[season]),
                    "season": str(campaign.seasons["label"].values[season]),
                    "evidence": kind,
                    **dict(zip(POINTS, points, strict=True)),
                    "agreement": float(evidence["agreement"].values[season]),
                }
            )
    return pd.DataFrame(rows)
