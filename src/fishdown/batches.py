"""The batches of marked fish of a campaign: what was released, and what was seen of each again."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from fishdown.labels import season_label, told_apart
from fishdown.records.ledger import marked_before_pulls
from fishdown.records.matching import pulls_meant
from fishdown.records.tables import PEN

if TYPE_CHECKING:
    from fishdown.typing import BoolArray, FloatArray, IntArray

BATCH_LABELS: dict[str, tuple[str | None, str]] = {
    "mark": (None, "mark of the batch: fin_clip, pit_tag or both"),
    "marked_on": (None, "first day of marking"),
    "released_alive": ("count", "fish marked and released alive"),
    "died": ("count", "fish that died of marking, on record"),
    "penned": ("count", "marked fish kept in a pen"),
    "pen_alive": ("count", "penned fish alive at the end"),
    "pen_marked": ("count", "penned fish alive at the end whose mark was found again"),
    "batch_released": ("count", "fish of the batch released alive before the pull"),
    "batch_recaptured": ("count", "fish of the batch in the pull; missing where not distinguished"),
    "both_seen": ("count", "recaptured double-marked fish with both marks seen"),
    "clip_only": ("count", "recaptured double-marked fish with only the clip seen"),
    "tag_only": ("count", "recaptured double-marked fish with only the tag read"),
}


def batches_of(
    pulls: pd.DataFrame, season_index: IntArray, marked: pd.DataFrame, recaptures: pd.DataFrame
) -> xr.Dataset:
    """Gather the batches, one for each name and kind of mark in each season of each lake.

    The batches in a catch are distinguished if it had no marked fish, if there is one batch, or if
    the rows of the recaptures name the batch of all of them, and all of its fish have the same
    mark.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Clean pulls in the order of the campaign.
    season_index : ndarray of int, shape (pull,)
        Position of each pull's season.
    marked, recaptures : pandas.DataFrame
        Clean tables; `marked` with ``season_index``, −1 outside every season.

    Returns
    -------
    xarray.Dataset
        Variables of `BATCH_LABELS` and ``season_index``, dimensions (batch,), and (batch, pull)
        for ``batch_released`` and ``batch_recaptured``.
    """
    groups = list(marked.groupby(["lake", "season", "batch", "mark"], sort=False))
    rows = [group for _, group in groups]
    season = np.array([int(group["season_index"].iloc[0]) for group in rows], dtype=np.int64)
    mark = np.array([str(group["mark"].iloc[0]) for group in rows], dtype=np.str_)
    numbered = pulls.reset_index(drop=True).assign(turn=pulls["order"].to_numpy())
    names = [(lake, label, name) for (lake, label, name, _), _ in groups]
    kinds = Counter(names)
    place = {key: position for position, key in enumerate(names) if kinds[key] == 1}
    released = _released(rows, numbered, season, season_index)
    # The batch of a season has all its marked fish, if it is the only one and no marks of earlier
    # years were at large.
    only = (season[:, None] == season_index) & ~_older(numbered, season_index, released)
    only &= only.sum(axis=0) == 1
    sightings = _sightings(numbered, recaptures, place, only)
    return xr.Dataset(
        {
            "season_index": ("batch", season),
            "mark": ("batch", mark),
            "marked_on": ("batch", np.array([g["date"].min() for g in rows], "datetime64[us]")),
            "released_alive": ("batch", _total(rows, "released") - _total(rows, "died")),
            "died": ("batch", _total(rows, "died")),
            **{name: ("batch", _total(rows, name)) for name in PEN},
            "batch_released": (("batch", "pull"), released),
            "batch_recaptured": (
                ("batch", "pull"),
                _recaptured(sightings, numbered, only, season[:, None] == season_index),
            ),
            **_double_marks(sightings, mark),
        },
        coords={
            "batch": told_apart(
                f"{season_label(lake, label)}: {name}"
                + ("" if (lake, label, name) in place else f", {kind}")
                for (lake, label, name, kind), _ in groups
            )
        },
    )


def _sightings(
    pulls: pd.DataFrame, recaptures: pd.DataFrame, place: dict[Any, int], only: BoolArray
) -> list[tuple[int, int, Any]]:
    """Return pull, batch and row of every recapture whose batch is known and of that season."""
    found = []
    for row, meant in pulls_meant(recaptures, pulls):
        for pull in meant:
            batch = place.get((pull.lake, pull.season, row.batch))
            if row.batch == "" and only[:, pull.Index].any():
                batch = int(np.argmax(only[:, pull.Index]))
            if batch is not None:
                found.append((int(pull.Index), batch, row))
    return found


def _released(
    rows: list[pd.DataFrame], pulls: pd.DataFrame, season: IntArray, season_index: IntArray
) -> FloatArray:
    released = np.zeros((len(rows), len(pulls)))
    for batch, group in enumerate(rows):
        mine = season_index == season[batch]
        released[batch, mine] = marked_before_pulls(pulls[mine], group)
    return released


def _older(pulls: pd.DataFrame, season_index: IntArray, released: FloatArray) -> BoolArray:
    """Tell of each pull whether marks of earlier years may have been at large in its season."""
    others = pulls["marks_at_large"].to_numpy(dtype=float) - released.sum(axis=0)
    at_start = pd.Series(others).groupby(season_index).transform("first").to_numpy()
    return np.asarray(at_start > 0)


def _recaptured(
    sightings: list[tuple[int, int, Any]], pulls: pd.DataFrame, only: BoolArray, here: BoolArray
) -> FloatArray:
    counted = np.zeros(here.shape)
    for pull, batch, row in sightings:
        counted[batch, pull] += row.count
    seen = pulls["recaptured"].to_numpy(dtype=float)
    # Whichever table gives them.
    counted = np.where(only, seen, counted)
    return np.where(here & (counted.sum(axis=0) == seen), counted, np.nan)


def _double_marks(sightings: list[tuple[int, int, Any]], mark: Any) -> dict[str, Any]:
    """Tally what was left of two marks, over the fish that were checked for both."""
    tallies = {name: np.zeros(len(mark)) for name in ("both_seen", "clip_only", "tag_only")}
    names = {(True, True): "both_seen", (True, False): "clip_only", (False, True): "tag_only"}
    for _, batch, row in sightings:
        # Whoever wrote down a tag's number has read it.
        tag_read = True if row.tag_id and pd.isna(row.tag_read) else row.tag_read
        if mark[batch] != "both" or pd.isna(row.clip_seen) or pd.isna(tag_read):
            continue
        if row.clip_seen or tag_read:
            tallies[names[bool(row.clip_seen), bool(tag_read)]][batch] += row.count
    return {name: ("batch", counts) for name, counts in tallies.items()}


def _total(rows: list[pd.DataFrame], column: str) -> FloatArray:
    return np.array([float(group[column].sum()) for group in rows])
