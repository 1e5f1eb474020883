"""From a draft without errors to the clean, typed tables of the records."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.records.bycatch_counted import bycatch_counted
from fishdown.records.cells import GO
from fishdown.records.clocks import without_drift
from fishdown.records.covariates import COVARIATES
from fishdown.records.ledger import (
    END_OF_DAY,
    keep_ledger,
    marked_before_pulls,
    marked_for_earlier_seasons,
)
from fishdown.records.matching import recaptured_of_pulls
from fishdown.records.movements import from_both_sides, marks_gone, seasons_netted
from fishdown.records.surveys import clean_surveys
from fishdown.records.tables import PEN, TABLES

if TYPE_CHECKING:
    from collections.abc import Hashable

    from fishdown.records.draft import Draft
    from fishdown.records.settings import Settings

_OF_PULLS = [
    "date", "lake", "season", "net", "order", "caught", "recaptured", "examined",
    "released_again", "removed", "marks_at_large", "marks_removed", "water_temp_c", "spoiled",
    "bycatch_counted",
    "row",
]  # fmt: skip


def clean_tables(draft: Draft, settings: Settings) -> dict[str, pd.DataFrame]:
    """Fill what was left out and give every column its final type.

    Parameters
    ----------
    draft : Draft
        Records in which no rule found an error.
    """
    frames = draft.frames
    pulls, movements, surveys = _with_ledger(draft)
    tables = {
        "lakes": frames["lakes"].assign(
            threshold_kg_per_ha=frames["lakes"]["threshold_kg_per_ha"].fillna(
                settings.threshold_kg_per_ha
            ),
            connected=_yes(frames["lakes"]["connected"]),
            young_eaten=_yes(frames["lakes"]["young_eaten"]),
        ),
        "areas": frames["areas"],
        "marked": frames["marked"].assign(
            released=frames["marked"]["released"].astype("int64"),
            died=_whole(frames["marked"]["died"], 0),
            **{name: _whole(frames["marked"][name], 0) for name in PEN},
        ),
        "pulls": pulls,
        "recaptures": frames["recaptures"].assign(count=_whole(frames["recaptures"]["count"], 1)),
        "measured": frames["measured"],
        "movements": movements,
        "surveys": surveys,
        "second_looks": frames["second_looks"],
        "bycatch": frames["bycatch"].assign(count=frames["bycatch"]["count"].astype("int64")),
        "bycatch_limits": frames["bycatch_limits"].assign(
            limit=frames["bycatch_limits"]["limit"].astype("int64")
        ),
        "species_names": frames["species_names"],
        "tags": frames["tags"],
        "detections": without_drift(frames["detections"], frames["clock_checks"]),
        "clock_checks": frames["clock_checks"],
    }
    return {name: table[_columns(name, table)].copy() for name, table in tables.items()}


def _columns(name: str, table: pd.DataFrame) -> list[str]:
    """List the columns as written, with the season of what has a date behind its lake."""
    if name == "pulls":
        return [*_OF_PULLS, *COVARIATES]
    columns = [*TABLES[name], "row"]
    if "local" in table:
        columns.insert(columns.index("time") + 1, "local")
    columns += {"movements": ["marks_removed"], "surveys": ["marks_at_large"]}.get(name, [])
    if "season" in table and "season" not in columns:
        columns.insert(columns.index("lake") + 1, "season")
    return columns


def _with_ledger(draft: Draft) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return clean pulls, movements and surveys, with the marks that were at large and went."""
    pulls = draft.frames["pulls"]
    marked = draft.frames["marked"]
    movements = from_both_sides(draft.frames["movements"], set(draft.frames["lakes"]["lake"]))
    movements = movements.assign(
        standard_error=movements["standard_error"].fillna(0.0),
        season=seasons_netted(movements, pulls),
        marks_removed=marks_gone(movements),
    )
    pulls = pulls.assign(
        order=pulls["turn"].astype("int64"),
        caught=pulls["caught"].astype("int64"),
        examined=pulls["examined"].fillna(pulls["caught"]),
        released_again=_whole(pulls["released_again"], 0),
        spoiled=_yes(pulls["spoiled"]),
        bycatch_counted=bycatch_counted(pulls, draft.frames["bycatch"]),
        marks_at_large=0.0,
        marks_removed=0.0,
    )
    surveys = clean_surveys(draft.frames["surveys"])
    pulls["removed"] = pulls["caught"] - pulls["released_again"]
    if draft.given("recaptures"):
        recaptured = recaptured_of_pulls(pulls, draft.frames["recaptures"], marked)
        pulls["recaptured"] = recaptured.own_marks
    nobody_looked = (pulls["examined"] == 0) & (pulls["caught"] > 0)
    pulls["recaptured"] = pulls["recaptured"].mask(nobody_looked)
    pulls = pulls.sort_values(["lake", "date", "order", "row"], ignore_index=True)
    removed: dict[Hashable, float] = defaultdict(float)
    marked_of = {str(lake): rows for lake, rows in marked.groupby("lake")}
    moved_of = {str(lake): rows for lake, rows in movements.groupby("lake")}
    runs_of = dict(list(surveys.groupby(["lake", "season"])))
    for (lake, season), group in pulls.groupby(["lake", "season"], sort=False):
        of_lake = marked_of.get(str(lake), marked.iloc[:0])
        carried = marked_for_earlier_seasons(group, of_lake) - removed[lake]
        entries = group
        if str(lake) in moved_of:
            moved = moved_of[str(lake)]
            earlier = moved["season"].eq("") & (moved["date"] < group["date"].min())
            carried -= float(moved.loc[earlier, "marks_removed"].sum())
            went = moved[(moved["season"] == season) & moved["movement"].isin(GO)]
            # Fish that went on a day are there for the pulls of that day.
            entries = pd.concat([entries, _as_catches(went)])
        if (lake, season) in runs_of:
            entries = pd.concat([entries, _as_looks(runs_of[lake, season])])
        if entries is not group:
            entries = entries.sort_values(["date", "turn"], kind="stable")
        own = marked_before_pulls(entries, of_lake[of_lake["season"] == season])
        ledger = keep_ledger(
            entries["caught"].to_numpy(np.float64),
            entries["recaptured"].to_numpy(np.float64),
            entries["examined"].to_numpy(np.float64),
            entries["released_again"].to_numpy(np.float64),
            own + carried,
        )
        removed[lake] += float(ledger.removed.sum())
        turn = entries["turn"].to_numpy()
        of_pull, went_then, looked_then = turn < END_OF_DAY, turn == END_OF_DAY, turn > END_OF_DAY
        pulls.loc[group.index, "recaptured"] = ledger.recaptured[of_pull]
        pulls.loc[group.index, "examined"] = ledger.examined[of_pull]
        pulls.loc[group.index, "marks_at_large"] = ledger.at_large[of_pull]
        pulls.loc[group.index, "marks_removed"] = ledger.removed[of_pull]
        movements.loc[entries.index[went_then], "marks_removed"] = ledger.removed[went_then]
        surveys.loc[entries.index[looked_then], "marks_at_large"] = ledger.at_large[looked_then]
    return pulls, movements, surveys


def _as_looks(runs: pd.DataFrame) -> pd.DataFrame:
    """Return runs of another gear as catches without fish when their day is over."""
    nothing = dict.fromkeys(("caught", "recaptured", "examined", "released_again"), 0.0)
    return pd.DataFrame({"date": runs["date"], "turn": END_OF_DAY + 1.0, **nothing})


def _as_catches(went: pd.DataFrame) -> pd.DataFrame:
    """Return fish that went as catches at the end of their day, examined if marks are told."""
    told = went["marked"].notna()
    return pd.DataFrame(
        {
            "date": went["date"],
            "turn": END_OF_DAY,
            "caught": went["fish"],
            "recaptured": went["marked"],
            "examined": went["fish"].where(told, 0.0),
            "released_again": 0.0,
        }
    )


def _whole(counts: pd.Series[float], missing: int) -> pd.Series[int]:
    return counts.fillna(missing).astype("int64")


def _yes(answers: pd.Series[bool]) -> pd.Series[bool]:
    return answers.fillna(value=False).astype("bool")
