"""Tables of verdicts, estimates, priors and hand formulas for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from rich import box
from rich.table import Table

from fishdown.records.tables import rows_of
from fishdown.statements.words import amount, percent_with_error

if TYPE_CHECKING:
    from collections.abc import Iterable

    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fit import Fit


def _table(title: str, *columns: str, right: Iterable[str] = ()) -> Table:
    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        caption_justify="left",
        caption_style="",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
    )
    for column in columns:
        table.add_column(column, justify="right" if column in right else "left")
    return table


def verdict_table(verdicts: pd.DataFrame) -> Table:
    """Lay out `Fit.verdicts` for a manager."""
    table = _table(
        "Biomass density: median, and the interval that holds 90 %",
        "Lake and season",
        "Netting",
        "kg/ha",
        "90 % interval",
        "Below the threshold?",
        right=("kg/ha", "90 % interval"),
    )
    last = ""
    for row in rows_of(verdicts):
        place = f"{row.lake} {row.season}"
        shown = "" if place == last else place
        last = place
        if pd.isna(row.probability_below):
            table.add_row(shown, row.when, "", "", "withheld" if row.gate != "passed" else "–")
            continue
        table.add_row(
            shown,
            row.when,
            amount(row.biomass_median_kg_per_ha),
            f"{amount(row.biomass_low_kg_per_ha)}–{amount(row.biomass_high_kg_per_ha)}",
            f"{row.words}: {percent_with_error(row.probability_below, row.mc_error)}",
        )
    thresholds = verdicts["threshold_kg_per_ha"].unique()
    limits = " or ".join(amount(float(limit)) for limit in thresholds)
    table.caption = f"Threshold {limits} kg/ha. ± is the Monte-Carlo standard error."
    return table


def fish_table(fit: Fit, estimates: pd.DataFrame) -> Table:
    """Lay out abundance, removed share and catchability, each with its 90 % interval."""
    columns = {
        "abundance_before": "Fish before",
        "removed_share": "Removed",
        "catchability_at_reference": "One pull takes",
        "temperature_effect": "10 °C colder",
        "mean_weight": "Mean weight, kg",
    }
    columns = {name: title for name, title in columns.items() if name in fit.quantities}
    table = _table("Median, and the interval that holds 90 %", "Lake and season", *columns.values())
    reference = fit.spec.reference_temperature
    if "temperature_effect" in columns:
        table.caption = (
            f"One pull takes: share of the lake's fish, at {reference:g} °C. "
            "10 °C colder: what is left of that share."
        )
    percents = ("removed_share", "catchability_at_reference")
    for (lake, season), group in estimates.groupby(["lake", "season"], sort=False):
        by_name = group.set_index("quantity")
        if not set(columns) <= set(by_name.index):
            continue
        cells = []
        for name in columns:
            numbers = by_name.loc[name, ["median", "low", "high"]].astype(float)
            cells.append(
                _cell(numbers, as_percent=name in percents, factor=name == "temperature_effect")
            )
        table.add_row(f"{lake} {season}", *cells)
    return table


def _cell(numbers: Any, *, as_percent: bool, factor: bool) -> str:
    scale, unit = (100.0, " %") if as_percent else (1.0, "")
    median, low, high = (amount(scale * number) for number in numbers)
    return f"{'× ' if factor else ''}{median}{unit}\n{low}–{high}{unit}"


def removal_table(removals: pd.DataFrame) -> Table:
    """Lay out the fish and kg still to remove."""
    table = _table(
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
            else "nothing more"
            if row.fish == 0
            else f"{amount(row.fish)} fish\n{amount(row.kg)} kg"
            for row in rows_of(group.sort_values("wanted_probability"))
        ]
        table.add_row(f"{lake} {season}", *cells)
    return table


def prior_table(spec: ModelSpec) -> Table:
    """Lay out the priors of a model in words and numbers."""
    from fishdown.models.spec import meaning

    table = _table(
        f"Priors of {spec.name}: median, and the interval that holds 90 %",
        "Parameter",
        "Meaning",
        "Median",
        "90 % interval",
        right=("Median", "90 % interval"),
    )
    for name, prior in spec.priors.items():
        low, high = prior.interval(0.9)
        median = float(prior.quantile(np.array([0.5]))[0])
        table.add_row(name, meaning(name), amount(median), f"{amount(low)}–{amount(high)}")
    return table


def implied_table(spec: ModelSpec, campaign: Campaign, draws: int, seed: int) -> Table:
    """Lay out what the priors say of each lake before any catch is looked at."""
    from fishdown.models.implied import implied

    table = _table(
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


# The quantities of the truth table: name in the file → words that fit 80 columns.
_TRUTHS = {
    "abundance_before": "fish before",
    "catchability_at_reference": "one pull takes",
    "temperature_effect": "10 °C colder",
    "biomass_after": "kg/ha after",
}


def truth_table(estimates: pd.DataFrame, truth: pd.DataFrame) -> Table:
    """Lay out an invented truth beside what the fit says of it."""
    joined = truth.merge(estimates, on=["lake", "season", "quantity"], how="inner")
    inside = (joined["low"] <= joined["value"]) & (joined["value"] <= joined["high"])
    table = _table(
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
            table.add_row(
                row.lake,
                _TRUTHS[row.quantity],
                amount(row.value),
                amount(row.median),
                f"{amount(row.low)}–{amount(row.high)}",
                "yes" if lies_inside else "no",
            )
    table.caption = (
        f"Of all {len(joined)} known quantities, {inside.sum()} lie inside their 90 % interval."
    )
    return table
