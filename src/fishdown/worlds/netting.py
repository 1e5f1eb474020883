"""A season of netting in an invented lake: pull by pull, each fish at random."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.worlds.marking import MARKING_DAYS, Marks, mark, sightings, survey
from fishdown.worlds.weighing import Weights
from fishdown.worlds.winter import Stock

# Hours that nets fish, in turn; the usual ones are their geometric mean.
HOURS = (3.0, 6.0, 12.0, 24.0, 6.0, 12.0)
USUAL_HOURS = 8.5

if TYPE_CHECKING:
    from fishdown.typing import FloatArray
    from fishdown.worlds.truth import LakeTruth, World


@dataclass
class _Fish:
    """Fish of one lake by whether they are marked and whether they visit the bait."""

    unmarked: int
    marked: int
    unmarked_hidden: int
    marked_hidden: int

    @property
    def total(self) -> int:
        """All fish in the lake."""
        return self.unmarked + self.marked + self.unmarked_hidden + self.marked_hidden


def season(
    world: World,
    lake: LakeTruth,
    year: int,
    stock: Stock,
    marks_on_record: float,
    rng: np.random.Generator,
    tables: dict[str, list[dict[str, Any]]],
) -> tuple[Stock, float, float]:
    """Mark and net one lake in one year and write its rows.

    Returns the fish that are left, the marks that the crew must take to be at large still, and the
    mean weight of the fish left, kg.
    """
    first_day = world.first_day.replace(year=world.first_day.year + year)
    here = {"lake": lake.name, "season": str(first_day.year), "row": 0}
    marking_day = first_day - dt.timedelta(days=MARKING_DAYS)
    told = Marks.none(len(world.batches))
    # Of its own where campaigns with other marks are to have the same catches.
    crew = rng.spawn(1)[0] if world.batch_sizes else rng
    if year not in world.unmarked_years:
        released = min(world.marked, stock.unmarked)
        told = mark(world, here, released, first_day, crew, tables)
        marks_on_record += released
        marks = int(told.batches.sum())
        stock = Stock(unmarked=stock.unmarked - marks, marked=stock.marked + marks)
    if year in world.idle_years:
        return stock, marks_on_record, lake.mean_weight
    if world.surveyed:
        there = stock.marked, stock.unmarked
        row = survey(world, here, round(marks_on_record), *there, first_day, crew)
        tables["surveys"].append(row)
    marks = stock.marked
    hidden = int(rng.binomial(stock.total, world.not_vulnerable))
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
    # Of their own, so that what else is drawn does not depend on it.
    nights = np.zeros(world.rounds)
    if world.night_spread:
        nights = rng.spawn(1)[0].normal(0.0, world.night_spread, world.rounds)
    if world.drift:
        nights = nights + _drift(world, rng.spawn(1)[0])
    last_pull = np.full(world.nets, -np.inf)
    at_large = float(marks_on_record)
    weights = Weights(world, lake, first_day, rng)
    looks = rng.spawn(1)[0] if world.examined_share < 1.0 else None
    overlooked = rng.spawn(1)[0] if world.mark_detection < 1.0 else None
    going = rng.spawn(1)[0] if world.mortality or world.arriving else None
    since, whole = 0, max(_offset(world, world.rounds - 1), 1)
    looked_in_all = seen_in_all = pulls = 0
    for turn in range(world.rounds):
        offset = _offset(world, turn)
        if going is not None:
            days = offset - since
            lives = float(np.exp(-world.mortality * days / 365.25))
            _come_and_go(fish, lives, world.arriving * stock.total * days / whole, going)
            since = offset
        day = first_day + dt.timedelta(days=offset)
        temperature = water_temperature(day, rng, world.temperatures)
        if turn == world.rounds // 2:
            fish.unmarked -= int(rng.binomial(fish.unmarked, world.fish_leaving))
            fish.marked -= int(rng.binomial(fish.marked, world.fish_leaving))
        warm_hazard = lake.area_fished_ha / lake.area_ha * warmth(world, lake, temperature)
        warm_hazard *= season_effect * float(np.exp(nights[turn]))
        for net in range(world.nets):
            rest = offset - last_pull[net]
            last_pull[net] = offset
            rested = 1.0 - world.rest_loss * np.exp(-rest / world.rest_recovery)
            bait = float(rng.integers(0, 11))
            baited = 1.0 - (1.0 - world.bait_start) * np.exp(-bait / world.bait_build_up)
            hazard = warm_hazard * net_effect[net] * rested * baited
            hours = np.nan
            if world.effort_exponent:
                hours = HOURS[pulls % len(HOURS)]
                hazard *= (hours / USUAL_HOURS) ** world.effort_exponent
            before, name = fish.total, f"net {net + 1}"
            caught, recaptured = _pull(fish, hazard, world, rng)
            weights.catch(day, name, before, caught)
            seen = {**here, "date": day, "net": name, "order": net + 1}
            if overlooked is not None:
                missed = int(overlooked.binomial(recaptured, 1.0 - world.mark_detection))
                recaptured -= missed
                if pulls < world.looked_twice:
                    second = int(overlooked.binomial(missed, world.mark_detection))
                    tables["second_looks"].append(
                        {**here, "date": day, "found_first": recaptured, "found_second": second}
                    )
            pulls += 1
            looked_at, removed = caught, float(recaptured)
            if looks is not None:
                looked_at = round(caught * world.examined_share)
                unmarked = caught - recaptured
                recaptured = int(looks.hypergeometric(recaptured, unmarked, looked_at))
                looked_in_all, seen_in_all = looked_in_all + looked_at, seen_in_all + recaptured
                # What the crew must guess: the others are marked like those they have seen.
                share = seen_in_all / max(looked_in_all, 1)
                removed = min(recaptured + (caught - looked_at) * share, float(at_large))
            tables["recaptures"] += sightings(world, seen, recaptured, told, crew)
            tables["pulls"].append(
                {**here, "date": day, "net": name, "order": net + 1,
                 "caught": caught, "recaptured": float(recaptured),
                 "examined": float(looked_at), "released_again": 0,
                 "removed": caught, "marks_at_large": float(at_large),
                 "marks_removed": removed, "mesh_mm": 50.0 * (1 + net % 2),
                 "bait_days": bait, "effort_h": hours,
                 "water_temp_c": round(temperature + world.temperature_bias, 1),
                 "spoiled": False, "bycatch_counted": False}
            )  # fmt: skip
            at_large -= removed
    for day, name, length, weight in weights.measured(marking_day, rng):
        tables["measured"].append(
            {**here, "date": day, "net": name, "length_mm": length, "weight_kg": weight}
        )
    left = Stock(fish.unmarked + fish.unmarked_hidden, fish.marked + fish.marked_hidden)
    return left, at_large, weights.mean


def _offset(world: World, turn: int) -> int:
    """Return the days from the first round to another.

    Rounds come in pairs, three days apart: nets are pulled again soon, then left.
    """
    return round((turn // 2) * 2 * world.days_between) + 3 * (turn % 2)


def _come_and_go(fish: _Fish, lives: float, arrivals: float, rng: np.random.Generator) -> None:
    """Let fish die, each at random, and others arrive, of which none is marked."""
    for name in ("unmarked", "marked", "unmarked_hidden", "marked_hidden"):
        setattr(fish, name, int(rng.binomial(getattr(fish, name), lives)))
    fish.unmarked += int(rng.poisson(arrivals))


def _drift(world: World, rng: np.random.Generator) -> FloatArray:
    """Return the logarithm of what drift makes of the hazard in each round, mean 0."""
    part = np.arange(world.rounds) / max(world.rounds - 1, 1)
    wave = np.cos(np.pi * (part + rng.uniform(0.0, 2.0)))
    # A cosine has a variance of one half; the mean level is the lake's.
    drift: FloatArray = world.drift * np.sqrt(2.0) * (wave - wave.mean())
    return drift


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


def warmth(world: World, lake: LakeTruth, temperature: float) -> float:
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
