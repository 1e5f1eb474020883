"""What can and cannot be estimated from the records, season by season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.identifiability.marks import told_of_marks
from fishdown.identifiability.weights import about_weights
from fishdown.labels import season_label
from fishdown.models.parts import effects
from fishdown.records.lake_years import lake_seasons
from fishdown.records.telling import why_no_depletion, why_no_marks
from fishdown.words import counted

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.records.checked import Records

# Fewer pulls than this are uninformative beside the variation of catches (our judgement, no
# source).
FEWEST_PULLS = 5
CONSISTENCY = "consistency of mark–recapture with depletion"
# Catches whose decline correlates this strongly with cooling may decline because of it.
_COOLING = -0.7


@dataclass(frozen=True)
class Finding:
    """What can and cannot be estimated from the records of one lake and season.

    Attributes
    ----------
    lake, season : str
        Where and when; both empty for what holds for the whole campaign.
    evidence : tuple of str
        The sources of information: ``mark–recapture (212 marked fish at large)``,
        ``depletion (34 pulls, …)``.
    identified : tuple of str
        What can be estimated from them: ``abundance``, ``catchability``, …
    remarks : tuple of str
        What cannot be estimated, and why; other remarks.
    """

    lake: str
    season: str
    evidence: tuple[str, ...]
    identified: tuple[str, ...]
    remarks: tuple[str, ...]

    def __str__(self) -> str:
        head = season_label(self.lake, self.season)
        parts = []
        if self.identified:
            parts.append(f"{' and '.join(self.evidence)}: {', '.join(self.identified)}")
        parts += self.remarks
        text = "; ".join(parts)
        return f"{head}: {text}." if head else f"{text[:1].upper()}{text[1:]}."


def what_is_identified(records: Records) -> list[Finding]:
    """List what the records can and cannot identify.

    Parameters
    ----------
    records : Records
        Checked records.

    Returns
    -------
    list of Finding
        One a lake and season, in the order of the table of lakes; lakes without any record;
        last, what holds for the whole campaign.
    """
    findings = []
    for lake in records.lakes["lake"]:
        seasons = sorted(
            {
                season
                for table in (records.pulls, records.marked, records.measured)
                for season in table.loc[table["lake"] == lake, "season"]
            }
        )
        findings += [_finding(records, lake, season) for season in seasons]
        if not seasons:
            findings.append(Finding(lake, "", (), (), ("no records: nothing can be estimated",)))
    compared = sum(CONSISTENCY in finding.identified for finding in findings)
    findings.append(_whole_campaign(records, compared))
    return findings


def _finding(records: Records, lake: str, season: str) -> Finding:
    pulls, marked, recaptures = (
        table[(table["lake"] == lake) & (table["season"] == season)]
        for table in (records.pulls, records.marked, records.recaptures)
    )
    marks, about_marks = _marks(pulls, marked)
    depletion, about_depletion = _depletion(pulls)
    weights, weights_remarks = about_weights(records, lake, season)
    if not (marks or depletion):
        nothing = (about_marks, about_depletion, _untold(records, lake, season, pulls))
        return Finding(lake, season, (), (), (*nothing, *weights_remarks))
    if not marks:
        about_marks += ": abundance rests on depletion only"
    identified = ["abundance", "catchability"]
    told_of_effects = [effect.told(pulls[~pulls["spoiled"]]) for effect in effects()]
    identified += [told for told, _ in told_of_effects if told]
    doubts: list[str] = []
    if marks:
        told, doubts = told_of_marks(pulls, marked, recaptures)
        identified += told
    if marks and depletion and len(pulls) >= FEWEST_PULLS:
        identified.append(CONSISTENCY)
    about_effects = [remark for _, remark in told_of_effects]
    remarks = (weights, about_marks, *doubts, about_depletion, *about_effects, *weights_remarks)
    return Finding(
        lake,
        season,
        tuple(item for item in (marks, depletion) if item),
        tuple(identified),
        tuple(remark for remark in remarks if remark),
    )


def _untold(records: Records, lake: str, season: str, pulls: pd.DataFrame) -> str:
    """Say that a season's own records do not determine its abundance, and which others may."""
    others = records.pulls[(records.pulls["lake"] != lake) | (records.pulls["season"] != season)]
    if (others["lake"] == lake).any():
        return "abundance can be estimated only from the adjacent years (model many_years)"
    if not pulls.empty and not others.empty:
        return (
            "abundance cannot be estimated from these records alone (model pooled_lakes uses the "
            "catchability of the other lakes)"
        )
    return "abundance cannot be estimated"


def _marks(pulls: pd.DataFrame, marked: pd.DataFrame) -> tuple[str, str]:
    """Name the marks if they are informative, and what to remark on them."""
    alive = int((marked["released"] - marked["died"]).sum())
    silent = why_no_marks(pulls, alive)
    if silent:
        return "", silent
    at_large = pulls[pulls["marks_at_large"] > 0]
    earlier = at_large["marks_at_large"].max() > alive
    seen = at_large["recaptured"].sum()
    remark = "" if seen else "no recaptures: the marks give only a lower limit of abundance"
    if not alive:
        return "mark–recapture (marked fish of earlier years)", remark
    others = ", and others of earlier years" if earlier else ""
    return f"mark–recapture ({alive:,} marked fish at large{others})", remark


def _depletion(pulls: pd.DataFrame) -> tuple[str, str]:
    """Name the removal if it is informative, and what to remark on it."""
    silent = why_no_depletion(pulls)
    if silent:
        return "", silent
    removed = int(pulls["removed"].sum())
    telling = pulls[~pulls["spoiled"]]
    removed_before = (pulls["removed"].cumsum() - pulls["removed"])[telling.index]
    remark = ""
    if not _together(telling["caught"], removed_before) < 0:
        remark = "catches do not decline: depletion is weakly informative"
    elif _together(telling["water_temp_c"], removed_before) < _COOLING:
        remark = "the water cools as catches decline: cooling and depletion are confounded"
    return f"depletion ({len(pulls)} pulls, {removed:,} fish removed)", remark


def _whole_campaign(records: Records, compared: int) -> Finding:
    netted = records.pulls["lake"].nunique()
    seasons = len(records.pulls[["lake", "season"]].drop_duplicates())
    if netted == 1:
        remarks = ["one lake: no partial pooling"]
    else:
        remarks = [f"{netted} lakes share information (partial pooling)"]
    if seasons > netted:
        remarks.append(_years(records))
    if compared:
        remarks.append(
            f"{CONSISTENCY}, in {counted(compared, 'season')}: mark loss, post-release mortality, "
            "fish not vulnerable to the gear and trap-shy or trap-happy marked fish act alike, so "
            "that only their product is identifiable (models lost_marks, careful_marks, "
            "hidden_fish, shy_marks; a fit states the share of the posterior determined by the "
            "prior)"
        )
    return Finding("", "", (), (), tuple(remarks))


def _years(records: Records) -> str:
    """Say what can be estimated from several years of a lake, and what cannot."""
    table = lake_seasons(records)
    winters = len(table) - table["lake"].nunique()
    idle = int(table["first_day"].isna().sum())
    text = (
        f"{counted(winters, 'winter')} between the years of a lake: survival and recruitment "
        "jointly (model many_years)"
    )
    marked = records.marked[["lake", "season"]].drop_duplicates()
    first = table.groupby("lake")["season"].first()
    carried = any(
        first.get(lake, season) == season for lake, season in marked.itertuples(index=False)
    )
    text += (
        ", and separately by marks that last over winter"
        if carried
        else "; without marks that last over winter only their priors separate the two"
    )
    if idle:
        text += f"; {counted(idle, 'year')} without netting, interpolated with greater uncertainty"
    return text


def _together(one: pd.Series[float], other: pd.Series[float]) -> float:
    """Correlation of two columns over the rows that have both; NaN if there is none."""
    both = one.notna() & other.notna()
    x, y = one[both].to_numpy(np.float64), other[both].to_numpy(np.float64)
    if len(x) < 2 or np.ptp(x) == 0 or np.ptp(y) == 0:
        return float("nan")
    return float(np.corrcoef(x, y)[0, 1])
