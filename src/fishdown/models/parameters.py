"""The parameters that a model can have: what each means, in which unit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Parameter:
    """Meaning and unit of one parameter.

    Attributes
    ----------
    meaning : str
        In the words of the trade.
    unit : str
        UDUNITS-style unit, "1" when there is none.
    """

    meaning: str
    unit: str


PARAMETERS: dict[str, Parameter] = {
    "density": Parameter("fish per hectare before the first pull of a season", "ha-1"),
    "cleared_ha": Parameter(
        "lake area that one pull clears of fish at the reference temperature "
        "(catchability × lake area)",
        "ha",
    ),
    "catchability": Parameter("probability that one pull takes a given fish of the lake", "1"),
    "area_exponent": Parameter(
        "how catchability falls with lake area; at 1 a pull clears the same area everywhere",
        "1",
    ),
    "lake_spread": Parameter("spread of catchability between lakes, on the log scale", "1"),
    "temperature_effect": Parameter(
        "what is left of catchability 10 °C below the reference temperature, as a factor", "1"
    ),
    "temperature_spread": Parameter(
        "spread of the temperature effect between lakes, on the log scale", "1"
    ),
    "schooling": Parameter(
        "coefficient of variation, from pull to pull, of the share that a pull takes", "1"
    ),
    "mean_weight": Parameter("mean weight of a fish", "kg"),
    "weight_variation": Parameter("coefficient of variation of the weight of single fish", "1"),
    "weight_spread": Parameter("spread of mean weight between lakes, on the log scale", "1"),
}
