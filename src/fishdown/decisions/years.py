"""Years ahead: projection of each lake with or without netting, and the removal needed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from fishdown.decisions.projection import Removal, Stock, held_removals, project
from fishdown.decisions.rates import EFFECT, Rates, rates
from fishdown.decisions.years_words import (
    HELD,
    STRONG,
    YOUNG,
    assumptions,
    holding_sentences,
    statement,
)
from fishdown.equality import by_value
from fishdown.errors import PlanError
from fishdown.intervals import named_points
from fishdown.posterior.quantities import fish_after_movements
from fishdown.statements.probability import probability_below, says
from fishdown.units import shown_in
from fishdown.words import likelihood_words

if TYPE_CHECKING:
    from fishdown.decisions.projection import RemovalKind
    from fishdown.decisions.rates import Given
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray
    from fishdown.units import System

    type Young = Literal["eaten", "open", "strong-year"]

MOST_YEARS = 15
COLUMNS = (
    "lake", "last_season", "young", "removal_kind", "removal_a_year", "years_ahead", "year",
    "fish_median", "fish_low", "fish_high", "threshold_kg_per_ha", "biomass_median_kg_per_ha",
    "biomass_low_kg_per_ha", "biomass_high_kg_per_ha", "probability_below", "mc_error", "words",
    *(
        f"{unit}_a_year_for_{100 * p:.0f}{error}"
        for p in HELD
        for unit in ("fish", "kg")
        for error in ("", "_mc_error")
    ),
    "rates_from_records", "rates_from_prior", "rates_given", "gate", "statement", "fit", "seed"
)  # fmt: skip


@by_value
@dataclass(frozen=True)
class YearsAhead:
    """A projection of the years ahead.

    Attributes
    ----------
    frame : pandas.DataFrame
        Columns `COLUMNS`, a row a lake, scenario and year; year 0 is the end of the last season.
        ``fish_a_year_for_80`` and its like are the least yearly removal, in place of the one
        asked about, after which the biomass at the end of that year is below the threshold with
        that probability, in whole fish and kg, and ``fish_a_year_for_80_mc_error`` its Monte-Carlo
        standard error. ``fit`` is the fingerprint of the fit. One row, without numbers, where
        a gate failed.
    holding : tuple of str
        The yearly removal that keeps each lake below its threshold, one sentence per lake and
        scenario.
    assumes : tuple of str
        The assumptions, and which rates come from priors.
    units : {"metric", "us"}
        Of the sentences, and of what is drawn and written; the frame is metric.
    """

    frame: pd.DataFrame
    holding: tuple[str, ...]
    assumes: tuple[str, ...]
    units: System = "metric"


def years_ahead(
    fit: FittedCampaign,
    years: int = 5,
    *,
    remove_fish: float | None = None,
    remove_kg: float | None = None,
    remove_share: float | None = None,
    young: Young | None = None,
    survival: Given | None = None,
    recruits: Given | None = None,
    seed: int = 20,
    despite_gate: bool = False,
) -> YearsAhead:
    """Project 1 to 15 years ahead from the last season of each lake.

    Parameters
    ----------
    fit : FittedCampaign
    years : int
        How many, 1 to 15.
    remove_fish, remove_kg, remove_share : float, optional
        What netting takes out of each lake in every year: fish, kg, or a share between 0 and 1.
        One of them at most; by default no fish are removed.
    young : {"eaten", "open", "strong-year"}, optional
        One scenario of `YOUNG`; by default all three.
    survival, recruits : (float, float), optional
        Ends of a 90 % interval, in place of that of the fit or the prior: survival from year to
        year, between 0 and 1; recruitment without egg and fry predators, fish/ha a year.
    seed : int
    despite_gate : bool
        Fill in what a failed gate would withhold; the statement then opens with a warning.

    Returns
    -------
    YearsAhead

    Raises
    ------
    PlanError
        If a number makes no sense, all problems at once.
    """
    removal = _checked(fit, years, remove_fish, remove_kg, remove_share, young, survival, recruits)
    rng = np.random.default_rng(seed)
    found = rates(fit, rng, survival, recruits)
    rows: list[dict[str, Any]] = []
    with shown_in(fit.units):
        for lake, season in _last_seasons(fit).items():
            steps = rng.standard_normal((2, years, *found.recruits.shape[:2]))
            failure = fit.failure(season)
            withheld = bool(failure) and not despite_gate
            for scenario in YOUNG if young is None else (young,):
                base = _place(fit, found, lake, season, scenario, removal, failure)
                if withheld:
                    reason = f"Withheld for {base['lake']}: {failure}."
                    rows.append({**base, "statement": reason})
                    continue
                stock = _stock(fit, found, lake, season, steps)
                rows += _scenario(fit, found, stock, lake, season, scenario, removal, base)
        frame = pd.DataFrame([{**row, "seed": seed} for row in rows], columns=list(COLUMNS))
        said = tuple(holding_sentences(frame)), tuple(assumptions(fit, frame, found))
    return YearsAhead(frame, *said, fit.units)


def _checked(
    fit: FittedCampaign,
    years: int,
    fish: float | None,
    kg: float | None,
    share: float | None,
    young: str | None,
    survival: Given | None,
    recruits: Given | None,
) -> Removal:
    """Return the removal asked for, or raise with all that is wrong."""
    wrong = []
    if not 1 <= years <= MOST_YEARS:
        wrong.append(f"{years} years: write a whole number from 1 to {MOST_YEARS}")
    asked = {"fish": fish, "kg": kg, "share": share}
    given = {kind: value for kind, value in asked.items() if value is not None}
    if len(given) > 1:
        wrong.append("a yearly removal in fish, in kg and as a share: name one of them only")
    for kind, value in given.items():
        most = 1.0 if kind == "share" else np.inf
        if not 0.0 <= value <= most or not np.isfinite(value):
            limits = "between 0 and 1" if kind == "share" else "0 or more"
            wrong.append(f"removal of {value:g} ({kind} a year): write a number, {limits}")
    if kg is not None:
        unweighed = [
            str(fit.campaign.lakes["lake"].values[lake])
            for lake, season in _last_seasons(fit).items()
            if not says(fit, "mean_weight_left", season)
        ]
        if unweighed:
            wrong.append(
                f"a removal in kg: the mean weight in {', '.join(unweighed)} is unknown; "
                "give it in fish"
            )
    if young is not None and young not in YOUNG:
        wrong.append(f"young = {young!r}: write one of {', '.join(YOUNG)}")
    for name, ends, most in (("survival", survival, 1.0), ("recruits", recruits, np.inf)):
        if ends is not None and not 0.0 < ends[0] <= ends[1] < most:
            limits = "above 0 and below 1" if most == 1.0 else "above 0"
            wrong.append(
                f"{name} from {ends[0]:g} to {ends[1]:g}: write the lower end first, both {limits}"
            )
    if wrong:
        raise PlanError("; ".join(wrong))
    kind, value = next(iter(given.items()), ("none", 0.0))
    return Removal(kind, value)  # type: ignore[arg-type]


def _last_seasons(fit: FittedCampaign) -> dict[int, int]:
    """Return the last season of each lake, in the order of the lakes."""
    lakes = fit.campaign.seasons["lake_index"].values.tolist()
    return dict(sorted({lake: season for season, lake in enumerate(lakes)}.items()))


def _stock(fit: FittedCampaign, found: Rates, lake: int, season: int, steps: FloatArray) -> Stock:
    place = fit.campaign.lakes.isel(lake=lake)
    fish = fit.quantities["abundance_after"].isel(season=season).values
    fish = fish_after_movements(fish, fit.campaign, season)
    told = says(fit, "mean_weight_left", season)
    weight = (
        fit.quantities["mean_weight_left"].isel(season=season).values if told else fish * np.nan
    )
    # The lake's own weight is that before its first netting on record.
    first = int(np.flatnonzero(fit.campaign.seasons["lake_index"].values == lake)[0])
    before = first if says(fit, "mean_weight", first) else season
    own = fit.quantities["mean_weight"].isel(season=before).values if told else weight
    connected = float(place["connected"])
    return Stock(
        fish=np.maximum(fish, 0.0),
        weight=weight,
        own_weight=own,
        growth=found.draws["growth"],
        young_weight=found.draws["young_weight"],
        area=float(fit.campaign.seasons["area_after"][season]),
        survival=found.survival[..., lake],
        winter_spread=found.draws["winter_spread"],
        recruit_variation=found.draws["recruit_variation"],
        process_error=found.draws["process_error"],
        exchange=connected * found.draws["exchange"],
        outside_fish=connected * found.draws["outside_ratio"] * found.level[..., lake],
        steps=steps,
    )


def _place(
    fit: FittedCampaign,
    found: Rates,
    lake: int,
    season: int,
    scenario: str,
    removal: Removal,
    failure: str,
) -> dict[str, Any]:
    place = fit.campaign.lakes.isel(lake=lake)
    named = {
        f"rates_{where}{origin}": ", ".join(
            found.named(origin, eaten=scenario == "eaten", connected=bool(place["connected"]))
        )
        for where, origin in (("from_", "records"), ("from_", "prior"), ("", "given"))
    }
    return {
        "lake": str(fit.campaign.seasons["lake"].values[season]),
        "last_season": str(fit.campaign.seasons["label"].values[season]),
        "young": scenario,
        "removal_kind": removal.kind,
        "removal_a_year": removal.amount,
        "threshold_kg_per_ha": float(place["threshold"]),
        "gate": failure or "passed",
        "fit": fit.fingerprint,
        **named,
    }


def _when(fit: FittedCampaign, season: int, ahead: int) -> dict[str, int]:
    return {"years_ahead": ahead, "year": int(fit.campaign.seasons["year"].values[season]) + ahead}


def _scenario(
    fit: FittedCampaign,
    found: Rates,
    stock: Stock,
    lake: int,
    season: int,
    scenario: str,
    removal: Removal,
    base: dict[str, Any],
) -> list[dict[str, Any]]:
    usual = float(fit.campaign.lakes["area"][lake])
    young = np.repeat(found.recruits[None, ..., lake] * usual, stock.steps.shape[1], axis=0)
    if scenario == "eaten":
        young = young * found.draws[EFFECT]
    elif scenario == "strong-year":
        young[0] *= STRONG
    ends = project(stock, young, removal)
    all_fish = np.concatenate([stock.fish[None], ends.fish])
    all_kg = np.concatenate([(stock.fish * stock.weight)[None], ends.kg])
    weighed = says(fit, "biomass_after", season)
    held = _held(stock, young, base["threshold_kg_per_ha"]) if weighed else {}
    warning = f"WARNING, the gate failed ({base['gate']}): " if base["gate"] != "passed" else ""
    rows = []
    for ahead, (fish, kg) in enumerate(zip(all_fish, all_kg, strict=True)):
        row = {**base, **_when(fit, season, ahead), **named_points("fish_{}", fish)}
        if weighed:
            biomass = kg / stock.area
            probability, error = probability_below(biomass, base["threshold_kg_per_ha"])
            row |= {
                **named_points("biomass_{}_kg_per_ha", biomass),
                "probability_below": probability,
                "mc_error": error,
                "words": likelihood_words(probability),
            }
            if ahead:
                row |= {name: float(least[ahead - 1]) for name, least in held.items()}
        row["statement"] = f"{warning}{statement(fit, row)}"
        rows.append(row)
    return rows


def _held(stock: Stock, young: FloatArray, threshold: float) -> dict[str, FloatArray]:
    """Return the least yearly removals by column, each year by year, with their errors."""
    found: dict[str, FloatArray] = {}
    first = max(1.0, float(np.quantile(project(stock, young, Removal()).fish[0], 0.9)))
    kinds: tuple[tuple[RemovalKind, float], ...] = (
        ("fish", 1.0),
        ("kg", float(np.median(stock.weight))),
    )
    for kind, scale in kinds:
        least, error = held_removals(stock, young, kind, threshold, HELD, first * scale)
        for wanted, fewest, its_error in zip(HELD, least, error, strict=True):
            name = f"{kind}_a_year_for_{100 * wanted:.0f}"
            found |= {name: np.ceil(fewest), f"{name}_mc_error": its_error}
    return found
