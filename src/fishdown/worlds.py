"""Invented campaigns drawn from a stated truth, to try models on.

The simulation is by single lots (beta, binomial, hypergeometric) and shares no code with the
models' densities. A world may hold what a model does not assume: fish that never visit the bait,
marks that get lost, marked fish that shun the nets, nets that differ.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.records import Records
from fishdown.records.settings import Settings
from fishdown.world_winter import Stock, winter

if TYPE_CHECKING:
    from fishdown.campaign import Campaign


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
    cleared_ha : float
        Area that one pull clears at the reference temperature, ha.
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
    cleared_ha: float = 1.0
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
        Share of the fish that live from one season to the next, in a usual year.
    recruits : float
        Young fish that join the stock in a year, on average, fish/ha.
    recruit_variation, process_error : float
        Coefficient of variation of a year's recruits, and of its survival.
    young_eaten_effect : float
        What is left of recruits where the young are eaten.
    marks_over_winter : float
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
    length_exponent, length_scatter : float
        Power of length that weight goes with, and the scatter of ln weight at a length.
    threshold_temperature, threshold_width : float or None
        Where and how sharply fish stop feeding, °C; instead of the lakes' temperature effects.
    rest_loss, rest_recovery : float
        Share of the hazard that a net has lost when pulled again at once, and days to recover.
    bait_start, bait_build_up : float
        Share of the full hazard without bait, and days of bait to build it up.
    mesh_effect : float
        What a mesh twice as wide makes of the hazard; every second net is as wide.
    net_spread : float
        Standard deviation of the logarithm of the nets' hazard.
    out_of_reach : float
        Share of the fish that never visit the bait.
    marks_lost : float
        Share of the marks that are gone before netting, unknown to the crew.
    marked_hazard : float
        Hazard of marked fish relative to the others.
    batches : tuple of str
        Mark of each batch; the fish marked are divided evenly among them.
    clip_kept, tag_kept : float
        Share of the clips and of the tags that are still there and seen.
    marking_survival : float
        Share of the marked fish that survive the marking, unknown to the crew.
    clumping : float
        Coefficient of variation of the share of the marked fish that a pull takes, beyond that
        of all fish.
    fish_leaving : float
        Share of the fish that leave the lake halfway through.
    temperature_bias : float
        What the crew's thermometer adds, °C.
    """

    lakes: tuple[LakeTruth, ...]
    years: int = 1
    idle_years: tuple[int, ...] = ()
    unmarked_years: tuple[int, ...] = ()
    survival: float = 0.75
    recruits: float = 4.0
    recruit_variation: float = 1.0
    process_error: float = 0.1
    young_eaten_effect: float = 0.1
    marks_over_winter: float = 0.85
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
    mesh_effect: float = 1.0
    net_spread: float = 0.0
    out_of_reach: float = 0.0
    marks_lost: float = 0.0
    marked_hazard: float = 1.0
    batches: tuple[str, ...] = ("fin_clip",)
    clip_kept: float = 1.0
    tag_kept: float = 1.0
    marking_survival: float = 1.0
    clumping: float = 0.0
    fish_leaving: float = 0.0
    temperature_bias: float = 0.0


@dataclass
class _Fish:
    """Fish of one lake by whether they are marked and whether they visit the bait."""

    unmarked: int
    marked: int
    unmarked_hidden: int
    marked_hidden: int


def simulate(world: World, rng: np.random.Generator) -> tuple[Campaign, pd.DataFrame]:
    """Draw one campaign from a world.

    Parameters
    ----------
    world : World
    rng : numpy.random.Generator

    Returns
    -------
    campaign : Campaign
        What the crew would have written down.
    truth : pandas.DataFrame
        lake, season, quantity, value: what they would like to know.
    """
    from fishdown.campaign import from_records

    names = ("marked", "pulls", "measured", "recaptures")
    tables: dict[str, list[dict[str, Any]]] = {name: [] for name in names}
    truth: list[dict[str, Any]] = []
    for lake in world.lakes:
        stock = Stock(unmarked=lake.fish, marked=0)
        marks_on_record = 0
        for year in range(lake.first_year, world.years):
            if year > lake.first_year:
                stock = winter(stock, world, lake, rng)
            before = stock.total
            stock, marks_on_record = _season(world, lake, year, stock, marks_on_record, rng, tables)
            truth += _truth(world, lake, year, before, stock.total)
    return from_records(_records(world, tables)), pd.DataFrame(truth)


def _truth(
    world: World, lake: LakeTruth, year: int, before: int, after: int
) -> list[dict[str, Any]]:
    known = {
        "abundance_before": before,
        "abundance_after": after,
        "catchability_at_reference": -np.expm1(-lake.cleared_ha / lake.area_ha),
        "temperature_effect": _warmth(world, lake, world.reference_temperature - 10.0),
        "mean_weight": lake.mean_weight,
        "biomass_before": before * lake.mean_weight / lake.area_ha,
        "biomass_after": after * lake.mean_weight / lake.area_ha,
    }
    season = str(world.first_day.year + year)
    return [
        {"lake": lake.name, "season": season, "quantity": name, "value": float(value)}
        for name, value in known.items()
    ]


def water_temperature(
    day: dt.date, rng: np.random.Generator, known: tuple[tuple[int, float], ...] = ()
) -> float:
    """Draw a day's water temperature, °C; by default that of the temperate zone.

    It is warmest in late July there; else it runs between the known days of the year.
    """
    if known:
        days, mean = zip(*known, strict=True)
        return float(np.interp(day.timetuple().tm_yday, days, mean) + rng.normal(0.0, 0.7))
    season = np.cos(2.0 * np.pi * (day.timetuple().tm_yday - 207) / 365.25)
    return float(13.5 + 10.0 * season + rng.normal(0.0, 0.7))


def _season(
    world: World,
    lake: LakeTruth,
    year: int,
    stock: Stock,
    marks_on_record: int,
    rng: np.random.Generator,
    tables: dict[str, list[dict[str, Any]]],
) -> tuple[Stock, int]:
    """Mark and net one lake in one year and write its rows.

    Returns the fish that are left, and the marks that the crew must take to be at large still.
    """
    first_day = world.first_day.replace(year=world.first_day.year + year)
    here = {"lake": lake.name, "season": str(first_day.year), "row": 0}
    batches = np.zeros((len(world.batches), len(_SEEN)), dtype=np.int64)
    if year not in world.unmarked_years:
        released = min(world.marked, stock.unmarked)
        batches = _mark(world, here, released, first_day - dt.timedelta(days=30), rng, tables)
        marks_on_record += released
        marks = int(batches.sum())
        stock = Stock(unmarked=stock.unmarked - marks, marked=stock.marked + marks)
    if year in world.idle_years:
        return stock, marks_on_record
    marks = stock.marked
    hidden = int(rng.binomial(stock.total, world.out_of_reach))
    marked_hidden = int(rng.hypergeometric(marks, stock.unmarked, hidden)) if hidden else 0
    fish = _Fish(
        unmarked=stock.unmarked - (hidden - marked_hidden),
        marked=marks - marked_hidden,
        unmarked_hidden=hidden - marked_hidden,
        marked_hidden=marked_hidden,
    )
    spread = world.season_spread
    season_effect = float(np.exp(rng.normal(0.0, spread))) if spread else 1.0
    net_effect = np.exp(rng.normal(0.0, world.net_spread, world.nets))
    net_effect[1::2] *= world.mesh_effect
    last_pull = np.full(world.nets, -np.inf)
    at_large = marks_on_record
    for turn in range(world.rounds):
        # Rounds come in pairs, three days apart: nets are pulled again soon, then left.
        offset = round((turn // 2) * 2 * world.days_between) + 3 * (turn % 2)
        day = first_day + dt.timedelta(days=offset)
        temperature = water_temperature(day, rng, world.temperatures)
        if turn == world.rounds // 2:
            fish.unmarked -= int(rng.binomial(fish.unmarked, world.fish_leaving))
            fish.marked -= int(rng.binomial(fish.marked, world.fish_leaving))
        warm_hazard = lake.cleared_ha / lake.area_ha * _warmth(world, lake, temperature)
        warm_hazard *= season_effect
        for net in range(world.nets):
            rest = offset - last_pull[net]
            last_pull[net] = offset
            rested = 1.0 - world.rest_loss * np.exp(-rest / world.rest_recovery)
            bait = float(rng.integers(0, 11))
            baited = 1.0 - (1.0 - world.bait_start) * np.exp(-bait / world.bait_build_up)
            hazard = warm_hazard * net_effect[net] * rested * baited
            caught, recaptured = _pull(fish, hazard, world, rng)
            seen = {**here, "date": day, "net": f"net {net + 1}", "order": net + 1}
            tables["recaptures"] += _sightings(world, seen, recaptured, batches, rng)
            tables["pulls"].append(
                {**here, "date": day, "net": f"net {net + 1}", "order": net + 1,
                 "caught": caught, "recaptured": float(recaptured), "released_again": 0,
                 "removed": caught, "marks_at_large": float(at_large),
                 "marks_removed": float(recaptured), "mesh_mm": 50.0 * (1 + net % 2),
                 "bait_days": bait,
                 "water_temp_c": round(temperature + world.temperature_bias, 1),
                 "spoiled": False}
            )  # fmt: skip
            at_large -= recaptured
    for length, weight in _measured(world, lake, rng):
        tables["measured"].append(
            {**here, "date": first_day, "net": "", "length_mm": length, "weight_kg": weight}
        )
    left = Stock(fish.unmarked + fish.unmarked_hidden, fish.marked + fish.marked_hidden)
    return left, at_large


def _measured(world: World, lake: LakeTruth, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Draw the length (mm) and weight (kg, missing if not weighed) of the measured fish."""
    shape = world.weight_variation**-2
    at_length = rng.gamma(shape, lake.mean_weight / shape, world.weighed + world.only_length)
    # Of its own, so that what else is drawn does not depend on it.
    scatter = rng.spawn(1)[0].normal(0.0, world.length_scatter, len(at_length))
    weight = at_length * np.exp(scatter - 0.5 * world.length_scatter**2)
    typical_mm = (1e8 * lake.mean_weight / lake.condition) ** (1.0 / 3.0)
    length = typical_mm * (at_length / lake.mean_weight) ** (1.0 / world.length_exponent)
    if world.weigh_the_longest:
        longest_first = np.argsort(-length)
        length, weight = length[longest_first], weight[longest_first]
    weight[world.weighed :] = np.nan
    return list(zip(length.tolist(), weight.tolist(), strict=True))


# Which marks of a fish are seen: clip, tag.
_SEEN = ((True, True), (True, False), (False, True))


def _mark(
    world: World,
    here: dict[str, Any],
    marked: int,
    day: dt.date,
    rng: np.random.Generator,
    tables: dict[str, list[dict[str, Any]]],
) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Mark the batches, write their rows, and return the fish of each by what is left to see."""
    clip, tag = world.clip_kept, world.tag_kept
    left = {
        "fin_clip": (0.0, clip, 0.0),
        "pit_tag": (0.0, 0.0, tag),
        "both": (clip * tag, clip * (1.0 - tag), (1.0 - clip) * tag),
    }
    found = []
    for batch, mark in enumerate(world.batches):
        released = len(range(batch, marked, len(world.batches)))
        tables["marked"].append(
            {**here, "date": day, "batch": _batch_name(here, batch), "mark": mark,
             "released": released, "died": 0, "order": np.nan}
        )  # fmt: skip
        seen = np.array(left[mark]) * world.marking_survival * (1.0 - world.marks_lost)
        found.append(rng.multinomial(released, [*seen, max(1.0 - seen.sum(), 0.0)])[:-1])
    return np.array(found)


def _batch_name(here: dict[str, Any], batch: int) -> str:
    return f"batch {batch + 1} of {here['season']}"


def _sightings(
    world: World,
    pull: dict[str, Any],
    recaptured: int,
    batches: np.ndarray[Any, np.dtype[np.int64]],
    rng: np.random.Generator,
) -> list[dict[str, Any]]:
    """Tell which marked fish a catch held, and take them off their batches; one row a kind."""
    # Over the years the crew tells marked fish from others, but not one batch from the next.
    if world.years > 1 or world.batches == ("fin_clip",):
        return []
    taken = rng.multivariate_hypergeometric(batches.ravel(), recaptured).reshape(batches.shape)
    batches -= taken
    return [
        {**pull, "batch": _batch_name(pull, batch), "count": int(taken[batch, kind]), "tag_id": "",
         "clip_seen": _SEEN[kind][0], "tag_read": _SEEN[kind][1]}
        for batch, kind in np.argwhere(taken).tolist()
    ]  # fmt: skip


def _warmth(world: World, lake: LakeTruth, temperature: float) -> float:
    """Hazard at a temperature, relative to the reference."""
    threshold = world.threshold_temperature
    if threshold is None:
        cold = (world.reference_temperature - temperature) / 10.0
        return float(lake.temperature_effect**cold)

    def feeding(at: float) -> float:
        return 1.0 / (1.0 + float(np.exp((threshold - at) / world.threshold_width)))

    return feeding(temperature) / feeding(world.reference_temperature)


def _pull(fish: _Fish, hazard: float, world: World, rng: np.random.Generator) -> tuple[int, int]:
    """Take one catch out of the lake; returns fish caught, and marked fish among them."""
    q = -np.expm1(-hazard)
    a = (1.0 - q) / world.schooling**2
    share = rng.beta(a, a * (1.0 - q) / q)
    # Marked fish run the same risk times a factor.
    marked_share = 1.0 - (1.0 - share) ** world.marked_hazard
    if world.clumping and marked_share < 1.0:
        a = (1.0 - marked_share) / world.clumping**2
        marked_share = rng.beta(a, a * (1.0 - marked_share) / marked_share)
    unmarked, marked = (
        int(rng.binomial(fish.unmarked, share)),
        int(rng.binomial(fish.marked, marked_share)),
    )
    fish.unmarked -= unmarked
    fish.marked -= marked
    return unmarked + marked, marked


def _records(world: World, tables: dict[str, list[dict[str, Any]]]) -> Records:
    frames = {name: pd.DataFrame(rows) for name, rows in tables.items()}
    for frame in (frame for frame in frames.values() if len(frame)):
        frame["date"] = pd.to_datetime(frame["date"])
    bycatch = ("date", "lake", "season", "net", "species", "count", "dead")
    empty = {
        name: pd.Series(dtype="datetime64[ns]" if name == "date" else object) for name in bycatch
    }
    return Records(
        path="simulated",
        settings=Settings(
            title="Simulated campaign", species="common carp", threshold_kg_per_ha=100.0
        ),
        lakes=pd.DataFrame(
            [
                {
                    "lake": lake.name,
                    "area_ha": lake.area_ha,
                    "threshold_kg_per_ha": 100.0,
                    "connected": lake.connected,
                    "young_eaten": lake.young_eaten,
                }
                for lake in world.lakes
            ]
        ),
        marked=frames["marked"],
        pulls=frames["pulls"],
        recaptures=frames["recaptures"],
        measured=frames["measured"],
        bycatch=pd.DataFrame(empty),
        detections=pd.DataFrame(),
        warnings=(),
        hashes={},
    )
