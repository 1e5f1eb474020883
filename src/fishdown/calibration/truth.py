"""A lake drawn from a model's own priors.

The formulas are those of `models/README.md`, written again in plain NumPy: the graph and the
densities have no part in it, so that a mistake there cannot hide here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fishdown.calibration.winters import luck_of_winters
from fishdown.equality import by_value

if TYPE_CHECKING:
    from fishdown.calibration.design import Design
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray, Numbers


@by_value
@dataclass(frozen=True)
class Truth:
    """Parameters drawn from the priors.

    Attributes
    ----------
    values : dict of str to ndarray
        By the names that the graph has for them; a value a lake, net or basis function where there
        are several. Also ``season_odds``, capture odds of marked to unmarked fish in a season's
        lake, where they are not alike, and ``marks_there``, the share of a season's marks that is
        kept, seen, and on a living fish, where marks are effective.
    abundance, vulnerable_fish : ndarray, shape (season,)
        Fish before the first pull, and the vulnerable ones; not yet rounded. NaN in seasons that
        follow another: they depend on what the crew takes, and `crew_notes` fills them in.
    counting : ndarray of int, shape (batch,)
        Marks of each batch that count; batches lake by lake, year by year.
    batch_season : ndarray of int, shape (batch,)
        Position of the season of each.
    carried : ndarray of int, shape (season,)
        Marks of earlier years at large as the season starts; filled in likewise.
    hazard : ndarray, shape (pull,)
    """

    values: dict[str, FloatArray]
    abundance: FloatArray
    vulnerable_fish: FloatArray
    counting: IntArray
    batch_season: IntArray
    carried: IntArray
    hazard: FloatArray

    @property
    def unmarked(self) -> FloatArray:
        """Vulnerable fish that carry no mark as each season starts, shape (season,)."""
        return self.vulnerable_fish - self.marked

    @property
    def marked(self) -> IntArray:
        """Marked vulnerable fish as each season starts, shape (season,)."""
        own = np.bincount(self.batch_season, self.counting, len(self.carried))
        return own.astype(np.int64) + self.carried

    def in_whole_fish(self) -> Truth:
        """Return the truth with whole unmarked fish, as the nets meet them."""
        vulnerable_fish: FloatArray = np.rint(self.unmarked) + self.marked.astype(float)
        return replace(
            self,
            vulnerable_fish=vulnerable_fish,
            abundance=vulnerable_fish / self.values.get("vulnerable", np.ones(1)),
        )

    def possible(self, design: Design) -> bool:
        """Tell whether the records of a design can come from these lakes.

        Not if a season starts with fewer fish than are marked in it, or are examined at once.
        """
        known = ~np.isnan(self.abundance)
        examined = np.where(design.netted, design.examined or 0, 0)
        enough = (self.unmarked > -0.5) & (self.abundance > examined - 0.5)
        return bool(enough[known].all())


def draw_truth(
    spec: ModelSpec, design: Design, planned: ModelData[Numbers], rng: np.random.Generator
) -> Truth:
    """Draw all parameters from a model's priors.

    The records of this design cannot come from a lake that holds fewer fish than were marked or
    examined in it: such draws are not part of the model's prior. All parameters are then drawn
    again, and not only the abundance, since the chance of such a draw depends on the others. With
    linked years the same holds of the seasons to come (`crew_notes.draw_campaign`).

    Parameters
    ----------
    planned : ModelData
        Of the design's template.
    """
    lakes, seasons = len(design.areas), len(planned.lake_of_season)
    _, starts = np.unique(planned.lake_of_season, return_index=True)
    times = len(design.batch_season) // len(design.batches)
    while True:
        values = _common(spec, lakes, planned, rng)
        vulnerable = values.get("vulnerable", np.ones(1))
        abundance = np.full(seasons, np.nan)
        abundance[starts] = spec.priors["density"].draw(rng, lakes) * planned.area
        chances = np.tile(_chances_to_count(values, design), times)
        truth = Truth(
            values=values,
            abundance=abundance,
            vulnerable_fish=vulnerable * abundance,
            counting=rng.binomial(design.released, chances),
            batch_season=design.batch_season,
            carried=np.zeros(seasons, dtype=np.int64),
            hazard=np.zeros(0),
        )
        if truth.possible(design):
            return replace(truth, hazard=_hazard(spec, values, planned))


def _chances_to_count(values: dict[str, FloatArray], design: Design) -> list[float]:
    """Return the chance of a mark of each batch to be there for the nets to find."""
    always = np.ones(1)
    if "effective_marks" in values:
        return [float(values.get("vulnerable", always)[0])] * len(design.batches)
    c, t = (values.get(name, always) for name in ("clip_retention", "tag_retention"))
    by_mark = {"fin_clip": c, "pit_tag": t, "both": 1.0 - (1.0 - c) * (1.0 - t)}
    same = always
    for name in ("vulnerable", "mark_retention", "post_release_survival"):
        same = same * values.get(name, always)
    return [float((same * by_mark[mark])[0]) for _, mark, _ in design.batches]


def effects(
    spec: ModelSpec, values: dict[str, FloatArray], planned: ModelData[Numbers]
) -> FloatArray:
    """Return what temperature, season and nets add to the log-hazard of each pull.

    Returns
    -------
    ndarray, shape (pull,)
    """
    lake = planned.lake_of_season[planned.catches.season]
    added = warmth(spec, values, _water(values, planned), lake)
    if "net_step" in values:
        added += values["net_spread"] * values["net_step"][planned.pulls.net]
    if "night_step" in values:
        added += values["night_spread"] * values["night_step"][_nights(planned)[1]]
    if "drift_step" in values:
        added += _drift(values, planned)
    if "season_step" in values:
        added += values["season_spread"] * values["season_step"][planned.catches.season]
    if "mesh_effect" in values:
        added += np.log(values["mesh_effect"]) * planned.effects["mesh"].doublings
    if "later_pulls" in values:
        added += np.where(
            planned.effects["first_pulls"].later > 0.0, np.log(values["later_pulls"]), 0.0
        )
    if "rest_loss" in values:
        lost = values["rest_loss"] * np.exp(-planned.effects["rest"].days / values["rest_recovery"])
        added += np.log1p(-lost)
    if "bait_start" in values:
        missing = (1.0 - values["bait_start"]) * np.exp(
            -planned.effects["bait"].days / values["bait_build_up"]
        )
        added += np.log1p(-missing)
    if "effort_exponent" in values:
        added += values["effort_exponent"] * planned.effects["effort"].log_ratio
    return added


def _nights(planned: ModelData[Numbers]) -> tuple[int, IntArray]:
    """Return how many nights there are, and which of them each pull belongs to, lake by lake."""
    date = planned.pulls.date.astype("datetime64[D]").astype(np.int64)
    nights, night = np.unique(np.stack([planned.pulls.lake, date]), axis=1, return_inverse=True)
    return nights.shape[1], night.ravel()


def _netted(planned: ModelData[Numbers]) -> IntArray:
    """Return the seasons with pulls; a design's are shorter than what one process covers."""
    return np.unique(planned.pulls.season)


def _drift(values: dict[str, FloatArray], planned: ModelData[Numbers]) -> FloatArray:
    """Return the drift at each pull less its mean over the season's: a process on 240 days.

    Each wave around the circle has a cosine and a sine; its variance is the integral of the
    covariance over all distances, by the spectral density of the squared exponential.
    """
    size, length = values["drift_size"], values["drift_days"]
    date = planned.pulls.date.astype("datetime64[D]").astype(float)
    found = np.zeros(len(planned.pulls))
    for place, season in enumerate(_netted(planned)):
        mine = planned.pulls.season == season
        turn = 2.0 * np.pi * (date[mine] - date[mine].min()) / 240.0
        process = np.zeros(mine.sum())
        for wave in range(1, 11):
            a, b = values["drift_step"][place, [wave - 1, wave + 9]]
            density = (
                np.sqrt(2.0 * np.pi) * length * np.exp(-2.0 * (np.pi * wave * length / 240.0) ** 2)
            )
            spread = size * np.sqrt(density / 120.0)
            process += spread * (a * np.cos(wave * turn) + b * np.sin(wave * turn))
        found[mine] = process - process.mean()
    return found


def _water(values: dict[str, FloatArray], planned: ModelData[Numbers]) -> FloatArray:
    """Return the water temperature of each pull, °C; NaN where the model does without it."""
    if "temperature" not in planned.effects:
        return np.full(len(planned.pulls), np.nan)
    read = planned.effects["temperature"]
    guessed = values["temperature_step"][read.guess] if read.guesses else 0.0
    temperature: FloatArray = read.value + read.sd * guessed
    return temperature


def warmth(
    spec: ModelSpec, values: dict[str, FloatArray], temperature: FloatArray, lake: IntArray
) -> FloatArray:
    """Return what temperature adds to the log-hazard in each lake, relative to the reference."""
    reference = spec.reference_temperature
    cold = (reference - temperature) / 10.0
    match spec.part("temperature"):
        case "log_linear":
            added: FloatArray = np.log(values["temperature_effect"])[lake] * cold
        case "threshold_curve":
            m, w = values["threshold_temperature"][lake], values["threshold_width"]
            added = np.logaddexp(0.0, (m - reference) / w) - np.logaddexp(
                0.0, (m - temperature) / w
            )
        case "smooth":
            straight = np.log(values["temperature_effect_linear"])[lake] * cold
            bend = curve(values, temperature) - curve(values, np.array([reference]))
            added = straight + bend
        case _:
            added = np.zeros(len(temperature))
    return added


def curve(values: dict[str, FloatArray], temperature: FloatArray) -> FloatArray:
    """Return the smooth curve of temperature: a Gaussian process on a Hilbert-space basis.

    Sines on (−L, L) and the spectral density of the squared-exponential covariance (Riutort-Mayol
    et al. 2023, equations 7 and 8), on temperatures scaled so that −2 and 36 °C are −1 and 1.
    """
    L, middle, half = 1.5, 17.0, 19.0
    order = np.arange(1, len(values["smooth_step"]) + 1)
    omega = np.pi * order / (2.0 * L)
    x = (temperature - middle) / half
    basis = np.sin(omega * (x[:, None] + L)) / np.sqrt(L)
    scale = values["smooth_scale"] / half
    density = values["smooth_amplitude"] ** 2 * np.sqrt(2.0 * np.pi) * scale
    density = density * np.exp(-0.5 * (scale * omega) ** 2)
    smooth: FloatArray = basis @ (values["smooth_step"] * np.sqrt(density))
    return smooth


def _common(
    spec: ModelSpec, lakes: int, planned: ModelData[Numbers], rng: np.random.Generator
) -> dict[str, FloatArray]:
    """Draw everything but abundance and marks."""
    priors, pooled = spec.priors, spec.part("pooling") == "lakes"
    values = {name: prior.draw(rng, 1) for name, prior in priors.items() if name != "density"}

    def by_lake(
        name: str, spread: str, *, scale: str = "log", base: str = "", steps: str = ""
    ) -> None:
        if (base or name) not in priors:
            return
        base = base or name
        typical = values.pop(base)
        if not pooled:
            values[name] = priors[base].draw(rng, lakes)
            return
        steps = steps or f"{name}_step"
        if steps not in values:
            values[steps] = rng.normal(size=lakes)
        wide = values[spread] * values[steps]
        values[f"{name}_typical"] = typical
        match scale:
            case "logit":
                odds = typical / (1.0 - typical) * np.exp(wide)
                values[name] = odds / (1.0 + odds)
            case "level":
                values[name] = typical + wide
            case _:
                values[name] = typical * np.exp(wide)

    if spec.part("temperature") == "smooth":
        by_lake("temperature_effect_linear", "temperature_spread", base="temperature_effect")
        values["smooth_step"] = rng.normal(size=12)
    else:
        by_lake("temperature_effect", "temperature_spread")
    by_lake("threshold_temperature", "threshold_spread", scale="level")
    by_lake("schooling", "schooling_spread")
    by_lake("survival", "survival_spread", scale="logit")
    by_lake("replacement", "recruit_spread")
    by_lake("condition", "condition_spread")
    by_lake("capture_odds_ratio", "odds_spread")
    if "capture_odds_ratio" in values:
        values["season_odds"] = values["capture_odds_ratio"][planned.lake_of_season]
    if spec.part("marks") == "effective":
        for kind in ("clip_retention", "tag_retention"):
            by_lake(kind, "retention_spread", scale="logit", steps="retention_step")
        by_lake("post_release_survival", "release_survival_spread", scale="logit")
        # The marks of a design are clips.
        values["marks_there"] = (
            values["clip_retention"][planned.lake_of_season]
            * values.get("mark_detection", np.ones(1))
            * values["post_release_survival"][planned.lake_of_season]
        )
        values["effective_marks"] = values["marks_there"] * values["season_odds"]
    by_lake("area_fished_ha", "lake_spread")
    if "net_selectivity" in values:
        by_lake("weight_variation", "weight_variation_spread")
    if pooled and "area_fished_ha" in values:
        log_area = np.log(planned.area)
        tilt = (1.0 - values["area_exponent"]) * (log_area - log_area.mean())
        values["area_fished_ha"] = values["area_fished_ha"] * np.exp(tilt)
    if "catchability" in priors:
        values["catchability"] = priors["catchability"].draw(rng, lakes)
    if "mean_weight" in values:
        _mean_weights(spec, values, planned.lake_of_season, rng)
    if planned.winters is not None:
        luck_of_winters(values, planned.winters, planned.lake_of_season, rng)
    if "net_spread" in values:
        values["net_step"] = rng.normal(size=len(planned.pulls.nets))
    if "night_spread" in values:
        values["night_step"] = rng.normal(size=_nights(planned)[0])
    if "drift_size" in values:
        values["drift_step"] = rng.normal(size=(len(_netted(planned)), 20))
    if "season_spread" in values:
        values["season_step"] = rng.normal(size=len(planned.lake_of_season))
    if "temperature" in planned.effects:
        values["temperature_step"] = rng.normal(size=planned.effects["temperature"].guesses)
    return values


def _mean_weights(
    spec: ModelSpec, values: dict[str, FloatArray], lake: IntArray, rng: np.random.Generator
) -> None:
    """Draw the mean weight of every season: a typical one, its lakes, their years."""
    by_year = "weight_year_spread" in values
    size = len(np.unique(lake)) if by_year else len(lake)
    typical = values.pop("mean_weight")
    if spec.part("pooling") == "lakes":
        level = typical * np.exp(values["weight_spread"] * rng.normal(size=size))
    else:
        level = typical = spec.priors["mean_weight"].draw(rng, size)
    if by_year or spec.part("pooling") == "lakes":
        values["mean_weight_typical"] = typical
    if by_year:
        values["weight_of_lake"] = level
        years = np.exp(values["weight_year_spread"] * rng.normal(size=len(lake)))
        level = level[lake] * years
    values["mean_weight"] = level


def _hazard(
    spec: ModelSpec, values: dict[str, FloatArray], planned: ModelData[Numbers]
) -> FloatArray:
    lake = planned.lake_of_season[planned.catches.season]
    if "catchability" in values:
        base = -np.log1p(-values["catchability"])
    elif "area_fished_ha" in values:
        base = values["area_fished_ha"] / planned.area
    else:
        return np.zeros(0)
    return base[lake] * np.exp(effects(spec, values, planned))
