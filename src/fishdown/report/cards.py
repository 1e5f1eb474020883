"""The cards at the top of the page: the verdict on each lake, as a manager reads it first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.display.fitted import BIOMASS
from fishdown.report.strip import Strip, strip
from fishdown.statements.uncertainty import SOURCES
from fishdown.units import label, shown
from fishdown.words import amount, percent

if TYPE_CHECKING:
    from fishdown.display.table import Cell, Number, Source
    from fishdown.posterior.fitted import FittedCampaign

MOST_LIKELY_CAUSE = "the computation did not converge and cannot be relied on"


@dataclass(frozen=True)
class Share:
    """One source of the uncertainty about the biomass left.

    Attributes
    ----------
    name, words : str
        ``marks``, ``weights`` or ``counts``; and for people.
    part : float
        Of the variance, between 0 and 1.
    number : Number
        The same as it is shown.
    """

    name: str
    words: str
    part: float
    number: Number


@dataclass(frozen=True)
class Card:
    """The verdict on one lake, as a manager reads it first.

    Attributes
    ----------
    lake, season : str
    threshold : str
        With its unit.
    words : str
        The calibrated words; "Withheld" or "No verdict" where there are none.
    probability : Number or None
    left : Cell
        Biomass density after netting with its interval; in words where there is none.
    statement : str
        The sentence of `verdicts.csv`.
    reason : str
        Why it is withheld, in plain words; empty when it is not.
    doubt : str
        How mark–recapture and depletion differ, short of a conflict.
    caution : str
        Untested assumptions behind the statement; empty when there are none.
    background : str
        Where its uncertainty comes from, and what would change it; empty if unknown.
    shares : tuple of Share
        The parts of that uncertainty; empty likewise.
    strip : Strip or None
        Before, after and threshold on one line.
    """

    lake: str
    season: str
    threshold: str
    words: str
    probability: Number | None
    left: Cell
    statement: str
    reason: str
    doubt: str
    caution: str
    background: str
    shares: tuple[Share, ...]
    strip: Strip | None


def cards(fit: FittedCampaign, source: Source, *, despite_gate: bool) -> tuple[Card, ...]:
    """Return one card a lake, on its latest season."""
    latest = fit.campaign.last_seasons.values()
    highest = source.frame.loc[
        [2 * season + step for season in latest for step in (0, 1)],
        ["biomass_high_kg_per_ha", "threshold_kg_per_ha"],
    ]
    right = 1.08 * float(np.nanmax(highest.to_numpy(dtype=float)))
    return tuple(_card(fit, season, source, right, despite_gate=despite_gate) for season in latest)


def _card(
    fit: FittedCampaign, season: int, source: Source, right: float, *, despite_gate: bool
) -> Card:
    before, after = 2 * season, 2 * season + 1
    row = source.frame.iloc[after]
    reason = "" if despite_gate else _plain_reason(fit, season)
    said = fit.disagreement(season)
    doubt = said.said if said is not None and not said.conflict else None
    known = not pd.isna(row["probability_below"])
    words = str(row["words"]) if known else "withheld" if reason else "no verdict"
    return Card(
        lake=str(row["lake"]),
        season=str(row["season"]),
        threshold=f"{amount(shown(float(row['threshold_kg_per_ha']), 'kg/ha'))} {label('kg/ha')}",
        words=words[:1].upper() + words[1:],
        probability=source.number(after, "probability_below", percent) if known else None,
        left=source.cell(after, BIOMASS, absent=source.missing(after)),
        statement=str(row["statement"]),
        reason=reason,
        doubt=str(doubt or ""),
        caution=str(row["caution"]),
        background=str(row["background"]),
        shares=_shares(source, after),
        strip=strip(source, before, after, right) if known else None,
    )


def _shares(source: Source, row: int) -> tuple[Share, ...]:
    columns = {name: f"share_from_{name}" for name in SOURCES}
    if pd.isna(source.frame[columns["marks"]].iloc[row]):
        return ()
    return tuple(
        Share(name, words, float(source.frame[columns[name]].iloc[row]),
              source.number(row, columns[name], percent))
        for name, words in SOURCES.items()
    )  # fmt: skip


def _plain_reason(fit: FittedCampaign, season: int) -> str:
    reasons = []
    if fit.quality.failure(season):
        reasons.append(MOST_LIKELY_CAUSE)
    said = fit.disagreement(season)
    if said is not None and said.conflict:
        reasons.append("the mark–recapture and depletion estimates contradict each other")
    return " and ".join(reasons)
