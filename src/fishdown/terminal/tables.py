"""Tables of verdicts, estimates, priors and hand formulas for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from rich import box
from rich.table import Table

from fishdown.intervals import INTERVAL, low_median_high
from fishdown.labels import season_label
from fishdown.posterior.quantities import COMMON, QUANTITIES
from fishdown.records.tables import rows_of
from fishdown.statements.probability import says
from fishdown.words import amount, percent, percent_with_error, with_error

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fit import Fit


def start_table(
    title: str,
    *columns: str,
    right: Iterable[str] = (),
    whole: Iterable[str] = (),
    tight: bool = False,
) -> Table:
    """Start a table; columns in `right` are numbers, and like those in `whole` never wrapped.

    A tight one has no room to the left of its columns, for tables of many numbers.
    """
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        caption_justify="left",
        caption_style="",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0) if tight else (0, 1),
        # A title is wrapped to the width of its table, which may be a narrow one.
        min_width=min(len(title), 78),
    )
    for column in columns:
        # A cut number would be a wrong number: names of lakes give way instead.
        table.add_column(
            column,
            justify="right" if column in right else "left",
            no_wrap=column in right or column in whole,
            overflow="fold",
        )
    return table


def verdict_table(verdicts: pd.DataFrame) -> Table:
    """Lay out `Fit.verdicts` for a manager."""
    table = start_table(
        "Biomass density: median, and the interval that holds 90 %",
        "Lake and season",
        "Netting",
        "kg/ha",
        "90 % interval",
        "Below the threshold?",
        right=("kg/ha", "90 % interval"),
        whole=("Netting", "Below the threshold?"),
    )
    last: tuple[str, str] | None = None
    # Of a year without netting one row says all.
    numbers = ["lake", "season", "biomass_median_kg_per_ha", "probability_below"]
    idle = verdicts.duplicated(numbers, keep=False) & verdicts["probability_below"].notna()
    once = verdicts.assign(when=verdicts["when"].mask(idle, "none"))
    for row in rows_of(once[~(idle & verdicts.duplicated(numbers))]):
        place = (row.lake, row.season)
        shown = "" if place == last else season_label(*place)
        last = place
        if pd.isna(row.probability_below):
            table.add_row(shown, row.when, "", "", "withheld" if row.gate != "passed" else "–")
            continue
        table.add_row(
            shown,
            row.when,
            amount(row.biomass_median_kg_per_ha),
            f"{amount(row.biomass_low_kg_per_ha)}–{amount(row.biomass_high_kg_per_ha)}",
            f"{row.words}\n{percent_with_error(row.probability_below, row.mc_error)}",
        )
    thresholds = verdicts["threshold_kg_per_ha"].unique()
    limits = " or ".join(amount(float(limit)) for limit in thresholds)
    table.caption = f"Threshold {limits} kg/ha. ± is the Monte-Carlo standard error."
    return table


# The columns of the fish table: quantity → its heading, and what the number is multiplied by.
_FISH_COLUMNS = {
    "abundance_before": ("Fish\nbefore", 1.0),
    "removed_share": ("Removed,\n%", 100.0),
    "catchability_at_reference": ("One pull\ntakes, %", 100.0),
    "temperature_effect": ("10 °C\ncolder, ×", 1.0),
    "mean_weight": ("Weight,\nkg", 1.0),
}


def fish_table(fit: Fit, *, despite_gate: bool = False) -> Table:
    """Lay out abundance, removed share and catchability, each with its 90 % interval."""
    columns = {name: _FISH_COLUMNS[name] for name in _FISH_COLUMNS if name in fit.quantities}
    headings = [heading for heading, _ in columns.values()]
    table = start_table(
        "Median, and the interval that holds 90 %", "Lake and season", *headings, whole=headings
    )
    if "temperature_effect" in columns:
        table.caption = (
            "One pull takes: share of the lake's fish, at "
            f"{fit.spec.reference_temperature:g} °C. 10 °C colder: what is left of that share."
        )
    seasons = fit.campaign.seasons
    for season, label in enumerate(seasons["season"].values):
        if fit.failure(season) and not despite_gate:
            table.add_row(str(label), *("withheld" for _ in columns))
            continue
        cells = []
        for name, (_, scale) in columns.items():
            if not says(fit, name, season):
                cells.append("–")
                continue
            draws = scale * fit.quantities[name].isel(season=season).values
            low, median, high = (amount(x) for x in low_median_high(draws))
            cells.append(f"{median}\n{low}–{high}")
        table.add_row(str(label), *cells)
    return table


def common_table(fit: Fit, estimates: pd.DataFrame) -> Table:
    """Lay out what all lakes have in common, beside what was supposed of it before."""
    table = start_table(
        "The same for all pulls: median and 90 % interval, and what the prior supposed",
        "Quantity",
        "Median",
        "90 % interval",
        "Prior",
        "Prior's\npart, %",
        right=("Median", "90 % interval", "Prior", "Prior's\npart, %"),
    )
    parts = fit.prior_parts().set_index("quantity")
    for row in rows_of(estimates[estimates["quantity"].isin(COMMON)]):
        low, high = fit.spec.priors[row.quantity].interval(INTERVAL)
        quantity = QUANTITIES[row.quantity]
        table.add_row(
            f"{quantity.meaning} ({quantity.unit})",
            amount(row.median),
            f"{amount(row.low)}–{amount(row.high)}",
            f"{amount(low)}–{amount(high)}",
            percent_with_error(parts["prior_part"][row.quantity], parts["mc_error"][row.quantity]),
        )
    table.caption = (
        "Prior's part: how much of the answer is the prior (posterior over prior variance)."
    )
    return table


def evidence_table(evidence: pd.DataFrame) -> Table:
    """Lay out abundance by marks alone, by catches alone and by both."""
    table = start_table(
        "Fish before netting, by evidence: median, and the interval that holds 90 %",
        "Lake and season",
        "Marks alone",
        "Catches alone",
        "Both",
        "Agreement",
        right=("Agreement",),
        whole=("Marks alone", "Catches alone", "Both"),
    )
    for (lake, season), group in evidence.groupby(["lake", "season"], sort=False):
        cells = [
            ("–" if row.gate == "passed" else "withheld")
            if pd.isna(row.median)
            else f"{amount(row.median)}\n{amount(row.low)}–{amount(row.high)}"
            for row in rows_of(group)
        ]
        agreement = float(group["agreement"].iloc[0])
        shown = "–" if pd.isna(agreement) else percent(agreement)
        table.add_row(season_label(lake, season), *cells, shown)
    table.caption = "Agreement: how often chance alone would part marks and catches this far."
    return table


def removal_table(removals: pd.DataFrame) -> Table:
    """Lay out the fish and kg still to remove."""
    table = start_table(
        "Still to remove to be below the threshold with a probability of …",
        "Lake and season",
        "80 %",
        "90 %",
        "95 %",
    )
    for (lake, season), group in removals.groupby(["lake", "season"], sort=False):
        cells = [
            "withheld"
            if pd.isna(row.fish)
            else "none"
            if row.fish == row.fish_mc_error == 0
            else f"{with_error(row.fish, row.fish_mc_error, whole=True)} fish\n"
            f"{with_error(row.kg, row.kg_mc_error)} kg"
            for row in rows_of(group.sort_values("wanted_probability"))
        ]
        table.add_row(season_label(lake, season), *cells)
    table.caption = "± is the Monte-Carlo standard error."
    return table


def prior_table(spec: ModelSpec) -> Table:
    """Lay out the priors of a model in words and numbers."""
    from fishdown.models.spec import meaning

    table = start_table(
        f"Priors of {spec.name}: median, and the interval that holds 90 %",
        "Parameter",
        "Meaning",
        "Median",
        "90 % interval",
        right=("Median", "90 % interval"),
    )
    for name, prior in spec.priors.items():
        low, high = prior.interval(INTERVAL)
        median = float(prior.quantile(np.array([0.5]))[0])
        table.add_row(name, meaning(name), amount(median), f"{amount(low)}–{amount(high)}")
    return table


def implied_table(spec: ModelSpec, campaign: Campaign, draws: int, seed: int) -> Table:
    """Lay out what the priors say of each lake before any catch is looked at."""
    from fishdown.models.implied import implied

    table = start_table(
        "What they imply before any catch is looked at",
        "Lake",
        "Quantity",
        "Median",
        "90 % interval",
        right=("Median", "90 % interval"),
    )
    for row in rows_of(implied(spec, campaign, draws=draws, seed=seed)):
        unit = f" {row.unit}"
        table.add_row(
            row.lake,
            row.quantity,
            amount(row.median) + unit,
            f"{amount(row.low)}–{amount(row.high)}",
        )
    return table


# The quantities of the truth table: name in the file → words that fit 80 columns, and what the
# number is multiplied by.
_TRUTHS = {
    "abundance_before": ("fish before", 1.0),
    "catchability_at_reference": ("one pull, %", 100.0),
    "temperature_effect": ("10 °C colder, ×", 1.0),
    "biomass_after": ("kg/ha after", 1.0),
}


def truth_table(estimates: pd.DataFrame, truth: pd.DataFrame) -> Table:
    """Lay out an invented truth beside what the fit says of it."""
    joined = truth.merge(estimates, on=["lake", "season", "quantity"], how="inner")
    told = joined["median"].notna()
    inside = (joined["low"] <= joined["value"]) & (joined["value"] <= joined["high"])
    table = start_table(
        "The invented truth beside the fit",
        "Lake",
        "Quantity",
        "Truth",
        "Median",
        "90 % interval",
        "Inside?",
        right=("Truth", "Median", "90 % interval"),
    )
    for row, lies_inside in zip(rows_of(joined), inside, strict=True):
        if row.quantity in _TRUTHS:
            words, scale = _TRUTHS[row.quantity]
            if pd.isna(row.median):
                table.add_row(row.lake, words, amount(scale * row.value), "withheld", "", "")
                continue
            table.add_row(
                row.lake,
                words,
                amount(scale * row.value),
                amount(scale * row.median),
                f"{amount(scale * row.low)}–{amount(scale * row.high)}",
                "yes" if lies_inside else "no",
            )
    table.caption = (
        f"Of {told.sum()} known quantities, {inside.sum()} lie inside their 90 % interval."
    )
    return table
