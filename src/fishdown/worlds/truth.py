"""What is true of an invented campaign: its lakes, its design, and what goes wrong in it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from fishdown.worlds.antenna import AntennaTruth


@dataclass(frozen=True)
class LakeTruth:
    """Truth of one lake.

    Attributes
    ----------
    name : str
    area_ha : float
        ha.
    fish : int
        Fish before the first pull, marked ones among them.
    area_fished_ha : float
        Effective area fished per pull at the reference temperature, ha.
    temperature_effect : float
        What is left of the hazard 10 °C below the reference.
    mean_weight : float
        kg.
    first_year : int
        Year, counted from the world's first, in which the lake enters.
    connected, young_eaten : bool
        Whether waters exchange fish with it, and whether fish that eat the young are plenty.
    condition : float
        Condition factor 10⁵ W[g] / L[mm]³ of fish of typical weight.
    """

    name: str
    area_ha: float
    fish: int
    area_fished_ha: float = 1.0
    temperature_effect: float = 0.5
    mean_weight: float = 2.4
    first_year: int = 0
    connected: bool = False
    young_eaten: bool = False
    condition: float = 1.4


@dataclass(frozen=True)
class World:
    """Truth and design of a campaign.

    Attributes
    ----------
    lakes : tuple of LakeTruth
    years : int
        Years that the campaign lasts.
    idle_years, unmarked_years : tuple of int
        Years, counted from 0, in which no net is pulled, and in which no fish is marked.
    survival : float
        Share of the fish that live from one season to the next, in a median winter.
    recruits : float
        Young fish that join the stock in a year, on average, fish/ha.
    recruit_variation : float
        Coefficient of variation of a year's recruits.
    winter_spread : float
        Standard deviation of the logit of survival between winters.
    young_eaten_effect : float
        What is left of recruits where the young are eaten.
    overwinter_retention : float
        Share of the surviving marked fish that keep their mark.
    exchange, outside_density : float
        Share of a connected lake's fish exchanged in a year, and fish/ha of the waters.
    season_spread : float
        Standard deviation of the logarithm of the hazard between seasons of a lake.
    marked : int
        Fish marked in each lake before netting.
    nets, rounds : int
        Nets in each lake, and days on which all of them are pulled.
    days_between : float
        Days from one round to the next.
    first_day : datetime.date
        Day of the first round.
    schooling : float
        Coefficient of variation of the share that a pull takes, while that share is small.
    reference_temperature : float
        °C.
    temperatures : tuple of (int, float)
        Days of the year and their water temperature (°C), between which a straight line runs; by
        default a year of the temperate zone.
    weighed : int
        Fish weighed and measured in each lake.
    only_length : int
        Fish of each lake that are measured and not weighed.
    weigh_the_longest : bool
        Weigh the longest of the measured fish, not any of them.
    weight_variation : float
        Coefficient of variation of single weights, less their scatter about the relation.
    weight_pull_spread : float
        Standard deviation of the logarithm of the mean weight between catches of a season.
    weight_trend : float
        What fish grow in 30 days, on the scale of the logarithm of weight.
    net_selectivity, electrofishing_selectivity : float
        Mean weight of the fish that are caught relative to those in the lake.
    weighed_at_marking : float
        Share of the measured fish that are measured as the crew marks; the others come from nets.
    length_exponent, length_scatter : float
        Power of length that weight goes with, and the scatter of ln weight at a length.
    threshold_temperature, threshold_width : float or None
        Where and how sharply fish stop feeding, °C; instead of the lakes' temperature effects.
    rest_loss, rest_recovery : float
        Share of the hazard that a net has lost when pulled again at once, and days to recover.
    bait_start, bait_build_up : float
        Share of the full hazard without bait, and days of bait to build it up.
    effort_exponent : float
        Power of the hours fished that the hazard goes with; they differ from pull to pull.
    mesh_effect : float
        What a mesh twice as wide makes of the hazard; every second net is as wide.
    net_spread : float
        Standard deviation of the logarithm of the nets' hazard.
    night_spread : float
        Standard deviation of the logarithm of the hazard between days of netting, all nets alike.
    drift : float
        Standard deviation of the logarithm of the hazard in the course of a season, half a wave of
        random phase from the first day of netting to the last.
    not_vulnerable : float
        Share of the fish that never visit the bait.
    marks_lost : float
        Share of the marks that are gone before netting, unknown to the crew.
    marked_hazard : float
        Hazard of marked fish relative to the others.
    batches : tuple of str
        Mark of each batch.
    batch_sizes : tuple of int
        Fish marked of each; by default they are divided evenly. Where they are given, catches do
        not depend on what else is penned, listened for or surveyed.
    penned : int
        Marked fish of the first batch kept in a pen; neither they nor their marks are in the lake.
    clip_retention, tag_retention : float
        Share of the clips and of the tags that are still there and seen.
    post_release_survival : float
        Share of the marked fish that survive the marking, unknown to the crew.
    examined_share : float
        Share of each catch that is looked at for marks.
    mark_detection : float
        Share of the marked fish that a look finds, each by chance of its own.
    looked_twice : int
        Catches of each lake and year that are looked at a second time, the first of them.
    clumping : float
        Coefficient of variation of the share of the marked fish that a pull takes, beyond that
        of all fish.
    fish_leaving : float
        Share of the fish that leave the lake halfway through.
    mortality : float
        Rate at which fish die of natural causes, marked ones alike, a year; from marking on.
    arriving : float
        Fish that immigrate between the first pull and the last, relative to those before.
    surveyed : int
        Fish that a run of another gear looks at ten days before netting, and puts back.
    survey_odds, survey_clumping : float
        Odds of a marked fish to be caught by that gear, relative to the others, and the coefficient
        of variation of a factor of the run.
    antenna : AntennaTruth or None
        Antennas on the last nights before netting; the tags of recaptures are then read.
    temperature_bias : float
        What the crew's thermometer adds, °C.
    """

    lakes: tuple[LakeTruth, ...]
    years: int = 1
    idle_years: tuple[int, ...] = ()
    unmarked_years: tuple[int, ...] = ()
    survival: float = 0.88
    recruits: float = 4.0
    recruit_variation: float = 1.0
    winter_spread: float = 0.4
    young_eaten_effect: float = 0.1
    overwinter_retention: float = 0.85
    exchange: float = 0.1
    outside_density: float = 60.0
    season_spread: float = 0.0
    marked: int = 150
    nets: int = 4
    rounds: int = 10
    days_between: float = 12.0
    first_day: dt.date = field(default_factory=lambda: dt.date(2025, 6, 15))
    schooling: float = 0.7
    reference_temperature: float = 20.0
    temperatures: tuple[tuple[int, float], ...] = ()
    weighed: int = 60
    weight_variation: float = 0.35
    weight_pull_spread: float = 0.0
    weight_trend: float = 0.0
    net_selectivity: float = 1.0
    electrofishing_selectivity: float = 1.0
    weighed_at_marking: float = 0.0
    only_length: int = 0
    weigh_the_longest: bool = False
    length_exponent: float = 2.95
    length_scatter: float = 0.1
    threshold_temperature: float | None = None
    threshold_width: float = 2.5
    rest_loss: float = 0.0
    rest_recovery: float = 5.0
    bait_start: float = 1.0
    bait_build_up: float = 4.0
    effort_exponent: float = 0.0
    mesh_effect: float = 1.0
    net_spread: float = 0.0
    night_spread: float = 0.0
    drift: float = 0.0
    not_vulnerable: float = 0.0
    marks_lost: float = 0.0
    marked_hazard: float = 1.0
    batches: tuple[str, ...] = ("fin_clip",)
    batch_sizes: tuple[int, ...] = ()
    penned: int = 0
    clip_retention: float = 1.0
    tag_retention: float = 1.0
    post_release_survival: float = 1.0
    examined_share: float = 1.0
    mark_detection: float = 1.0
    looked_twice: int = 0
    clumping: float = 0.0
    fish_leaving: float = 0.0
    mortality: float = 0.0
    arriving: float = 0.0
    surveyed: int = 0
    survey_odds: float = 1.0
    survey_clumping: float = 0.0
    antenna: AntennaTruth | None = None
    temperature_bias: float = 0.0
