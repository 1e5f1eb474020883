"""What can and cannot be estimated from the records, season by season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.identifiability.codes import Evidence, Identified, Remark
from fishdown.identifiability.marks import told_by_antennas, told_of_marks
from fishdown.identifiability.weights import about_weights
from fishdown.labels import season_label
from fishdown.models.parts import effects
from fishdown.records.areas import area_on
from fishdown.records.lake_years import lake_seasons
from fishdown.records.movements import fish_gone
from fishdown.records.telling import why_no_depletion, why_no_marks
from fishdown.sentences import Said
from fishdown.units import label, shown
from fishdown.words import amount

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.records.checked import Records
    from fishdown.records.visits import Heard

# Fewer pulls than this are uninformative beside the variation of catches (our judgement, no
# source).
FEWEST_PULLS = 5
# Catches whose decline correlates this strongly with cooling may decline because of it.
_COOLING = -0.7


@dataclass(frozen=True)
class Finding:
    """What can and cannot be estimated from the records of one lake and season.

    Attributes
    ----------
    lake, season : str
        Where and when; both empty for what holds for the whole campaign.
    evidence : tuple of Said
        The sources of information, `Evidence`.
    identified : tuple of Said
        What can be estimated from them, `Identified`.
    remarks : tuple of Said
        What cannot be estimated, and why; other remarks.
    """

    lake: str
    season: str
    evidence: tuple[Said, ...]
    identified: tuple[Said, ...]
    remarks: tuple[Said, ...]

    def __str__(self) -> str:
        head = season_label(self.lake, self.season)
        parts = []
        if self.identified:
            evidence, identified = map(str, self.evidence), map(str, self.identified)
            parts.append(f"{' and '.join(evidence)}: {', '.join(identified)}")
        parts += map(str, self.remarks)
        text = "; ".join(parts)
        return f"{head}: {text}." if head else f"{text[:1].upper()}{text[1:]}."


def what_is_identified(records: Records, found: Heard | None = None) -> list[Finding]:
    """List what the records can and cannot identify.

    Parameters
    ----------
    found : Heard, optional
        What their antennas heard, if it is known already.

    Returns
    -------
    list of Finding
        One a lake and season, in the order of the table of lakes; lakes without any record;
        last, what holds for the whole campaign.
    """
    findings = []
    heard = told_by_antennas(records, found)
    for lake in records.lakes["lake"]:
        seasons = sorted(
            {
                season
                for table in (records.pulls, records.marked, records.measured)
                for season in table.loc[table["lake"] == lake, "season"]
            }
        )
        findings += [_finding(records, lake, season, heard) for season in seasons]
        if not seasons:
            findings.append(Finding(lake, "", (), (), (Said(Remark.NO_RECORDS),)))
    compared = sum(Said(Identified.CONSISTENCY) in finding.identified for finding in findings)
    findings.append(_whole_campaign(records, compared))
    return findings


def _finding(
    records: Records, lake: str, season: str, heard: dict[tuple[str, str], dict[str, int]]
) -> Finding:
    pulls, marked, recaptures = (
        table[(table["lake"] == lake) & (table["season"] == season)]
        for table in (records.pulls, records.marked, records.recaptures)
    )
    movements = _movements(records, lake, season)
    marks, about_marks = _marks(pulls, marked)
    depletion, about_depletion = _depletion(pulls)
    weights, weights_remarks = about_weights(records, lake, season)
    if not (marks or depletion):
        nothing = (about_marks, about_depletion, Said(_untold(records, lake, season, pulls)))
        remarks = [remark for remark in (*nothing, *weights_remarks) if remark]
        return Finding(lake, season, (), (), tuple(remarks))
    if not marks:
        about_marks = Said(Remark.DEPLETION_ONLY, {"why": about_marks})
    identified = [Said(Identified.ABUNDANCE), Said(Identified.CATCHABILITY)]
    # The parts of the model put their effects into words themselves.
    of_effects = [effect.told(pulls[~pulls["spoiled"]]) for effect in effects()]
    identified += [Said(Identified.EFFECT, {"words": told}) for told, _ in of_effects if told]
    doubts: list[Said] = []
    if marks:
        told, doubts = told_of_marks(pulls, marked, recaptures)
        identified += told
        looks = records.second_looks[
            (records.second_looks["lake"] == lake) & (records.second_looks["season"] == season)
        ]
        first, second = (int(looks[name].sum()) for name in ("found_first", "found_second"))
        if first + second:
            said = {"fish": first + second, "second": second}
            identified.append(Said(Identified.SECOND_LOOKS, said))
        if (lake, season) in heard:
            identified.append(Said(Identified.HEARD, heard[lake, season]))
        elif _listened(records, lake) and (marked["mark"] != "fin_clip").any():
            doubts.append(Said(Remark.NOT_HEARD))
        runs = records.surveys[
            (records.surveys["lake"] == lake) & (records.surveys["season"] == season)
        ]
        telling = runs[runs["marks_at_large"] > 0]
        if telling["examined"].any():
            fish, seen = (int(telling[name].sum()) for name in ("examined", "marked"))
            identified.append(Said(Identified.SECOND_GEAR, {"fish": fish, "marked": seen}))
        with_effort = runs.loc[runs["effort_h"].notna(), "gear"].str.casefold()
        compared = int(with_effort.duplicated(keep=False).sum())
        if compared:
            identified.append(Said(Identified.CATCH_PER_EFFORT, {"runs": compared}))
    if marks and depletion and len(pulls) >= FEWEST_PULLS:
        identified.append(Said(Identified.CONSISTENCY))
    about_effects = [Said(Remark.EFFECT, {"words": words}) for _, words in of_effects if words]
    about = (
        about_marks,
        movements,
        _areas(records, lake, pulls),
        *doubts,
        about_depletion,
        *about_effects,
    )
    return Finding(
        lake,
        season,
        tuple(item for item in (marks, depletion) if item),
        tuple(identified),
        tuple(remark for remark in (weights, *about, *weights_remarks) if remark),
    )


def _areas(records: Records, lake: str, pulls: pd.DataFrame) -> Said | None:
    """Say how the area of a lake changes over a season's pulls."""
    if not (records.areas["lake"] == lake).any():
        return None
    usual = dict(zip(records.lakes["lake"], records.lakes["area_ha"], strict=True))
    area = area_on(records.areas, pulls["lake"], pulls["date"], usual)
    ends = {"first": area[0], "last": area[-1], "least": area.min(), "most": area.max()}
    said = {name: amount(shown(float(value), "ha")) for name, value in ends.items()}
    return Said(Remark.AREAS, said | {"unit": label("ha")})


def _listened(records: Records, lake: str) -> bool:
    return len(records.detections) > 0 and bool((records.detections["lake"] == lake).any())


def _movements(records: Records, lake: str, season: str) -> Said | None:
    """Say how many fish came and went other than by the nets while a season was netted."""
    mine = records.movements[
        (records.movements["lake"] == lake) & (records.movements["season"] == season)
    ]
    if mine.empty:
        return None
    fish = fish_gone(mine)
    came, went = -float(fish[fish < 0].sum()), float(fish[fish > 0].sum())
    return Said(Remark.MOVEMENTS, {"came": came, "went": went, "both": bool(came and went)})


def _untold(records: Records, lake: str, season: str, pulls: pd.DataFrame) -> Remark:
    """Say that a season's own records do not determine its abundance, and which others may."""
    others = records.pulls[(records.pulls["lake"] != lake) | (records.pulls["season"] != season)]
    if (others["lake"] == lake).any():
        return Remark.FROM_OTHER_YEARS
    pooled = not pulls.empty and not others.empty
    return Remark.FROM_OTHER_LAKES if pooled else Remark.NOT_ESTIMABLE


def _marks(pulls: pd.DataFrame, marked: pd.DataFrame) -> tuple[Said | None, Said | None]:
    """Name the marks if they are informative, and what to remark on them."""
    alive = int((marked["released"] - marked["died"]).sum())
    silent = why_no_marks(pulls, alive)
    if silent:
        return None, silent
    at_large = pulls[pulls["marks_at_large"] > 0]
    earlier = at_large["marks_at_large"].max() > alive
    seen = at_large["recaptured"].sum()
    remark = None if seen else Said(Remark.NO_RECAPTURES)
    if not alive:
        return Said(Evidence.MARKS_OF_EARLIER_YEARS), remark
    return Said(Evidence.MARKS, {"alive": alive, "earlier": earlier}), remark


def _depletion(pulls: pd.DataFrame) -> tuple[Said | None, Said | None]:
    """Name the removal if it is informative, and what to remark on it."""
    silent = why_no_depletion(pulls)
    if silent:
        return None, silent
    removed = int(pulls["removed"].sum())
    telling = pulls[~pulls["spoiled"]]
    removed_before = (pulls["removed"].cumsum() - pulls["removed"])[telling.index]
    remark = None
    if not _together(telling["caught"], removed_before) < 0:
        remark = Said(Remark.NO_DECLINE)
    elif _together(telling["water_temp_c"], removed_before) < _COOLING:
        remark = Said(Remark.CONFOUNDED)
    return Said(Evidence.DEPLETION, {"pulls": len(pulls), "removed": removed}), remark


def _whole_campaign(records: Records, compared: int) -> Finding:
    netted = records.pulls["lake"].nunique()
    seasons = len(records.pulls[["lake", "season"]].drop_duplicates())
    one = netted == 1
    remarks = [Said(Remark.ONE_LAKE) if one else Said(Remark.SEVERAL_LAKES, {"lakes": netted})]
    if seasons > netted:
        remarks.append(_years(records))
    if compared:
        remarks.append(Said(Remark.CONSISTENCY, {"seasons": compared}))
    return Finding("", "", (), (), tuple(remarks))


def _years(records: Records) -> Said:
    """Say what can be estimated from several years of a lake, and what cannot."""
    table = lake_seasons(records)
    winters = len(table) - table["lake"].nunique()
    idle = int(table["first_day"].isna().sum())
    marked = records.marked[["lake", "season"]].drop_duplicates()
    first = table.groupby("lake")["season"].first()
    carried = any(
        first.get(lake, season) == season for lake, season in marked.itertuples(index=False)
    )
    counts = {"winters": winters, "carried": carried, "idle": idle}
    return Said(Remark.SEVERAL_YEARS, counts)


def _together(one: pd.Series[float], other: pd.Series[float]) -> float:
    """Correlation of two columns over the rows that have both; NaN if there is none."""
    both = one.notna() & other.notna()
    x, y = one[both].to_numpy(np.float64), other[both].to_numpy(np.float64)
    if len(x) < 2 or np.ptp(x) == 0 or np.ptp(y) == 0:
        return float("nan")
    return float(np.corrcoef(x, y)[0, 1])
