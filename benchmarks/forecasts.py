"""Whether forecasts of pulls to come, made halfway through a season, come true.

    python benchmarks/forecasts.py --campaigns 300 --minutes 15
    python benchmarks/forecasts.py --campaigns 150 --lakes prior

One lake a campaign, drawn as crews make them. The default model is fitted to the first half of the
rounds and asked as `fishdown ahead` asks it: with the days of the other half, and with the water
temperatures they met or with those that the readings so far tell. With `--lakes prior` the lakes
differ in what a pull takes, in the cold and in schooling as the model's priors suppose, which is
more than crews' lakes do here: it tells a wrong forecast from a wary one. Every campaign is kept in
`kept/forecasts.jsonl` and a stopped study goes on where it stopped. DECISIONS.md has the results.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from midseason import Season, seasons
from reliability import Reliability, reliability
from trials import (
    LEVELS,
    SETTINGS,
    THRESHOLD,
    Clock,
    OneLake,
    kept_in,
    reliability_table,
    study_header,
)

import fishdown
from fishdown.checks.spread import places_among
from fishdown.checks.uniform import evenness
from fishdown.results_log import ResultsLog

if TYPE_CHECKING:
    from fishdown import Fit
    from fishdown.worlds import World

WATER = {"met": "temperatures as they came", "told": "temperatures told by the readings"}
WHEN = {"now": "halfway, no pull ahead", "midway": "a quarter ahead", "end": "at the season's end"}
AMOUNTS = {
    "biomass": "biomass at the end, kg/ha",
    "total": "catch to come, fish",
    "pulls": "catch of a single pull, fish",
}


def as_priors_have_it(world: World, rng: np.random.Generator) -> World:
    """Draw from the model's priors what a pull takes, warm and cold, and how fish school."""
    priors = fishdown.read_model("one_lake").priors

    def draw(name: str) -> float:
        return float(priors[name].draw(rng, 1)[0])

    lake = replace(
        world.lakes[0],
        area_fished_ha=draw("area_fished_ha"),
        temperature_effect=draw("temperature_effect"),
    )
    return replace(world, lakes=(lake,), schooling=draw("schooling"))


def forecast(fit: Fit, season: Season, done: int, water: str, number: int) -> dict[str, Any]:
    """Return what is said of the pulls to come, and where the truth lies in it."""
    schedule = season.to_come(done, temperatures=water == "met")
    lake = fit.ahead(plan={"Lake 1": schedule}, seed=number, despite_gate=True).lakes[0]
    rng = np.random.default_rng([number, 1])
    biomass, caught = lake.biomass, season.caught[done:]
    catch = lake.catch.reshape(-1, lake.pulls)
    assert biomass is not None
    assert lake.below is not None
    return {
        "below": {when: float(lake.below[0, pull]) for when, pull in _marks(lake.pulls).items()},
        # Places from 0 to 1, even if draws are right (randomised probability integral transform,
        # Smith 1985; reference from memory).
        "biomass": _places(season.biomass[-1:], biomass[:, :, -1].reshape(-1, 1), rng),
        "total": _places(caught.sum(keepdims=True), catch.sum(axis=1, keepdims=True), rng),
        "pulls": _places(caught, catch, rng),
        "width": {
            "biomass": _width(biomass[:, :, -1]),
            "total": _width(catch.sum(axis=1)),
            "pulls": float(np.median([_width(one) for one in catch.T])),
        },
        "failure": lake.failure,
    }


def _places(truth: np.ndarray, draws: np.ndarray, rng: np.random.Generator) -> list[float]:
    return [float(place) for place in places_among(truth, draws, rng)]


def _marks(pulls: int) -> dict[str, int]:
    """Return the number of pulls ahead at each of `WHEN`."""
    return {"now": 0, "midway": pulls // 2, "end": pulls}


def _width(draws: np.ndarray) -> float:
    low, high = np.quantile(draws, (0.05, 0.95))
    return float(high - low)


def report(rows: list[dict[str, Any]]) -> str:
    """Lay out all results as Markdown."""
    happened = {when: np.array([row["truth"][when] < THRESHOLD for row in rows]) for when in WHEN}
    met = [row["met"] for row in rows]
    lines = [
        f"{len(rows)} campaigns, {happened['now'].mean():.0%} of them below the threshold when "
        f"stopped and {happened['end'].mean():.0%} at the season's end; the gate of one attempt "
        f"failed in {sum(bool(row['failure']) for row in met)}.",
        "",
        *reliability_table(_score(met, happened, "end"), "stated P(below) at the end"),
        "",
        "| P(below) | water | Brier | miscalibration (limit of chance) | discrimination "
        "| uncertainty |",
        "| --- | --- | ---: | ---: | ---: | ---: |",
    ]
    for when, moment in WHEN.items():
        for water, words in WATER.items():
            if when == "now" and water == "told":
                continue
            found = _score([row[water] for row in rows], happened, when)
            lines.append(
                f"| {moment} | {words if when != 'now' else '–'} | {found.brier:.4f} "
                f"| {found.miscalibration:.4f} ({found.miscalibration_limit:.4f}) "
                f"| {found.discrimination:.4f} | {found.uncertainty:.4f} |"
            )
    lines += [
        "",
        "| interval of | water | "
        + " | ".join(f"{level:.0%} holds" for level in LEVELS)
        + " | 90 % is wide (median) | mean place | places even |",
        "| --- | --- |" + " ---: |" * (len(LEVELS) + 2) + " --- |",
    ]
    for name, words in AMOUNTS.items():
        for water in WATER:
            lines.append(_coverage([row[water] for row in rows], name, f"{words} | {WATER[water]}"))
    return "\n".join(lines)


def _score(said: list[dict[str, Any]], happened: dict[str, Any], when: str) -> Reliability:
    return reliability([row["below"][when] for row in said], happened[when])


def _coverage(said: list[dict[str, Any]], name: str, words: str) -> str:
    """Return a row; errors are from campaign to campaign, whose own pulls share one fit."""
    cells = []
    for level in LEVELS:
        inside = [np.mean(np.abs(np.array(row[name]) - 0.5) <= 0.5 * level) for row in said]
        cells.append(_share(inside))
    rng = np.random.default_rng(1)
    # One a campaign, since the band is that of independent numbers.
    even = evenness(np.array([rng.choice(row[name]) for row in said]), 0.95).even
    width = np.median([row["width"][name] for row in said])
    middle = _share([np.mean(row[name]) for row in said])
    return f"| {words} | {' | '.join(cells)} | {width:.3g} | {middle} | {'yes' if even else 'no'} |"


def _share(each: list[Any]) -> str:
    return f"{np.mean(each):.3f} ± {np.std(each, ddof=1) / len(each) ** 0.5:.3f}"


def draw_figure(rows: list[dict[str, Any]], path: str) -> None:
    """Draw reliability at the season's end, and how the places of truths are spread."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 5.0), layout="constrained")
    left, right = figure.subplots(1, 2)
    happened = {"end": np.array([row["truth"]["end"] < THRESHOLD for row in rows])}
    for water, colour in zip(WATER, ("black", "tab:orange"), strict=True):
        curve = _score([row[water] for row in rows], happened, "end").curve
        if water == "met":
            left.fill_between(curve["stated"], curve["low"], curve["high"], alpha=0.25,
                              label="band of chance, 90 %")  # fmt: skip
        left.plot(curve["stated"], curve["happened"], color=colour, label=WATER[water])
    left.plot([0, 1], [0, 1], linewidth=0.8, linestyle="--")
    left.set_title(f"{len(rows)} simulated seasons, forecast halfway")
    left.set_xlabel("stated probability of ending below the threshold")
    left.set_ylabel("share of seasons that did")
    left.legend()
    rng = np.random.default_rng(1)
    for name, words in AMOUNTS.items():
        found = evenness(np.array([rng.choice(row["met"][name]) for row in rows]), 0.95)
        right.plot(found.points, found.found - found.points, label=words.partition(",")[0])
    right.fill_between(found.points, found.low - found.points, found.high - found.points,
                       alpha=0.25, label="band of even places, 95 %")  # fmt: skip
    right.axhline(0.0, linewidth=0.8, linestyle="--")
    right.set_title("Where the truth lies in the forecast")
    right.set_xlabel("place of the truth among the draws, 0 lowest")
    right.set_ylabel("share of truths up to there, less what is even")
    right.legend()
    figure.savefig(path, dpi=110)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--campaigns", type=int, default=300)
    parser.add_argument("--minutes", type=float, default=15.0, help="stop after so many")
    parser.add_argument("--lakes", choices=("crews", "prior"), default="crews")
    parser.add_argument("--seed", type=int, default=2027)
    parser.add_argument("--figure", help="write the reliability diagram to this file")
    options = parser.parse_args()
    if options.lakes == "crews":
        change, name, drawn = None, "forecasts.jsonl", {}
    else:
        change, name, drawn = as_priors_have_it, "forecasts_prior.jsonl", {"lakes": "prior"}
    log = ResultsLog(kept_in(name), study_header(options.seed, **drawn))
    clock = Clock(options.minutes)
    lake: OneLake | None = None
    for number, season in seasons(log, options.seed, options.campaigns, change):
        if clock.over:
            break
        done = season.world.rounds // 2 * season.world.nets
        campaign = season.until(done)
        lake = lake or OneLake(campaign)
        fit = lake.fit(campaign, replace(SETTINGS, seed=number))
        ahead_of = _marks(len(season.caught) - done)
        log.add(
            number,
            {
                **{water: forecast(fit, season, done, water, number) for water in WATER},
                "truth": {when: season.biomass[done + pull] for when, pull in ahead_of.items()},
            },
        )
    rows = [log.rows[number] for number in sorted(log.rows)]
    print(report(rows))
    if options.figure:
        draw_figure(rows, options.figure)


if __name__ == "__main__":
    main()
