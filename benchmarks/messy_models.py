"""The models that are compared in messy lakes, their scores, and where these are kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from messy_worlds import KINDS, THRESHOLD
from scipy import stats
from trials import LEVELS, SETTINGS, kept_in, limits

import fishdown
from fishdown.campaign import Campaign
from fishdown.formulas.marking import chapman
from fishdown.models.parts import chosen_parts
from fishdown.posterior.sampling import SamplerSettings
from fishdown.results_log import ResultsLog

# Of a round (MESSY.md), by lakes of a campaign.
SEEDS = {
    2: {1: 2_041, 3: 2_043, 6: 2_046, 12: 2_052},
    3: {1: 2_071, 6: 2_076},
    4: {6: 2_086},
}
EVERY_MARK, ROBUST, TOLD, CHAPMAN = "every mark counts", "robust", "marks told", "Chapman"
MODELS = (EVERY_MARK, ROBUST, TOLD)
# Of `--many`.
MANY = SamplerSettings(draws=500, tune=500, chains=4, cores=1, target_accept=0.9, sampler="numpyro")
# What was the default before; parts of other names have their first choice then.
BEFORE = {
    "evidence": "both",
    "catch": "schooling",
    "catchability": "per_area",
    "temperature": "log_linear",
    "nets": "differ",
    "first_pulls": "best",
    "weights": "measured",
    "lengths": "log_log",
    "sizes": "by_lake_and_year",
}


@dataclass(frozen=True)
class Study:
    """The campaigns of a round with so many lakes."""

    lakes: int
    seed: int

    def children(self, campaigns: int) -> list[np.random.SeedSequence]:
        """Return the seeds of the campaigns, the same for every kind."""
        return np.random.SeedSequence(self.seed).spawn(campaigns)


def specification(model: str, lakes: int) -> fishdown.ModelSpec:
    """Return one of `MODELS`."""
    spec = fishdown.read_model("one_lake" if lakes == 1 else "pooled_lakes")
    if model == EVERY_MARK:
        plain = {name: part.default for name, part in chosen_parts().items()}
        return spec.with_parts(**{**plain, **BEFORE, "pooling": spec.part("pooling")})
    return spec.with_parts(marks="all_count") if model == TOLD else spec


def scores(draws: np.ndarray, truth: float) -> dict[str, Any]:
    """Return limits, P(below) and log score of the biomass of one lake."""
    below = (draws < THRESHOLD).mean()
    density = stats.gaussian_kde(np.log(np.maximum(draws, 1e-3)))(np.log(truth))[0]
    wide = stats.norm.pdf(np.log(truth), np.log(np.median(draws)), 2.0)
    return {
        "limits": limits(draws),
        "below": float(np.clip(below, 0.5 / len(draws), 1.0 - 0.5 / len(draws))),
        "log_score": float(np.log(0.99 * density + 0.01 * wide)),
    }


def classical(campaign: Campaign, lake: int, truth: float) -> dict[str, Any] | None:
    """Return the same by Chapman's estimate times mean weight; None without recaptures."""
    pulls = campaign.pulls.isel(pull=campaign.pulls["season_index"].values == lake)
    caught, recaptured = (int(pulls[name].sum()) for name in ("caught", "recaptured"))
    if not recaptured:
        return None
    marked = int(campaign.seasons["marked"].values[lake])
    weight = campaign.fish["weight"].values[campaign.fish["season_index"].values == lake]
    area = float(campaign.lakes["area"].values[lake])
    mean, error = weight.mean(), weight.std(ddof=1) / np.sqrt(len(weight)) / weight.mean()
    ends: list[float] = []
    for level in LEVELS:
        found = chapman(marked, caught, recaptured, level=level)
        left = np.maximum(np.array([found.low, found.abundance, found.high]) - caught, 1.0)
        half = stats.norm.ppf((1.0 + level) / 2.0) * error
        away = np.hypot(np.log(left[1] / left[[0, 2]]), half) * np.array([-1.0, 1.0])
        ends += (left[1] * mean / area * np.exp(away)).tolist()
        middle = float(left[1] * mean / area)
    spread = np.log(ends[5] / ends[4]) / 2.0 / stats.norm.ppf(0.95)
    density = stats.norm.pdf(np.log(truth / middle), 0.0, spread)
    wide = stats.norm.pdf(np.log(truth / middle), 0.0, 2.0)
    return {
        "limits": [middle, *ends],
        "below": float(stats.norm.cdf(np.log(THRESHOLD / middle) / spread)),
        "log_score": float(np.log(0.99 * density + 0.01 * wide)),
    }


def many_at(depth: int) -> str:
    """Return the part that is sampled with trajectories of at most two to this power steps."""
    return f"many{depth}"


def log_of(kind: str, study: Study, model: str, part: str) -> ResultsLog:
    """Return the log of a model in one part of the study, as in "1of2", or of `many_at`."""
    place = list(KINDS).index(kind)
    header = {
        "kind": kind,
        "lakes": study.lakes,
        "seed": study.seed,
        "model": specification_text(model, study.lakes),
        "settings": (MANY if part.startswith("many") else SETTINGS).entry(),
    }
    name = f"messy_{study.lakes}_{study.seed}_{MODELS.index(model)}_{place}_{part}.jsonl"
    return ResultsLog(kept_in(name), header)


def specification_text(model: str, lakes: int) -> dict[str, Any]:
    spec = specification(model, lakes)
    return {**spec.parts, **{name: prior.entry() for name, prior in spec.priors.items()}}


def rows_of(kind: str, study: Study, parts: list[str]) -> list[dict[str, Any]]:
    """Return the campaigns of a kind, each with the answers of all models that were fitted."""
    found: dict[Any, dict[str, Any]] = {}
    for model in MODELS:
        for part in parts:
            for number, row in log_of(kind, study, model, part).rows.items():
                found.setdefault(number, {}).update(row)
    return [found[number] for number in sorted(found)]
