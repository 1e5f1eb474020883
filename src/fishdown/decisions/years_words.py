"""The words for years ahead: what is supposed, what follows, what no record tells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.decisions.rates import STAND_IN
from fishdown.records.tables import rows_of
from fishdown.words import amount, percent, with_error

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.decisions.rates import Rates
    from fishdown.posterior.fitted import FittedCampaign

# What a strong year class is: this many times the recruits of a common year, in the first year
# ahead. Our choice, no source.
STRONG = 5.0
YOUNG: dict[str, str] = {
    "eaten": "fish that eat the young are plenty",
    "open": "nothing eats the young",
    "strong-year": f"nothing eats the young, and next year brings {STRONG:g} times the recruits",
}
HELD = (0.80, 0.90)


def statement(fit: FittedCampaign, row: dict[str, Any]) -> str:
    """Say a row of the table in a sentence."""
    species = fit.campaign.settings.species
    when = f"at the end of {row['year']}"
    if row["years_ahead"] == 0:
        opening = f"{row['lake']} {when}"
        holds = "held"
    else:
        opening = f"If {YOUNG[row['young']]} and {taken(row)}, {row['lake']} {when}"
        holds = "holds"
    if "probability_below" not in row:
        return (
            f"{opening} {holds} {amount(row['fish_median'])} fish (90 % interval "
            f"{amount(row['fish_low'])} to {amount(row['fish_high'])}); nothing tells their "
            "weight, so biomass density (kg/ha) cannot be estimated."
        )
    return (
        f"{opening} {holds} {amount(row['biomass_median_kg_per_ha'])} kg/ha of {species} (90 % "
        f"interval {amount(row['biomass_low_kg_per_ha'])} to "
        f"{amount(row['biomass_high_kg_per_ha'])}); it is {row['words']} "
        f"({percent(row['probability_below'])}) that this is below the threshold of "
        f"{amount(row['threshold_kg_per_ha'])} kg/ha."
    )


def taken(row: dict[str, Any] | Any) -> str:
    """Say the yearly removal of a row in words."""
    kind, value = row["removal_kind"], row["removal_a_year"]
    match kind:
        case "none":
            return "nothing is taken"
        case "share":
            return f"{100 * value:.3g} % of the fish are taken every year"
        case _:
            return f"{amount(value)} {kind} are taken every year"


def holding_sentences(frame: pd.DataFrame) -> list[str]:
    """Say, lake by lake and scenario by scenario, what keeps the lake below its threshold.

    Parameters
    ----------
    frame : pandas.DataFrame
        Of `YearsAhead`.
    """
    sentences = []
    ahead = frame[(frame["years_ahead"] > 0) & frame["probability_below"].notna()]
    for (lake, young), group in ahead.groupby(["lake", "young"], sort=False):
        parts = []
        for wanted in HELD:
            fish, kg = (_hardest(group, unit, wanted) for unit in ("fish", "kg"))
            least = f"it takes {fish} fish or {kg} kg a year" if fish else "nothing need be taken"
            parts.append(f"with a probability of {100 * wanted:.0f} % {least}")
        threshold = amount(float(group["threshold_kg_per_ha"].iloc[0]))
        sentences.append(
            f"If {YOUNG[str(young)]}: to have {lake} below {threshold} kg/ha at the end of each "
            f"year to {group['year'].max()} {', '.join(parts)} (± Monte-Carlo standard error)."
        )
    return sentences


def _hardest(rows: pd.DataFrame, unit: str, wanted: float) -> str:
    """Say the largest of the least yearly removals of some rows with its Monte-Carlo error.

    Empty where nothing need be taken and no draw has a doubt.
    """
    name = f"{unit}_a_year_for_{100 * wanted:.0f}"
    row = rows.iloc[int(rows[name].to_numpy().argmax())]
    error = row[f"{name}_mc_error"]
    if row[name] == 0 and error == 0:
        return ""
    return with_error(row[name], error, whole=unit == "fish")


def assumptions(fit: FittedCampaign, frame: pd.DataFrame, found: Rates) -> list[str]:
    """Say what a look ahead rests on, and which part of it no record tells."""
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
    said = []
    if names["prior"]:
        source = fit.spec.name if fit.spec.part("years") == "linked" else STAND_IN
        said.append(
            f"No record tells these; they are the priors of the model {source}: "
            f"{'; '.join(found.said(name) for name in names['prior'])}. The further ahead, the "
            "more of the answer is theirs. Several years fitted with --model many_years tell them, "
            "or give your own with --survival and --recruits."
        )
    if names["given"]:
        said.append(f"Given by you: {'; '.join(found.said(name) for name in names['given'])}.")
    said.append(
        "Mean weight stays that of the last season; recruits do not depend on how many fish are "
        "left; where there are fewer fish than netting is to take, it takes them all, and whether "
        "nets can take that many is not asked."
    )
    return said
