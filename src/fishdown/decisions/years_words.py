"""Years ahead in words: scenarios, results and assumptions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.decisions.rates import OF_WEIGHT, STAND_IN
from fishdown.decisions.recruitment import COMPENSATION, OPTIONAL, SHAPE
from fishdown.records.tables import rows_of
from fishdown.statements.on_the_day import at_area
from fishdown.units import label, shown
from fishdown.words import amount, percent, with_error

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from fishdown.decisions.rates import Rates
    from fishdown.posterior.fitted import FittedCampaign

# A strong year class: this many times the recruits of an average year, in the first year ahead. Our
# choice, no source.
STRONG = 5.0
YOUNG: dict[str, str] = {
    "eaten": "recruitment is suppressed by egg and fry predators",
    "open": "recruitment is not suppressed",
    "strong-year": (
        f"recruitment is not suppressed, and next year has {STRONG:g} times the average recruits"
    ),
    "strong-years": "recruitment is not suppressed and strong year classes come at random",
}
# Those that are shown where none is asked for.
USUAL = ("eaten", "open", "strong-year")
HELD = (0.80, 0.90)


def supposed(row: Mapping[Any, Any]) -> str:
    """Return what a row of a table supposes of young fish, and of survival, in words."""
    named = str(row["rates_from_prior"]).split(", ")
    words = ["recruitment depends on the fish left"] if SHAPE in named else []
    words += ["natural mortality falls after netting"] if COMPENSATION in named else []
    return YOUNG[str(row["young"])] + (f" ({'; '.join(words)})" if words else "")


def statement(fit: FittedCampaign, row: dict[str, Any]) -> str:
    """State a row of the table in a sentence."""
    species = fit.campaign.settings.species
    when = f"at the end of {row['year']}"
    if row["years_ahead"] == 0:
        opening = f"{row['lake']} {when}"
        holds = "held"
    else:
        opening = f"If {supposed(row)} and {taken(row)}, {row['lake']} {when}"
        holds = "holds"
    if "probability_below" not in row:
        return (
            f"{opening} {holds} {amount(row['fish_median'])} fish (90 % interval "
            f"{amount(row['fish_low'])} to {amount(row['fish_high'])}); their "
            "mean weight is unknown, so biomass density ("
            f"{label('kg/ha')}) cannot be estimated."
        )
    unit = "kg/ha"
    low, median, high, threshold = (
        amount(shown(float(row[f"{name}_kg_per_ha"]), unit))
        for name in ("biomass_low", "biomass_median", "biomass_high", "threshold")
    )
    unit = label(unit)
    return (
        f"{opening} {holds} {median} {unit} of {species}{_at_area(fit, row)} (90 % "
        f"interval {low} to {high}); it is {row['words']} "
        f"({percent(row['probability_below'])}) that this is below the threshold of "
        f"{threshold} {unit}."
    )


def _at_area(fit: FittedCampaign, row: dict[str, Any]) -> str:
    """Say at which area of the lake this is, if it is not the usual one."""
    seasons = fit.campaign.seasons
    here = (seasons["lake"].values == row["lake"]) & (seasons["label"].values == row["last_season"])
    return at_area(fit.campaign, int(np.flatnonzero(here)[0]), "after")


def taken(row: dict[str, Any] | Any) -> str:
    """Return the yearly removal of a row in words."""
    kind, value = row["removal_kind"], row["removal_a_year"]
    match kind:
        case "none":
            return "no fish are removed"
        case "share":
            return f"{100 * value:.3g} % of the fish are removed every year"
        case _:
            return f"{amount(shown(value, kind))} {label(kind)} are removed every year"


def holding_sentences(frame: pd.DataFrame) -> list[str]:
    """State the yearly removal that keeps each lake below its threshold, by scenario.

    Parameters
    ----------
    frame : pandas.DataFrame
        Of `YearsAhead`.
    """
    sentences = []
    ahead = frame[(frame["years_ahead"] > 0) & frame["probability_below"].notna()]
    for (lake, _), group in ahead.groupby(["lake", "young"], sort=False):
        parts = []
        for wanted in HELD:
            fish, kg = (_hardest(group, unit, wanted) for unit in ("fish", "kg"))
            least = (
                f"{fish} fish or {kg} {label('kg')} a year are needed"
                if fish
                else "no removal is needed"
            )
            parts.append(f"with a probability of {100 * wanted:.0f} % {least}")
        threshold = amount(shown(float(group["threshold_kg_per_ha"].iloc[0]), "kg/ha"))
        sentences.append(
            f"If {supposed(group.iloc[0].to_dict())}: to keep {lake} below {threshold} "
            f"{label('kg/ha')} at the end of each year to {group['year'].max()}, "
            f"{', '.join(parts)} (± Monte-Carlo standard error)."
        )
    return sentences


def _hardest(rows: pd.DataFrame, unit: str, wanted: float) -> str:
    """Return the largest of the least yearly removals of some rows with its Monte-Carlo error.

    Empty where no removal is needed in any draw.
    """
    name = f"{unit}_a_year_for_{100 * wanted:.0f}"
    row = rows.iloc[int(rows[name].to_numpy().argmax())]
    error = row[f"{name}_mc_error"]
    if row[name] == 0 and error == 0:
        return ""
    return with_error(shown(row[name], unit), shown(error, unit), whole=unit == "fish")


def assumptions(fit: FittedCampaign, frame: pd.DataFrame, found: Rates) -> list[str]:
    """State the assumptions of a projection, and which rates come from priors."""
    names = {
        origin: list(
            dict.fromkeys(
                name
                for row in rows_of(frame)
                for name in str(getattr(row, f"rates_{column}")).split(", ")
                if name
            )
        )
        for origin, column in (("prior", "from_prior"), ("given", "given"))
    }
    told = set(frame.loc[frame["gate"] == "passed", "lake"])
    names_of_lakes = fit.campaign.lakes["lake"].values.tolist()
    lakes = [place for place, lake in enumerate(names_of_lakes) if lake in told]
    said = []
    of_no_model = {*OF_WEIGHT, *OPTIONAL}
    assumed = [name for name in names["prior"] if name in of_no_model]
    names["prior"] = [name for name in names["prior"] if name not in of_no_model]
    if names["prior"]:
        source = fit.spec.name if fit.spec.part("years") == "linked" else STAND_IN
        said.append(
            f"Not estimated from these records, but priors of the model {source}: "
            f"{'; '.join(found.said(name, lakes) for name in names['prior'])}. The further "
            "ahead, the more the projection depends on them. Fit several years with --model "
            "many_years to estimate them, or give your own with --survival and --recruits."
        )
    if "recruits" in names["prior"]:
        said.append(
            "Without records of young fish this forecast is the prior's: where recruitment is not "
            "suppressed, the recruits of an average year replace the natural deaths of the lake "
            "as it was before its first netting on record, on median, so that a lake that is not "
            "netted keeps its level; many more or many fewer are possible."
        )
    if names["given"]:
        said.append(
            f"Given by you: {'; '.join(found.said(name, lakes) for name in names['given'])}."
        )
    if assumed:
        said.append(
            "Estimated by no model, but assumed: "
            f"{'; '.join(found.said(name, lakes) for name in assumed)}."
        )
    by_stock = SHAPE in assumed
    said.append(
        "Survivors grow towards a final weight with which a lake that is not netted keeps its mean "
        "weight; recruits weigh what young fish weigh; nets take light and heavy fish alike. "
        f"Recruitment {'depends' if by_stock else 'does not depend'} on the number of "
        "fish left. If fewer fish are left than the yearly removal, all are removed; whether nets "
        "can catch that many is not considered."
    )
    return said
