"""Years ahead: projection of each lake with or without netting, and the removal needed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd

from fishdown.decisions.dependence import COLUMNS as ASSUMPTION_COLUMNS
from fishdown.decisions.dependence import assumption_rows, dependence_sentences
from fishdown.decisions.lake_years import (
    average_recruits,
    replacement_of,
    stock_of,
    young_of,
)
from fishdown.decisions.projection import Removal, Stock, held_removals, project
from fishdown.decisions.rates import Rates, rates
from fishdown.decisions.recruitment import COMPENSATION, SHAPE, STRONG_YEARS
from fishdown.decisions.rules_ahead import MOST_REMOVED, Asked, RulesAhead, problems
from fishdown.decisions.years_asked import last_seasons, removal_of
from fishdown.decisions.years_words import (
    HELD,
    USUAL,
    assumptions,
    holding_sentences,
    statement,
)
from fishdown.equality import by_value
from fishdown.intervals import named_points
from fishdown.statements.probability import probability_below, says
from fishdown.units import shown_in
from fishdown.words import likelihood_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.decisions.projection import RemovalKind
    from fishdown.decisions.rates import Given
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray
    from fishdown.units import System

    type Young = Literal["eaten", "open", "strong-year", "strong-years"]
    type Recruitment = Literal["steady", "stock"]

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
        Of the sentences, and of what is drawn and written; the frames are metric.
    rules : pandas.DataFrame or None
        Where checks were asked for, columns `fishdown.decisions.rules_tables.COLUMNS`: the rule
        with checks and the constant removal, a row a lake, scenario and rule.
    rules_by_year : pandas.DataFrame or None
        The same year by year, columns `fishdown.decisions.rules_tables.YEAR_COLUMNS`.
    assumed : pandas.DataFrame or None
        The end of the last year under each assumption on what netting changes and, where a prior
        alone tells the recruits, at points of it; columns `fishdown.decisions.dependence.COLUMNS`.
        None where no lake has weights.
    depends : tuple of str
        The same in sentences.
    """

    frame: pd.DataFrame
    holding: tuple[str, ...]
    assumes: tuple[str, ...]
    units: System = "metric"
    rules: pd.DataFrame | None = None
    rules_by_year: pd.DataFrame | None = None
    assumed: pd.DataFrame | None = None
    depends: tuple[str, ...] = ()


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
    recruitment: Recruitment = "steady",
    compensation: bool = False,
    check_every: int | None = None,
    check_error: float | None = None,
    most_removed: float | None = None,
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
    young : {"eaten", "open", "strong-year", "strong-years"}, optional
        One scenario of `YOUNG`; by default the first three.
    survival, recruits : (float, float), optional
        Ends of a 90 % interval, in place of that of the fit or the prior: survival from year to
        year, between 0 and 1; recruitment without egg and fry predators, fish/ha a year.
    recruitment : {"steady", "stock"}
        Whether the recruits of a year depend on the fish left the year before.
    compensation : bool
        Whether natural mortality falls after netting.
    check_every : int, optional
        Compare a rule with a check every so many years, which nets as far as its estimate of
        biomass asks, with the constant removal that does as much.
    check_error : float, optional
        Coefficient of variation of the estimate of a check; by default that of the fit's own
        estimate of biomass before netting in the last season of each lake.
    most_removed : float, optional
        Largest share of the fish that nets can remove in a year, under both; by default 0.5.
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
    wrong = problems(check_every, check_error, most_removed, years)
    if recruitment not in ("steady", "stock"):
        wrong.append(f"recruitment = {recruitment!r}: write steady or stock")
    used = [SHAPE] if recruitment == "stock" else []
    used += [COMPENSATION] if compensation else []
    removal = removal_of(
        fit, years, remove_fish, remove_kg, remove_share, young, survival, recruits, *wrong
    )
    rules = None
    if check_every is not None:
        most = MOST_REMOVED if most_removed is None else most_removed
        rules = RulesAhead(Asked(check_every, check_error, most), seed)
    rng = np.random.default_rng(seed)
    found = rates(fit, rng, survival, recruits)
    rows: list[dict[str, Any]] = []
    assumed: list[dict[str, Any]] = []
    with shown_in(fit.units):
        for lake, season in last_seasons(fit).items():
            steps = rng.standard_normal((2, years, *found.recruits.shape[:2]))
            failure = fit.failure(season)
            withheld = bool(failure) and not despite_gate
            for scenario in USUAL if young is None else (young,):
                base = _place(fit, found, lake, season, scenario, removal, failure, used)
                if withheld:
                    reason = f"Withheld for {base['lake']}: {failure}."
                    rows.append({**base, "statement": reason})
                    if rules:
                        rules.withhold(base, reason)
                    continue
                stock = stock_of(fit, found, lake, season, steps, used)
                average = average_recruits(fit, found, lake, scenario)
                luck = np.random.default_rng((seed, lake, 2))
                young_fish = young_of(average, found, scenario, years, luck)
                rows += _scenario(fit, stock, young_fish, season, removal, base)
                if says(fit, "biomass_after", season):
                    last = {**base, **_when(fit, season, years), "seed": seed}
                    assumed += assumption_rows(
                        stock,
                        young_fish,
                        average,
                        replacement_of(fit, found, lake),
                        removal,
                        last,
                        usual_area=float(fit.campaign.lakes["area"][lake]),
                        shape=found.draws[SHAPE],
                        compensation=found.draws[COMPENSATION],
                    )
                if rules:
                    rules.add(fit, stock, young_fish, lake, season, base)
        frame = pd.DataFrame([{**row, "seed": seed} for row in rows], columns=list(COLUMNS))
        said = tuple(holding_sentences(frame)), tuple(assumptions(fit, frame, found))
        table = pd.DataFrame(assumed, columns=list(ASSUMPTION_COLUMNS)) if assumed else None
        depends = () if table is None else dependence_sentences(table)
    totals, by_year = rules.frames() if rules else (None, None)
    return YearsAhead(
        frame,
        *said,
        fit.units,
        rules=totals,
        rules_by_year=by_year,
        assumed=table,
        depends=depends,
    )


def _place(
    fit: FittedCampaign,
    found: Rates,
    lake: int,
    season: int,
    scenario: str,
    removal: Removal,
    failure: str,
    used: Sequence[str],
) -> dict[str, Any]:
    place = fit.campaign.lakes.isel(lake=lake)
    named = {
        f"rates_{where}{origin}": ", ".join(
            found.named(
                origin,
                eaten=scenario == "eaten",
                connected=bool(place["connected"]),
                others=(*used, *(STRONG_YEARS if scenario == "strong-years" else ())),
            )
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
    stock: Stock,
    young: FloatArray,
    season: int,
    removal: Removal,
    base: dict[str, Any],
) -> list[dict[str, Any]]:
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
