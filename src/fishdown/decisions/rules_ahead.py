"""Rules of netting for each lake and scenario of the years ahead, from a fit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.decisions.harvest_rules import Checks, compared_rules
from fishdown.decisions.rules_tables import COLUMNS, WANTED, YEAR_COLUMNS, total_rows, year_rows
from fishdown.intervals import TAILS, normal_sd
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from fishdown.decisions.projection import Stock
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

# What nets can take in a year, a share of the fish: a season's work removes a quarter to a half,
# sometimes more (common practice, no source). Our judgement.
MOST_REMOVED = 0.5
LARGEST_ERROR = 2.0


@dataclass(frozen=True)
class Asked:
    """The rule with checks as it is asked for.

    Attributes
    ----------
    every : int
        Years from one check to the next.
    error : float or None
        Coefficient of variation of the estimate of a check; None for that of the fit.
    most : float
        Largest share of the fish that nets can take in a year.
    """

    every: int
    error: float | None = None
    most: float = MOST_REMOVED


def problems(every: int | None, error: float | None, most: float | None, years: int) -> list[str]:
    """Return what is wrong with what was asked for, in words."""
    wrong = []
    if every is None:
        wrong += [
            f"{what} belongs to a rule with checks: say every how many years one is made, too"
            for what, value in (
                ("an error of the check", error),
                ("the most that nets can remove", most),
            )
            if value is not None
        ]
    elif not 1 <= every <= years:
        wrong.append(
            f"a check every {every} years: write a whole number from 1 to {years}, the years ahead"
        )
    if error is not None and not 0.0 <= error <= LARGEST_ERROR:
        wrong.append(
            f"error of a check {error:g}: write its coefficient of variation, between 0 and "
            f"{LARGEST_ERROR:g}, such as 0.25"
        )
    if most is not None and not 0.0 < most <= 1.0:
        wrong.append(f"at most {most:g} of the fish a year: write a share, above 0 and at most 1")
    return wrong


@dataclass
class RulesAhead:
    """Rows of the rule with checks and of the constant removal, as they are gathered."""

    asked: Asked
    seed: int
    totals: list[dict[str, Any]] = field(default_factory=list)
    by_year: list[dict[str, Any]] = field(default_factory=list)

    def withhold(self, base: dict[str, Any], reason: str) -> None:
        """Add a lake and scenario without numbers, and why."""
        self.totals.append({**self._base(base), "rule": "checks", "statement": reason})

    def add(
        self,
        fit: FittedCampaign,
        stock: Stock,
        young: FloatArray,
        lake: int,
        season: int,
        base: dict[str, Any],
    ) -> None:
        """Compare the two for a lake and scenario."""
        base = self._base(base)
        base["first_year"] = int(fit.campaign.seasons["year"].values[season]) + 1
        if not says(fit, "biomass_before", season):
            reason = f"{base['lake']}: its mean weight is unknown, so no check tells its biomass."
            self.withhold(base, reason)
            return
        error = _error_of_fit(fit, season) if self.asked.error is None else self.asked.error
        checks = Checks(self.asked.every, error, self.asked.most)
        # Luck of its own, so that the projection is the same with checks and without.
        luck = np.random.default_rng((self.seed, lake, 1)).standard_normal((*young.shape,))
        rules = compared_rules(stock, young, checks, base["threshold_kg_per_ha"], WANTED, luck)
        rows = total_rows(base, checks, rules, stock.area)
        if base["gate"] != "passed":
            for row in rows:
                row["statement"] = f"WARNING, the gate failed ({base['gate']}): {row['statement']}"
        self.totals += rows
        self.by_year += year_rows(base, rules)

    def frames(self) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Return the rows as tables: totals, and year by year."""
        return (
            pd.DataFrame(self.totals, columns=list(COLUMNS)),
            pd.DataFrame(self.by_year, columns=list(YEAR_COLUMNS)),
        )

    def _base(self, base: dict[str, Any]) -> dict[str, Any]:
        return {**base, "seed": self.seed}


def _error_of_fit(fit: FittedCampaign, season: int) -> float:
    """Return the coefficient of variation of biomass before netting, from its 90 % interval."""
    before = fit.quantities["biomass_before"].isel(season=season).values
    low, high = np.log(np.quantile(before, TAILS))
    return float(np.sqrt(np.expm1(normal_sd(low, high) ** 2)))
