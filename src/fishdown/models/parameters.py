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
    families : tuple of str
        The families that its prior may have: `lognormal` for what is above zero, `beta` and
        `logitnormal` for shares, `normal` for the rest.
    """

    meaning: str
    unit: str
    families: tuple[str, ...] = ("lognormal",)


SHARE = ("beta", "logitnormal")
PARAMETERS: dict[str, Parameter] = {
    "density": Parameter("fish per hectare before the first pull of a season", "ha-1"),
    "reach": Parameter("share of the fish that ever come to the bait, in all lakes", "1", SHARE),
    "marks_kept": Parameter(
        "share of the marks released alive that were still there, and seen, at the first pull",
        "1",
        SHARE,
    ),
    "clip_kept": Parameter(
        "chance that a fin clip was still there, and seen, when its fish was recaptured",
        "1",
        SHARE,
    ),
    "tag_kept": Parameter(
        "chance that a tag was still there, and read, when its fish was recaptured", "1", SHARE
    ),
    "marking_survival": Parameter(
        "share of the marked fish, beyond the deaths on record, that survived the marking",
        "1",
        SHARE,
    ),
    "marked_odds": Parameter(
        "odds of a marked fish to be in a catch, relative to an unmarked one", "1"
    ),
    "clumping": Parameter(
        "coefficient of variation, from pull to pull, of the share of the marked fish that a pull "
        "takes, beyond that of all fish",
        "1",
    ),
    "cleared_ha": Parameter(
        "lake area that one pull clears of fish at the reference temperature "
        "(catchability × lake area)",
        "ha",
    ),
    "catchability": Parameter(
        "probability that one pull takes a given fish of the lake", "1", ("beta",)
    ),
    "area_exponent": Parameter(
        "how catchability falls with lake area; at 1 a pull clears the same area everywhere",
        "1",
        ("normal",),
    ),
    "lake_spread": Parameter("spread of catchability between lakes, on the log scale", "1"),
    "temperature_effect": Parameter(
        "what is left of catchability 10 °C below the reference temperature, as a factor", "1"
    ),
    "temperature_spread": Parameter(
        "spread of the temperature effect between lakes, on the log scale", "1"
    ),
    "threshold_temperature": Parameter(
        "water temperature at which catchability is half of what warm water has",
        "degree_Celsius",
        ("normal",),
    ),
    "threshold_width": Parameter(
        "width of the fall around that temperature (from 73 % to 27 % over two widths)",
        "degree_Celsius",
    ),
    "threshold_spread": Parameter(
        "spread of the threshold temperature between lakes", "degree_Celsius"
    ),
    "smooth_amplitude": Parameter(
        "how far the temperature curve strays from log-linear, on the log scale", "1"
    ),
    "smooth_scale": Parameter("over how many degrees that curve bends", "degree_Celsius"),
    "season_spread": Parameter(
        "spread of catchability between seasons of a lake, on the log scale", "1"
    ),
    "survival": Parameter(
        "share of the fish left at a season's end that live until the next one starts",
        "1",
        SHARE,
    ),
    "recruits": Parameter("young fish that join the stock of a lake in a year", "ha-1"),
    "recruit_spread": Parameter("spread of recruits between lakes, on the log scale", "1"),
    "recruit_variation": Parameter(
        "coefficient of variation, from year to year, of a lake's recruits", "1"
    ),
    "young_eaten_effect": Parameter(
        "what is left of recruits where fish that eat the young are plenty, as a factor", "1"
    ),
    "process_error": Parameter(
        "spread of abundance from year to year beyond that, on the log scale", "1"
    ),
    "marks_over_winter": Parameter(
        "share of the surviving marked fish that still carry a mark in the next season",
        "1",
        SHARE,
    ),
    "exchange": Parameter(
        "share of a connected lake's fish that its waters exchange in a year", "1", SHARE
    ),
    "outside_density": Parameter("fish per hectare that connected waters hold", "ha-1"),
    "net_spread": Parameter("spread of catchability between nets of a lake, on the log scale", "1"),
    "mesh_effect": Parameter("what a mesh twice as wide makes of catchability, as a factor", "1"),
    "later_pulls": Parameter(
        "catchability of a net's later pulls of a season relative to its first, as a factor", "1"
    ),
    "rest_loss": Parameter(
        "share of catchability that a net has lost when it is pulled again at once", "1", SHARE
    ),
    "rest_recovery": Parameter("days in which that loss falls to 37 %", "d"),
    "bait_start": Parameter(
        "share of its full catchability that a net has without bait", "1", SHARE
    ),
    "bait_build_up": Parameter("days of bait in which what is missing falls to 37 %", "d"),
    "schooling": Parameter(
        "coefficient of variation, from pull to pull, of the share that a pull takes", "1"
    ),
    "mean_weight": Parameter("mean weight of a fish", "kg"),
    "weight_variation": Parameter("coefficient of variation of the weight of single fish", "1"),
    "weight_spread": Parameter("spread of mean weight between lakes, on the log scale", "1"),
    "weight_year_spread": Parameter(
        "spread of mean weight between the years of a lake, on the log scale", "1"
    ),
    "condition": Parameter(
        "condition factor 10⁵ × weight in g / (length in mm)³ of fish of typical length", "1"
    ),
    "condition_spread": Parameter("spread of condition between lakes, on the log scale", "1"),
    "length_exponent": Parameter("power of length that weight goes with", "1", ("normal",)),
    "length_scatter": Parameter(
        "scatter of single fish about the length–weight relation, on the log scale", "1"
    ),
}
