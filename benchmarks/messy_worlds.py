"""Campaigns in lakes where things go wrong, fish by fish; written without any part of the models.

Every fish has a weight, visits the nets or does not, and may carry a mark that can be seen or not.
Ten nights, four nets, forty pulls a lake; 4 to 10 % of the fish marked; 60 fish weighed, all of
them out of catches. `KINDS` says what goes wrong and how strongly: strengths are drawn anew for
every lake, from distributions that are not the priors of any model.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from fishdown.campaign import Campaign, from_records
from fishdown.records.areas import no_areas
from fishdown.records.checked import Records
from fishdown.records.movements import no_movements
from fishdown.records.second_looks import no_second_looks
from fishdown.records.settings import Settings
from fishdown.records.surveys import no_surveys
from fishdown.records.tables import PEN, empty_frame
from fishdown.worlds import LakeTruth
from fishdown.worlds.netting import water_temperature

NETS, DAYS = 4, (0, 3, 24, 27, 48, 51, 72, 75, 96, 99)
FIRST_DAY, MARKED_DAY = dt.date(2025, 6, 15), dt.date(2025, 5, 20)
THRESHOLD = 100.0
WEIGHED, WEIGHED_PULLS = 60, 5

type Draw = np.random.Generator


@dataclass(frozen=True)
class Design:
    """How a lake is marked and netted; by default as in `MESSY.md`.

    Attributes
    ----------
    nets : int
    days : tuple of int
        Days from the first to each round.
    marked : int or None
        Fish marked, with fin clips; else 4 to 10 % of them, with clips or tags.
    first_day : datetime.date
    temperatures : tuple of (int, float)
        Days of the year and their water temperature, °C; by default of the temperate zone.
    """

    nets: int = NETS
    days: tuple[int, ...] = DAYS
    marked: int | None = None
    first_day: dt.date = FIRST_DAY
    temperatures: tuple[tuple[int, float], ...] = ()


AS_ANNOUNCED = Design()


@dataclass(frozen=True)
class Trouble:
    """What goes wrong in one lake; the defaults are that nothing does.

    Attributes
    ----------
    lost : float
        Share of the marks that nobody sees again, gone before the first pull.
    dead : float
        Share of the marked fish that die unseen before the first pull.
    odds : float
        Risk of a marked fish to be caught, relative to the others.
    nights : float
        Standard deviation of the logarithm of the hazard between nights.
    walk, trend : float
        Slow drift of the logarithm of the hazard: standard deviation of its step from night to
        night, and its change over the season.
    learning : float
        Hazard that is left after all pulls, since fish learn to avoid the nets.
    bait : float
        Hazard at the first pull relative to that after a month of baiting.
    selectivity : float
        Power of its weight that a fish's risk goes with.
    alike : float
        Standard deviation of that power from pull to pull: fish of a school are alike.
    growth : float
        Change of every fish's weight over the season, share.
    arriving, leaving : float
        Share of the fish that immigrate, and that leave or die unseen, in the season.
    clumps : float
        Coefficient of variation of the risk of marked fish from pull to pull.
    hidden : float
        Share of the fish that never visit the nets.
    """

    lost: float = 0.0
    dead: float = 0.0
    odds: float = 1.0
    nights: float = 0.0
    walk: float = 0.0
    trend: float = 0.0
    learning: float = 1.0
    bait: float = 1.0
    selectivity: float = 0.0
    alike: float = 0.0
    growth: float = 0.0
    arriving: float = 0.0
    leaving: float = 0.0
    clumps: float = 0.0
    hidden: float = 0.0


def _uniform(name: str, low: float, high: float) -> Callable[[Draw], dict[str, float]]:
    return lambda rng: {name: float(rng.uniform(low, high))}


def _selectivity(rng: Draw) -> dict[str, float]:
    # One lake in four has nets that take smaller fish.
    smaller = rng.uniform() < 0.25
    return {"selectivity": float(rng.uniform(-0.8, -0.2) if smaller else rng.uniform(0.2, 1.0))}


# Each by itself, by strength.
SINGLE: dict[str, Callable[[Draw], dict[str, float]]] = {
    "marks lost, 5 to 35 %": _uniform("lost", 0.05, 0.35),
    "marked fish dead, 2 to 25 %": _uniform("dead", 0.02, 0.25),
    "marked fish shy, 0.5 to 0.95": _uniform("odds", 0.5, 0.95),
    "marked fish bold, 1.05 to 1.8": _uniform("odds", 1.05, 1.8),
    "nights differ, sd 0.3 to 0.9": _uniform("nights", 0.3, 0.9),
    "drift": lambda rng: {
        "walk": float(rng.uniform(0.05, 0.25)),
        "trend": float(rng.uniform(-0.8, 0.8)),
    },
    "fish learn, 0.3 to 0.9 left": _uniform("learning", 0.3, 0.9),
    "bait builds up, from 0.3 to 0.9": _uniform("bait", 0.3, 0.9),
    "nets choose by size": _selectivity,
    "fish of a pull alike": _uniform("alike", 0.3, 1.5),
    "weights change, −5 to 20 %": _uniform("growth", -0.05, 0.20),
    "5 to 25 % immigrate": _uniform("arriving", 0.05, 0.25),
    "5 to 25 % leave or die": _uniform("leaving", 0.05, 0.25),
    "marked fish keep together": _uniform("clumps", 0.3, 1.0),
    "5 to 30 % never visit nets": _uniform("hidden", 0.05, 0.30),
}
# Of one strength, as named in the targets.
FIXED: dict[str, dict[str, float]] = {
    "a fifth of the marks lost": {"lost": 0.2},
    "marked fish shy, odds 0.75": {"odds": 0.75},
    "marked fish bold, odds 1.25": {"odds": 1.25},
    "a tenth immigrates": {"arriving": 0.1},
}
MIXED_CHANCE = 0.25


def _bad_year(rng: Draw) -> Trouble:
    return Trouble(
        lost=rng.uniform(0.05, 0.15),
        nights=rng.uniform(0.2, 0.5),
        learning=rng.uniform(0.6, 0.95),
        clumps=rng.uniform(0.1, 0.4),
        growth=rng.uniform(0.0, 0.1),
    )


def _mixture(rng: Draw) -> Trouble:
    found: dict[str, float] = {}
    for draw in SINGLE.values():
        strength = draw(rng)
        if rng.uniform() < MIXED_CHANCE:
            found |= strength
    return Trouble(**found)


def _just(draw: Callable[[Draw], dict[str, float]]) -> Callable[[Draw], Trouble]:
    return lambda rng: Trouble(**draw(rng))


def _always(strength: dict[str, float]) -> Callable[[Draw], Trouble]:
    return lambda rng: Trouble(**strength)


KINDS: dict[str, Callable[[Draw], Trouble]] = {
    "nothing wrong": lambda rng: Trouble(),
    "a mixture": _mixture,
    "an ordinary bad year": _bad_year,
    **{name: _always(strength) for name, strength in FIXED.items()},
    **{name: _just(draw) for name, draw in SINGLE.items()},
}


@dataclass
class _Fish:
    """The fish in a lake, one entry each."""

    weight: np.ndarray
    marked: np.ndarray
    visible: np.ndarray
    visits: np.ndarray

    def keep(self, which: np.ndarray) -> None:
        for name in ("weight", "marked", "visible", "visits"):
            setattr(self, name, getattr(self, name)[which])

    def add(self, other: _Fish) -> None:
        for name in ("weight", "marked", "visible", "visits"):
            setattr(self, name, np.concatenate([getattr(self, name), getattr(other, name)]))


@dataclass
class _Lake:
    """A lake of one campaign: what is true of it, and the rows of its tables."""

    name: str
    area: float
    mean_weight: float
    variation: float
    pull_hazard: float
    cold: float
    schooling: float
    trouble: Trouble
    design: Design = AS_ANNOUNCED

    def fish(self, number: int, rng: Draw) -> _Fish:
        shape = self.variation**-2
        none = np.zeros(number, dtype=bool)
        return _Fish(
            weight=rng.gamma(shape, self.mean_weight / shape, number),
            marked=none.copy(),
            visible=none.copy(),
            visits=rng.uniform(size=number) >= self.trouble.hidden,
        )


def campaign_of(kind: str, lakes: int, rng: Draw) -> tuple[Campaign, list[dict[str, float]]]:
    """Draw a campaign, and of each lake what is true of it.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    lakes : int
    rng : numpy.random.Generator

    Returns
    -------
    campaign : Campaign
    truth : list of dict
        abundance_before, biomass_after (kg/ha), effective (marks a mark that was released), and the
        shares of the marked fish alive, and of the marks kept, at the first pull.
    """
    tables: dict[str, list[dict[str, Any]]] = {"marked": [], "pulls": [], "measured": []}
    rows, truth = [], []
    for position in range(lakes):
        lake = _Lake(
            name=f"Lake {position + 1}",
            area=float(np.round(np.exp(rng.uniform(np.log(8.0), np.log(120.0))), 1)),
            mean_weight=float(2.2 * np.exp(rng.normal(0.0, 0.25))),
            variation=float(rng.uniform(0.25, 0.5)),
            pull_hazard=float(rng.uniform(0.006, 0.020)),
            cold=float(0.5 * np.exp(rng.normal(0.0, 0.25))),
            schooling=float(rng.uniform(0.4, 1.0)),
            trouble=KINDS[kind](rng),
        )
        density = float(80.0 * np.exp(rng.normal(0.0, 0.5)))
        rows.append({"lake": lake.name, "area_ha": lake.area, "threshold_kg_per_ha": THRESHOLD,
                     "connected": False, "young_eaten": False})  # fmt: skip
        truth.append(_season(lake, round(density * lake.area), tables, rng))
    return from_records(_records(rows, tables)), truth


def campaign_in(
    kind: str, guessed: LakeTruth, schooling: float, design: Design, rng: Draw
) -> tuple[Campaign, dict[str, float]]:
    """Draw a campaign of one kind in a lake that is given, netted by a design; returns its truth.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    guessed : fishdown.worlds.LakeTruth
        Area, fish, mean weight, area fished and effect of cold.
    """
    lake = _Lake(
        name="the lake",
        area=guessed.area_ha,
        mean_weight=guessed.mean_weight,
        variation=float(rng.uniform(0.25, 0.5)),
        pull_hazard=guessed.area_fished_ha / guessed.area_ha,
        cold=guessed.temperature_effect,
        schooling=schooling,
        trouble=KINDS[kind](rng),
        design=design,
    )
    tables: dict[str, list[dict[str, Any]]] = {"marked": [], "pulls": [], "measured": []}
    truth = _season(lake, guessed.fish, tables, rng)
    row = {"lake": lake.name, "area_ha": lake.area, "threshold_kg_per_ha": THRESHOLD,
           "connected": False, "young_eaten": False}  # fmt: skip
    return from_records(_records([row], tables)), truth


def _season(lake: _Lake, number: int, tables: dict[str, Any], rng: Draw) -> dict[str, float]:
    trouble = lake.trouble
    design = lake.design
    nets, days = design.nets, design.days
    fish = lake.fish(number, rng)
    marked, kind = design.marked, "fin_clip"
    if marked is None:
        marked = round(float(rng.uniform(0.04, 0.10)) * number)
        kind = str(rng.choice(["fin_clip", "pit_tag"]))
    fish.marked = rng.permutation(number) < marked
    released = int(fish.marked.sum())
    fish.visible = fish.marked & (rng.uniform(size=number) >= trouble.lost)
    fish.keep(~(fish.marked & (rng.uniform(size=number) < trouble.dead)))
    here = {"lake": lake.name, "season": str(design.first_day.year), "row": 0}
    day = design.first_day - (FIRST_DAY - MARKED_DAY)
    tables["marked"].append({**here, "date": day, "batch": f"spring, {lake.name}",
                             "mark": kind, "released": released, "died": 0,
                             **dict.fromkeys(PEN, 0),
                             "order": np.nan})  # fmt: skip
    before, left_at_large = len(fish.weight), released
    weighed = set(rng.choice(nets * len(days), WEIGHED_PULLS, replace=False).tolist())
    walk = np.cumsum(rng.normal(0.0, trouble.walk, len(days)))
    grown = 1.0
    for night, offset in enumerate(days):
        part = offset / days[-1]
        day = design.first_day + dt.timedelta(days=offset)
        temperature = water_temperature(day, rng, design.temperatures)
        _move(fish, lake, before, night, rng)
        fish.weight *= (1.0 + trouble.growth * part) / grown
        grown = 1.0 + trouble.growth * part
        log_hazard = np.log(lake.pull_hazard) + np.log(lake.cold) * (20.0 - temperature) / 10.0
        log_hazard += rng.normal(0.0, trouble.nights) + walk[night] + trouble.trend * part
        log_hazard += np.log(1.0 - (1.0 - trouble.bait) * np.exp(-offset / 10.0))
        for net in range(nets):
            pull = night * nets + net
            learnt = np.log(trouble.learning) * pull / (nets * len(days))
            caught = _pull(fish, lake, float(np.exp(log_hazard + learnt)), rng)
            recaptured = int((fish.visible & caught).sum())
            at = {**here, "date": day, "net": f"net {net + 1}"}
            tables["pulls"].append(
                {**at, "order": net + 1, "caught": int(caught.sum()),
                 "recaptured": float(recaptured), "examined": float(caught.sum()),
                 "released_again": 0,
                 "removed": int(caught.sum()), "marks_at_large": float(left_at_large),
                 "marks_removed": float(recaptured), "mesh_mm": np.nan, "bait_days": np.nan,
                 "effort_h": np.nan,
                 "water_temp_c": round(temperature, 1), "spoiled": False, "bycatch_counted": False}
            )  # fmt: skip
            left_at_large -= recaptured
            if pull in weighed:
                some = np.flatnonzero(caught)[: WEIGHED // WEIGHED_PULLS]
                tables["measured"] += [
                    {**at, "length_mm": np.nan, "weight_kg": float(weight)}
                    for weight in fish.weight[some]
                ]
            fish.keep(~caught)
    return {
        "abundance_before": float(before),
        "biomass_after": float(fish.weight.sum() / lake.area),
        "effective": (1.0 - trouble.lost) * (1.0 - trouble.dead) * trouble.odds,
        "alive": 1.0 - trouble.dead,
        "kept": 1.0 - trouble.lost,
    }


def _move(fish: _Fish, lake: _Lake, before: int, night: int, rng: Draw) -> None:
    """Let fish arrive and leave, a part of them before each night but the first."""
    if night == 0:
        return
    nights = len(lake.design.days) - 1
    if lake.trouble.arriving:
        fish.add(lake.fish(rng.binomial(before, lake.trouble.arriving / nights), rng))
    if lake.trouble.leaving:
        stay = (1.0 - lake.trouble.leaving) ** (1.0 / nights)
        fish.keep(rng.uniform(size=len(fish.weight)) < stay)


def _pull(fish: _Fish, lake: _Lake, hazard: float, rng: Draw) -> np.ndarray:
    """Tell which fish a pull takes."""
    trouble = lake.trouble
    q = -np.expm1(-hazard)
    a = (1.0 - q) / lake.schooling**2
    share = rng.beta(a, a * (1.0 - q) / q)
    power = trouble.selectivity + rng.normal(0.0, trouble.alike)
    risk = (fish.weight / lake.mean_weight) ** power
    # The power changes which fish are caught, and not how many.
    risk *= fish.visits / max(float(risk[fish.visits].mean()) if fish.visits.any() else 1.0, 1e-9)
    keep_together = 1.0
    if trouble.clumps:
        keep_together = rng.gamma(trouble.clumps**-2, trouble.clumps**2)
    risk = np.where(fish.marked, risk * trouble.odds * keep_together, risk)
    caught: np.ndarray = rng.uniform(size=len(risk)) < -np.expm1(risk * np.log1p(-share))
    return caught


def _records(lakes: list[dict[str, Any]], tables: dict[str, list[dict[str, Any]]]) -> Records:
    frames = {name: pd.DataFrame(rows) for name, rows in tables.items()}
    for frame in frames.values():
        frame["date"] = pd.to_datetime(frame["date"])

    def empty(*columns: str) -> pd.DataFrame:
        dates = {"date": "datetime64[ns]"}
        return pd.DataFrame({name: pd.Series(dtype=dates.get(name, object)) for name in columns})

    place = ("date", "lake", "season", "net")
    return Records(
        path="simulated",
        settings=Settings(title="Messy lakes", species="common carp",
                          threshold_kg_per_ha=THRESHOLD),
        lakes=pd.DataFrame(lakes),
        areas=no_areas(),
        recaptures=empty(*place, "order", "batch", "count", "tag_id", "clip_seen", "tag_read"),
        movements=no_movements(),
        surveys=no_surveys(),
        second_looks=no_second_looks(),
        bycatch=empty(*place, "species", "count", "dead"),
        bycatch_limits=empty_frame("bycatch_limits"),
        species_names=empty_frame("species_names"),
        tags=pd.DataFrame(),
        detections=pd.DataFrame(),
        clock_checks=pd.DataFrame(),
        warnings=(),
        hashes={},
        **frames,
    )  # fmt: skip


def with_marks_told(campaign: Campaign, effective: list[float]) -> Campaign:
    """Return the campaign as if each lake's marks had been as many as they really counted for."""
    seasons, pulls, batches = campaign.seasons, campaign.pulls, campaign.batches
    factor = np.array(effective)
    released = seasons["marked"].values
    told = np.maximum(np.rint(factor * released), released - seasons["marks_left"].values)
    fewer = released - told
    return replace(
        campaign,
        seasons=seasons.assign(
            marked=("season", told), marks_left=("season", seasons["marks_left"].values - fewer)
        ),
        pulls=pulls.assign(
            marks_at_large=(
                "pull", pulls["marks_at_large"].values - fewer[pulls["season_index"].values]
            )
        ),
        batches=batches.assign(
            released_alive=("batch", told[batches["season_index"].values]),
        ),
    )  # fmt: skip
