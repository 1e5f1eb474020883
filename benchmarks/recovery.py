"""How often 90 % intervals hold the truth, part by part, and what leaving a part out costs.

    python benchmarks/recovery.py [PART ...] --campaigns 40

Campaigns are drawn from worlds that have the part, and fitted with it and without it. Prints, for
each part, the share of lakes whose 90 % interval holds the truth (abundance before netting, biomass
after it, and the part's own parameter) and the median error of abundance. Each model is compiled
once and fed with every campaign. Results are kept in RESULTS.md.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import xarray as xr

import fishdown
from fishdown.campaign import Campaign
from fishdown.models.data import ModelData, fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.spec import ModelSpec
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import Sampler, SamplerSettings
from fishdown.worlds import LakeTruth, World, simulate

NETS = 4
SETTINGS = SamplerSettings(draws=400, tune=500, chains=2, cores=2)


@dataclass(frozen=True)
class Part:
    """A part of the model and the world that needs it.

    Its own parameter has one truth in all campaigns, or, if `drawn`, one from its prior in each:
    a truth in the middle of a prior is held too often where the records say little.
    """

    model: str
    lakes: int
    world: dict[str, Any] = field(default_factory=dict)
    on: dict[str, str] = field(default_factory=dict)
    off: dict[str, str] = field(default_factory=dict)
    parameter: str = ""
    truth: float = float("nan")
    drawn: bool = False

    def changes(self, spec: ModelSpec, rng: np.random.Generator) -> tuple[dict[str, Any], float]:
        """Return what the world of one campaign has, and the truth of the own parameter."""
        if not self.drawn:
            return self.world, self.truth
        truth = float(spec.priors[self.parameter].draw(rng, 1)[0])
        return {**self.world, self.parameter: truth}, truth


PLAIN_NETS = {
    "nets": "alike",
    "nights": "alike",
    "drift": "none",
    "first_pulls": "alike",
    "mesh": "none",
    "rest": "none",
    "bait": "none",
    "effort": "pulls",
}
PLAIN_MARKS = {
    "marks": "all_count",
    "deaths": "recorded",
    "batches": "together",
    "recaptures": "random",
}
PARTS: dict[str, Part] = {
    "one_lake": Part("one_lake", 1, off={"temperature": "none"}),
    "pooled_lakes": Part("pooled_lakes", 3, off={"temperature": "none"}),
    "threshold": Part(
        "detailed_nets",
        3,
        world={"threshold_temperature": 14.0, "threshold_width": 2.0},
        on=PLAIN_NETS,
        off={**PLAIN_NETS, "temperature": "none"},
        parameter="threshold_temperature_typical",
        truth=14.0,
    ),
    "smooth": Part(
        "smooth_cooling",
        3,
        world={"threshold_temperature": 12.0, "threshold_width": 3.0},
        off={"temperature": "none"},
        parameter="temperature_effect",
        truth=0.3628,
    ),
    # At 10 °C so little is left that the prior gives it 1.5 %, and half of the campaigns end in
    # warmer water: what comes of a prior that the truth lies outside of.
    "smooth_steep": Part(
        "smooth_cooling",
        3,
        world={"threshold_temperature": 14.0, "threshold_width": 2.0},
        off={"temperature": "none"},
        parameter="temperature_effect",
        truth=0.1253,
    ),
    "nets": Part(
        "detailed_nets",
        3,
        world={"net_spread": 0.5, "threshold_temperature": 14.0},
        on={**PLAIN_NETS, "nets": "differ"},
        off=PLAIN_NETS,
        parameter="net_spread",
        truth=0.5,
    ),
    "mesh": Part(
        "detailed_nets",
        3,
        world={"mesh_effect": 0.6, "threshold_temperature": 14.0},
        on={**PLAIN_NETS, "mesh": "log_linear"},
        off=PLAIN_NETS,
        parameter="mesh_effect",
        truth=0.6,
    ),
    "nights": Part(
        "pooled_lakes",
        3,
        world={"night_spread": 0.4},
        on={**PLAIN_NETS, "nights": "differ"},
        off=PLAIN_NETS,
        parameter="night_spread",
        truth=0.4,
    ),
    # Half a wave of random phase, which is no draw of the model's process.
    "drift": Part(
        "pooled_lakes",
        3,
        world={"drift": 0.3},
        on={**PLAIN_NETS, "drift": "smooth"},
        off=PLAIN_NETS,
    ),
    # A loss that does not fade.
    "first_pulls": Part(
        "detailed_nets",
        3,
        world={"rest_loss": 0.4, "rest_recovery": 1e9, "threshold_temperature": 14.0},
        on={**PLAIN_NETS, "first_pulls": "best"},
        off=PLAIN_NETS,
        parameter="later_pulls",
        truth=0.6,
    ),
    "rest": Part(
        "detailed_nets",
        3,
        world={"rest_recovery": 5.0, "threshold_temperature": 14.0},
        on={**PLAIN_NETS, "rest": "recovering"},
        off=PLAIN_NETS,
        parameter="rest_loss",
        drawn=True,
    ),
    "bait": Part(
        "detailed_nets",
        3,
        world={"bait_start": 0.3, "bait_build_up": 4.0, "threshold_temperature": 14.0},
        on={**PLAIN_NETS, "bait": "building"},
        off=PLAIN_NETS,
        parameter="bait_start",
        truth=0.3,
    ),
    "effort": Part(
        "detailed_nets",
        3,
        world={"effort_exponent": 0.7, "threshold_temperature": 14.0},
        on={**PLAIN_NETS, "effort": "hours"},
        off=PLAIN_NETS,
        parameter="effort_exponent",
        truth=0.7,
    ),
    # Without links a season cannot place marks of earlier years: its catches must speak alone.
    "years": Part(
        "many_years",
        3,
        world={"years": 3, "season_spread": 0.2},
        off={"years": "apart", "evidence": "depletion", "marks": "all_count"},
        parameter="survival",
        drawn=True,
    ),
    "lengths": Part(
        "pooled_lakes",
        3,
        world={"weighed": 15, "only_length": 150},
        off={"lengths": "none"},
        parameter="length_exponent",
        drawn=True,
    ),
    "large_weighed": Part(
        "pooled_lakes",
        3,
        world={"weighed": 40, "only_length": 80, "weigh_the_longest": True},
        off={"lengths": "none"},
        parameter="length_exponent",
        truth=2.95,
    ),
    # Fish of a catch are alike, and a third of the fish is measured as the crew marks.
    "net_selectivity": Part(
        "pooled_lakes",
        3,
        world={"weight_pull_spread": 0.08, "weighed_at_marking": 0.33},
        off={"weighed": "at_random"},
        parameter="net_selectivity",
        drawn=True,
    ),
    # Nets that take much larger fish, and nobody weighs any other.
    "larger_fish": Part(
        "pooled_lakes",
        3,
        world={"net_selectivity": 1.15},
        off={"weighed": "at_random"},
        parameter="net_selectivity",
        truth=1.15,
    ),
    "weight_trend": Part(
        "pooled_lakes",
        3,
        off={"weighed": "at_random"},
        parameter="weight_trend",
        drawn=True,
    ),
    "weight_pull_spread": Part(
        "pooled_lakes",
        3,
        off={"weighed": "at_random"},
        parameter="weight_pull_spread",
        drawn=True,
    ),
    "vulnerable": Part(
        "hidden_fish",
        3,
        world={"not_vulnerable": 0.25},
        off={"vulnerable": "all"},
        parameter="vulnerable",
        truth=0.75,
    ),
    "marks": Part(
        "lost_marks",
        3,
        world={"marks_lost": 0.2},
        off={"marks": "all_count"},
        parameter="mark_retention",
        truth=0.8,
    ),
    "shed": Part(
        "careful_marks",
        3,
        world={"batches": ("fin_clip", "both"), "clip_retention": 0.85, "tag_retention": 0.8},
        on={**PLAIN_MARKS, "marks": "shed", "batches": "apart"},
        off=PLAIN_MARKS,
        parameter="tag_retention",
        truth=0.8,
    ),
    "batches": Part(
        "careful_marks",
        3,
        world={"batches": ("fin_clip", "pit_tag"), "clip_retention": 0.8, "tag_retention": 0.95},
        on={**PLAIN_MARKS, "marks": "shed", "batches": "apart"},
        off={**PLAIN_MARKS, "marks": "shed"},
        parameter="clip_retention",
        truth=0.8,
    ),
    "deaths": Part(
        "careful_marks",
        3,
        world={"post_release_survival": 0.85},
        on={**PLAIN_MARKS, "deaths": "unseen"},
        off=PLAIN_MARKS,
        parameter="post_release_survival",
        truth=0.85,
    ),
    # Without it catches alone would have to tell.
    "examined": Part(
        "one_lake",
        1,
        world={"examined_share": 0.3, "batches": ("fin_clip",)},
        off={"evidence": "depletion"},
    ),
    "second_looks": Part(
        "one_lake",
        1,
        world={"mark_detection": 0.8, "looked_twice": 12, "batches": ("fin_clip",)},
        off={"second_looks": "none"},
        parameter="mark_detection",
        truth=0.8,
    ),
    "uneven": Part(
        "shy_marks",
        3,
        world={"marked_hazard": 0.7},
        off={"recaptures": "random"},
        parameter="capture_odds_ratio",
        truth=0.7,
    ),
    "clumped": Part(
        "careful_marks",
        3,
        world={"clumping": 0.6},
        on={**PLAIN_MARKS, "recaptures": "clumped"},
        off=PLAIN_MARKS,
        parameter="clumping",
        truth=0.6,
    ),
}


def draw_world(rng: np.random.Generator, lakes: int) -> World:
    """Draw a campaign as crews make them: 8–300 ha, 30–200 fish/ha, 40–60 pulls a lake."""
    truths = []
    for position in range(lakes):
        area = float(np.exp(rng.uniform(np.log(8.0), np.log(300.0))))
        truths.append(
            LakeTruth(
                name=f"Lake {position + 1}",
                area_ha=round(area, 1),
                fish=round(area * float(np.exp(rng.uniform(np.log(30.0), np.log(200.0))))),
                area_fished_ha=float(np.exp(rng.normal(0.0, 0.3))),
                temperature_effect=float(0.5 * np.exp(rng.normal(0.0, 0.2))),
                mean_weight=float(2.4 * np.exp(rng.normal(0.0, 0.25))),
                # Of its own, so that the other worlds stay as they are.
                condition=float(1.4 * np.exp(rng.spawn(1)[0].normal(0.0, 0.08))),
            )
        )
    return World(
        lakes=tuple(truths),
        marked=int(rng.integers(60, 201)),
        nets=NETS,
        rounds=int(rng.integers(10, 16)),
        schooling=float(rng.uniform(0.4, 1.0)),
    )


class Study:
    """One model, compiled once, fed with campaign after campaign."""

    def __init__(self, spec: ModelSpec, campaign: Campaign) -> None:
        self.spec, _ = fitting_spec(campaign, spec)
        self._compile(campaign, model_data(campaign, self.spec))

    def _compile(self, campaign: Campaign, data: ModelData) -> None:
        self.sampler = Sampler(build(self.spec, data, campaign.coords), "nutpie")
        self.carrying = carrying(data)

    def fit(self, campaign: Campaign, seed: int) -> tuple[xr.Dataset, xr.Dataset, int]:
        """Return draws of the free variables, of the reported quantities, and divergences."""
        data = model_data(campaign, self.spec)
        if carrying(data) != self.carrying or not self.sampler.holds(data):
            self._compile(campaign, data)
        self.sampler.feed(data)
        tree = self.sampler.sample(replace(SETTINGS, seed=seed))
        posterior = tree["posterior"].to_dataset()
        diverging = int(tree["sample_stats/diverging"].values.sum())
        return posterior, reported_quantities(posterior, campaign, self.spec), diverging


def carrying(data: ModelData) -> list[list[int]]:
    """Return the winters that marks are carried over; a graph is made for them."""
    return [level.tolist() for level in data.winters.carrying] if data.winters else []


def inside(draws: np.ndarray, truth: float) -> bool:
    """Tell whether the equal-tailed 90 % interval holds the truth."""
    low, high = np.quantile(draws, (0.05, 0.95))
    return bool(low <= truth <= high)


def recover(name: str, campaigns: int, seed: int) -> str:
    """Simulate, fit with the part and without it, and return one row of the table."""
    part = PARTS[name]
    started = time.perf_counter()
    spec = fishdown.read_model(part.model)
    studies: dict[str, Study] = {}
    hits: dict[str, list[bool]] = {
        key: [] for key in ("abundance", "biomass", "own", "off", "biomass_off")
    }
    errors: dict[str, list[float]] = {"on": [], "off": []}
    shifts, divergences, diverged = [], 0, 0
    for number, child in enumerate(np.random.SeedSequence(seed).spawn(campaigns)):
        rng = np.random.default_rng(child)
        # Of its own, so that the lakes are those of the other parts.
        changes, own = part.changes(spec, rng.spawn(1)[0])
        campaign, truth = simulate(replace(draw_world(rng, part.lakes), **changes), rng)
        if not studies:
            studies = {
                "on": Study(spec.with_parts(**part.on), campaign),
                "off": Study(spec.with_parts(**part.off), campaign),
            }
        known = truth.pivot_table(
            index=["lake", "season"], columns="quantity", values="value", sort=False
        )
        medians = {}
        for which, study in studies.items():
            posterior, quantities, count = study.fit(campaign, number)
            if which == "on":
                divergences += count
                diverged += count > 0
                if part.parameter:
                    draws = posterior[part.parameter].values
                    draws = draws[..., 0] if draws.ndim == 3 else draws
                    hits["own"].append(inside(draws, own))
            for season in range(len(known)):
                before = quantities["abundance_before"].isel(season=season).values
                fish = known["abundance_before"].iloc[season]
                errors[which].append(float(np.median(before)) / fish - 1.0)
                hits["abundance" if which == "on" else "off"].append(inside(before, fish))
                after = quantities["biomass_after"].isel(season=season).values
                medians[which, season] = float(np.median(after))
                held = inside(after, known["biomass_after"].iloc[season])
                hits["biomass" if which == "on" else "biomass_off"].append(held)
        shifts += [medians["on", k] / medians["off", k] - 1.0 for k in range(len(known))]
    share = {key: f"{np.mean(found):.2f}" if found else "–" for key, found in hits.items()}
    return (
        f"| {name} | {campaigns} × {part.lakes} | {share['abundance']} | {share['biomass']} "
        f"| {part.parameter or '–'} {share['own']} | {np.median(errors['on']):+.3f} "
        f"| {share['off']} | {share['biomass_off']} "
        f"| {np.median(errors['off']):+.3f} | {np.median(shifts):+.3f} "
        f"| {divergences} in {diverged} | {time.perf_counter() - started:.0f} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--campaigns", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    unknown = set(options.parts) - set(PARTS)
    if unknown:
        parser.error(f"unknown: {', '.join(sorted(unknown))}; known: {', '.join(PARTS)}")
    print(
        "| part | campaigns × lakes | abundance | biomass after | own parameter | error "
        "| abundance, part off | biomass after, part off | error, part off "
        "| biomass moved | divergences | seconds |"
    )
    print("| --- |" + " --- |" * 11)
    for name in options.parts or PARTS:
        print(recover(name, options.campaigns, options.seed), flush=True)


if __name__ == "__main__":
    main()
