"""Years ahead: the last one for the page, year by year for the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.decisions.rules_tables import RULES
from fishdown.decisions.years_words import HELD, STRONG, supposed, taken
from fishdown.display.fitted import BIOMASS, ERROR
from fishdown.display.table import Cell, Column, Source, Table, words
from fishdown.units import label, shown
from fishdown.words import amount, value_and_error, with_error

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from fishdown.decisions.years import YearsAhead

FISH = ("fish_median", "fish_low", "fish_high")
# Scenario → its name in a narrow column.
YOUNG_FISH = {
    "eaten": "eaten",
    "open": "not eaten",
    "strong-year": "not eaten, strong year",
    "strong-years": "not eaten, strong years at random",
}


def last_years_table(years: Source) -> Table:
    """Lay out the end of the years ahead, lake by lake and scenario by scenario."""
    frame = years.frame
    ends = frame.groupby(["lake", "young"], sort=False)["years_ahead"].transform("max")
    rows = []
    last = (frame["years_ahead"] == ends) | frame["years_ahead"].isna()
    for row in np.flatnonzero(last).tolist():
        absent = years.missing(row)
        rows.append(
            (
                years.words(row, "lake"),
                words(YOUNG_FISH[str(frame["young"].iloc[row])]),
                years.cell(row, "year", show=lambda year: f"{year:.0f}", absent=absent),
                years.cell(row, FISH, absent=absent),
                years.cell(row, BIOMASS, absent=absent),
                years.chance(row, absent=absent),
            )
        )
    numbers = ("End of", "Fish", "kg/ha", "Probability below threshold")
    return Table(
        f"Last year of the projection, if {taken(frame.iloc[0].to_dict())}: median and 90 % "
        "credible interval",
        (Column("Lake"), Column("Young fish"), *(Column(name, "number") for name in numbers)),
        tuple(rows),
        f"{ERROR} Young fish are eaten by egg and fry predators or not; a strong year class has "
        f"{STRONG:g} times as many next year.",
    )


def rules_table(rules: Source) -> Table:
    """Lay out the rule with checks and the constant removal, lake by lake and by scenario."""
    rows = tuple(
        (
            rules.words(row, "lake"),
            words(YOUNG_FISH[str(rules.frame["young"].iloc[row])]),
            *_rule(rules, row),
        )
        for row in range(len(rules.frame))
    )
    title = "A check every so many years against a constant removal, over all years"
    columns = (Column("Lake"), Column("Young fish"), *_RULE_COLUMNS)
    return Table(f"{title}: mean and 90 % interval", columns, rows, _RULE_NOTES)


def rules_tables(rules: pd.DataFrame) -> Iterator[Table]:
    """Lay out the same, one table a lake and scenario."""
    for (lake, _), group in rules.groupby(["lake", "young"], sort=False):
        if (group["gate"] == "passed").all() or group["fish_removed_mean"].notna().all():
            source = Source("harvest_rules", group)
            rows = tuple(_rule(source, row) for row in range(len(group)))
            title = f"{lake}, if {supposed(group.iloc[0].to_dict())}: mean and 90 % interval"
            yield Table(f"{title} over all years", _RULE_COLUMNS, rows, _RULE_NOTES, heads=1)


def assumptions_table(assumed: Source) -> Table:
    """Lay out the end of the years ahead under each assumption, lake by lake and by scenario."""
    frame = assumed.frame
    rows = []
    for row in range(len(frame)):
        name, used = (str(frame[column].iloc[row]) for column in ("assumption", "used"))
        error = float(frame["fish_a_year_for_80_mc_error"].iloc[row])
        rows.append(
            (
                assumed.words(row, "lake"),
                words(YOUNG_FISH[str(frame["young"].iloc[row])]),
                words(f"{name} (used)" if used == "yes" else name),
                assumed.cell(row, BIOMASS),
                assumed.chance(row),
                assumed.cell(row, "fish_a_year_for_80", show=_whole_with(error)),
            )
        )
    names = ("kg/ha", "Probability below threshold", "Fish a year for 80 %")
    return Table(
        f"Last year of the projection by assumption, if {taken(frame.iloc[0].to_dict())}",
        (
            *(Column(name) for name in ("Lake", "Young fish", "Assumption")),
            *(Column(name, "number") for name in names),
        ),
        tuple(rows),
        f"{ERROR} Steady: neither recruitment nor survival depends on the fish left. Stock: "
        "recruitment does. Compensation: natural mortality falls after netting. Recruits 10 %: at "
        "the 10 % point of what is assumed of recruitment. Fish a year: yearly removal for a "
        "probability of 80 % of being below the threshold at the end of each year.",
    )


def _whole_with(error: float) -> Callable[[float], str]:
    return lambda fish: with_error(fish, error, whole=True)


_RULE_COLUMNS = (
    Column("Netting"),
    *(
        Column(name, "number")
        for name in ("Fish removed", "kg removed", "Years netted", "Below the\nthreshold")
    ),
)
_RULE_NOTES = f"{ERROR} Below the threshold: probability in the least favourable year."


def _rule(rules: Source, row: int) -> tuple[Cell, ...]:
    absent = rules.missing(row)
    taken_out = tuple(
        words("none")
        if rules.frame[f"{what}_high"].iloc[row] == 0.0
        else rules.cell(
            row, [f"{what}_{point}" for point in ("mean", "low", "high")], absent=absent
        )
        for what in ("fish_removed", "kg_removed", "years_netted")
    )
    name = words(RULES[str(rules.frame["rule"].iloc[row])])
    return name, *taken_out, rules.chance(row, absent=absent)


def years_tables(ahead: YearsAhead) -> Iterator[Table]:
    """Lay out each lake and scenario, year by year."""
    told = ahead.frame[ahead.frame["fish_median"].notna()]
    for (lake, _), group in told.groupby(["lake", "young"], sort=False):
        years = Source("years", group)
        weighed = bool(group["probability_below"].notna().all())
        columns = [
            Column("End of", "number"),
            Column(f"Median, {'kg/ha' if weighed else 'fish'};\n90 % interval", "number"),
        ]
        notes = ""
        if weighed:
            columns += [
                Column("Below the threshold?", "whole"),
                *(Column(f"For {100 * wanted:.0f} %\na year", "whole") for wanted in HELD),
            ]
            threshold = amount(shown(float(group["threshold_kg_per_ha"].iloc[0]), "kg/ha"))
            notes = (
                f"Threshold {threshold} kg/ha; ± is the Monte-Carlo standard error. For 80 %: "
                "yearly removal up to this year for a probability of 80 % of being below it then."
            )
        rows = []
        for row in range(len(group)):
            cells = [
                words(str(group["year"].iloc[row])),
                years.cell(row, BIOMASS if weighed else FISH),
            ]
            if weighed:
                said, chance = years.words(row, "words"), years.chance(row)
                cells.append(Cell((*said.lines, *chance.lines)))
                cells += [_least(group.iloc[row], wanted) for wanted in HELD]
            rows.append(tuple(cells))
        title = (
            f"{lake}, if {supposed(group.iloc[0].to_dict())} and {taken(group.iloc[0].to_dict())}"
        )
        yield Table(title, tuple(columns), tuple(rows), notes)


def _least(row: pd.Series, wanted: float) -> Cell:
    names = [f"{unit}_a_year_for_{100 * wanted:.0f}" for unit in ("fish", "kg")]
    (fish, kg), errors = row[names], row[[f"{name}_mc_error" for name in names]].to_numpy()
    if pd.isna(fish):
        return words("")
    if fish == 0:
        _, doubt = value_and_error(0.0, errors[0], whole=True)
        return words("none", f"± {doubt} fish") if errors[0] else words("none")
    taken_fish, _ = value_and_error(fish, errors[0], whole=True)
    mass, _ = value_and_error(*shown(np.array([kg, errors[1]], dtype=float), "kg"))
    # In percent, which takes less room and is much the same for both.
    error = max(1, math.ceil(100.0 * max(errors / (fish, kg))))
    return words(f"{taken_fish} fish", f"{mass} {label('kg')}", f"± {error} %")
