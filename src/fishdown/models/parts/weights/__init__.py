"""Weights: the mean weight of a fish, from fish weighed and fish measured only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fishdown.models.part import Parameter, Part

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.part import LeftOut


_BY_CATCH = (
    "weight_pull_spread",
    "weight_trend",
    "net_selectivity",
    "weight_variation_spread",
)


def _weighed(parts: Mapping[str, str]) -> bool:
    return parts["weights"] != "none"


def _left_out(campaign: Campaign, parts: Mapping[str, str]) -> LeftOut:
    # NumPy and the records' arrays are not needed to read a model file.
    from fishdown.models.parts.weights.measured import fitting_weights

    return fitting_weights(campaign, parts)


WEIGHTS = Part(
    name="weights",
    choices={"none": (), "measured": ("mean_weight", "weight_variation", "weight_spread")},
    parameters={
        "mean_weight": Parameter("mean weight of a fish", "kg"),
        "weight_variation": Parameter("coefficient of variation of the weight of single fish"),
        "weight_spread": Parameter(
            "spread of mean weight between lakes, on the log scale", among_lakes=True
        ),
    },
    left_out=_left_out,
)

SIZES = Part(
    name="sizes",
    choices={"by_season": (), "by_lake_and_year": ("weight_year_spread",)},
    parameters={
        "weight_year_spread": Parameter(
            "spread of mean weight between the years of a lake, on the log scale"
        )
    },
    applies=_weighed,
)

WEIGHED = Part(
    name="weighed",
    choices={
        "at_random": (),
        "by_catch": _BY_CATCH,
        "by_gear": (*_BY_CATCH, "electrofishing_selectivity"),
    },
    parameters={
        "weight_pull_spread": Parameter(
            "spread of mean weight between catches of a season, coefficient of variation"
        ),
        "weight_trend": Parameter(
            "change of the logarithm of weight in 30 days, by growth or starvation",
            families=("normal",),
            label="per 30 days",
        ),
        "net_selectivity": Parameter(
            "mean weight of the fish caught by nets relative to those in the lake", label="ratio"
        ),
        "electrofishing_selectivity": Parameter(
            "mean weight of the fish caught by electrofishing relative to those in the lake",
            label="ratio",
        ),
        "weight_variation_spread": Parameter(
            "spread of the coefficient of variation of weight between lakes, on the log scale",
            among_lakes=True,
        ),
    },
    applies=_weighed,
)

LENGTHS = Part(
    name="lengths",
    choices={
        "none": (),
        "log_log": ("condition", "length_exponent", "length_scatter", "condition_spread"),
    },
    parameters={
        "condition": Parameter(
            "condition factor 10⁵ × weight in g / (length in mm)³ of fish of typical length"
        ),
        "condition_spread": Parameter(
            "spread of condition between lakes, on the log scale", among_lakes=True
        ),
        "length_exponent": Parameter(
            "exponent of the weight–length relationship", families=("normal",), label="exponent"
        ),
        "length_scatter": Parameter(
            "scatter of single fish about the weight–length relationship, on the log scale"
        ),
    },
    applies=_weighed,
)
