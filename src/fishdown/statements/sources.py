"""Sources of evidence on a lake: each kind, how much of it there is, and what it says.

Each is looked at by itself. Shares of fish that were counted have exact limits (Clopper and Pearson
1934), tags heard the posterior under a uniform prior; abundance by marks or by catches alone, and
weights, are those of the fit.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from fishdown.formulas.limits import binomial_limits, normal_quantile
from fishdown.intervals import INTERVAL, POINTS, low_median_high
from fishdown.models.parts.marks.heard import heard_log_density
from fishdown.sentences import Said
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from collections.abc import Iterator

    import xarray as xr

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

COLUMNS = (
    "lake", "season", "evidence", "amount", "says", "estimate", "low", "high", "unit", "gate"
)  # fmt: skip
# Shares of tags still there at which what was heard is weighed.
_SHARES = (np.arange(2_000) + 0.5) / 2_000


class Kind(StrEnum):
    """A kind of evidence."""

    MARKS = "marks in catches"
    CATCHES = "falling catches"
    PENS = "pen"
    DOUBLE_MARKS = "double marks"
    SECOND_LOOKS = "second looks"
    ANTENNA = "antenna"
    SECOND_GEAR = "another gear, marks"
    EFFORT = "another gear, catch per effort"
    WEIGHTS = "weights"
    MOVEMENTS = "movements"


class Amount(StrEnum):
    """How much of it there is."""

    MARKS = (
        "{at_large:,} marked fish, {seen:,} seen again among {looked_at:,} examined in "
        "{catches:#catch/catches}"
    )
    CATCHES = "{pulls:#pull}, {caught:,} fish caught<, {void:#void lift} left out>"
    PENS = "{penned:#marked fish/marked fish}: {alive:,} alive, {marked:,} of them still marked"
    DOUBLE_MARKS = (
        "{fish:#fish/fish} checked for two marks: {both:,} with both, {clip:,} with the clip only, "
        "{tag:,} with the tag only"
    )
    SECOND_LOOKS = (
        "{fish:#marked fish/marked fish} found where fish were looked at twice, {second:,} at the "
        "second look only"
    )
    ANTENNA = "{heard:,} of {tags:#tag} heard, {nights:#night}"
    SECOND_GEAR = "{marked:,} marked among {fish:,} examined ({gears})"
    EFFORT = "{runs:#run} ({gears})"
    WEIGHTS = "{weighed:#fish/fish} weighed<, {measured:,} more measured only>"
    MOVEMENTS = "<{went:,} more fish went than came|{came:,} more fish came than went>"


class Tells(StrEnum):
    """What its number is, and the number's unit."""

    MARKS = "abundance before netting, mark–recapture only; fish"
    CATCHES = "abundance before netting, depletion only; fish"
    PENS = "share of marked fish that live and keep a mark; 1"
    DOUBLE_MARKS = "share of fish with a clip that also have their tag; 1"
    SECOND_LOOKS = "share of marked fish that one look finds; 1"
    ANTENNA = "share of tags still there, on a living fish; 1"
    SECOND_GEAR = "share of marked fish in the lake; 1"
    EFFORT = "catch per hour of the last run over that of the first; 1"
    WEIGHTS = "mean weight of the fish before netting; kg"
    MOVEMENTS = "net change of the number of fish; fish"


class _Told(NamedTuple):
    """One kind of evidence of a season: low, estimate and high of what it says."""

    kind: Kind
    values: dict[str, Any]
    points: FloatArray | None = None
    by_fit: bool = False


def sources(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """Tabulate the kinds of evidence, season by season.

    Parameters
    ----------
    fit : FittedCampaign
    despite_gate : bool
        Fill in what a failed gate would withhold; what does not rest on the fit is given in any
        case.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, one row for each kind of evidence that a season has: how much of it
        there is and what it says, in words; the estimate with its 90 % interval in the given unit
        (missing where it says no number, or the fit withholds it), and the gate.
    """
    rows = []
    for season in range(fit.season_count):
        gate = fit.failure(season) or "passed"
        for told in _of_season(fit, season):
            points = np.full(3, np.nan) if told.points is None else told.points
            if told.by_fit and gate != "passed" and not despite_gate:
                points = np.full(3, np.nan)
            what, unit = Tells[told.kind.name].split("; ")
            rows.append(
                {
                    **fit.campaign.place(season),
                    "evidence": str(told.kind),
                    "amount": str(Said(Amount[told.kind.name], told.values)),
                    "says": what,
                    **dict(zip(("low", "estimate", "high"), points.tolist(), strict=True)),
                    "unit": unit,
                    "gate": gate if told.by_fit else "passed",
                }
            )
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _of_season(fit: FittedCampaign, season: int) -> Iterator[_Told]:
    campaign = fit.campaign
    pulls = campaign.season_pulls(season)
    yield from _marks(fit, season, pulls)
    yield from _catches(fit, season, pulls)
    yield from _batches(_rows(campaign.batches, "batch", season))
    yield from _second_looks(campaign.seasons.isel(season=season))
    yield from _antenna(fit, season)
    yield from _other_gear(_rows(campaign.surveys, "run", season))
    yield from _weights(fit, season)
    yield from _movements(campaign.seasons.isel(season=season))


def _rows(table: xr.Dataset, dimension: str, season: int) -> xr.Dataset:
    return table.isel({dimension: np.flatnonzero(table["season_index"].values == season)})


def _alone(fit: FittedCampaign, season: int, kind: str) -> FloatArray | None:
    """Return abundance by one source of evidence, if the fit compared them."""
    if "evidence" not in fit.tree.children:
        return None
    found = fit.tree["evidence"].dataset["abundance"].isel(season=season).sel(evidence=kind)
    points: FloatArray = found.values
    return None if np.isnan(points).any() else points


def _marks(fit: FittedCampaign, season: int, pulls: xr.Dataset) -> Iterator[_Told]:
    looked = (pulls["marks_at_large"].values > 0) & ~np.isnan(pulls["recaptured"].values)
    looked &= pulls["examined"].values > 0
    if looked.any():
        seasons = fit.campaign.seasons
        marks = float(seasons["marked"][season]) + float(seasons["carried_most"][season])
        values = {
            "at_large": round(marks),
            "seen": round(float(pulls["recaptured"].values[looked].sum())),
            "looked_at": round(float(pulls["examined"].values[looked].sum())),
            "catches": int(looked.sum()),
        }
        yield _Told(Kind.MARKS, values, _alone(fit, season, "marks"), by_fit=True)


def _catches(fit: FittedCampaign, season: int, pulls: xr.Dataset) -> Iterator[_Told]:
    void = int(pulls["spoiled"].values.sum())
    fished = pulls.sizes["pull"] - void
    if fished > 1:
        caught = pulls["caught"].values[~pulls["spoiled"].values].sum()
        values = {"pulls": fished, "caught": round(float(caught)), "void": void}
        yield _Told(Kind.CATCHES, values, _alone(fit, season, "depletion"), by_fit=True)


def _batches(batches: xr.Dataset) -> Iterator[_Told]:
    total = {name: int(batches[name].values.sum()) for name in _TALLIES}
    if total["penned"]:
        values = {"penned": total["penned"], "alive": total["pen_alive"]}
        values["marked"] = total["pen_marked"]
        yield _Told(Kind.PENS, values, _share(total["pen_marked"], total["penned"]))
    both, clip, tag = (total[name] for name in ("both_seen", "clip_only", "tag_only"))
    if both + clip + tag:
        values = {"fish": both + clip + tag, "both": both, "clip": clip, "tag": tag}
        yield _Told(Kind.DOUBLE_MARKS, values, _share(both, both + clip))


_TALLIES = ("penned", "pen_alive", "pen_marked", "both_seen", "clip_only", "tag_only")


def _second_looks(season: xr.Dataset) -> Iterator[_Told]:
    first, second = (int(season[name]) for name in ("found_first", "found_second"))
    if first + second:
        values = {"fish": first + second, "second": second}
        yield _Told(Kind.SECOND_LOOKS, values, _detection(first, second))


def _detection(first: int, second: int) -> FloatArray | None:
    """Return what two independent looks say of one, with exact limits of the share missed."""
    if not first > second:
        return None
    low, high = binomial_limits(second, first + second, INTERVAL)
    missed = np.array([high, second / (first + second), low])
    # Of those found at all (1 − d)/(2 − d) were missed by the first look.
    found: FloatArray = np.maximum(1.0 - missed / (1.0 - missed), 0.0)
    return found


def _antenna(fit: FittedCampaign, season: int) -> Iterator[_Told]:
    rows = _rows(fit.campaign.antenna, "history", season)
    if not rows.sizes["history"]:
        return
    tags, nights = rows["tags"].values, rows["nights_listened"].values
    values = {
        "heard": int(tags[rows["nights_heard"].values > 0].sum()),
        "tags": int(tags.sum()),
        "nights": int(nights.max()),
    }
    yield _Told(Kind.ANTENNA, values, _still_there(fit, season))


def _still_there(fit: FittedCampaign, season: int) -> FloatArray | None:
    """Return the share of tags still there under a uniform prior, by what was heard alone."""
    heard = fit.data.heard
    if heard is None or season not in heard.season:
        return None
    mine = heard.only(int(np.flatnonzero(heard.season == season)[0]))
    density = np.array([float(heard_log_density(mine, share)) for share in _SHARES])
    cumulated = np.cumsum(np.exp(density - density.max()))
    found: FloatArray = np.interp(POINTS, cumulated / cumulated[-1], _SHARES)
    return found


def _other_gear(runs: xr.Dataset) -> Iterator[_Told]:
    gears = runs["gear"].values
    looked = (runs["examined"].values > 0) & (runs["marks_at_large"].values > 0)
    if looked.any():
        fish, marked = (int(runs[n].values[looked].sum()) for n in ("examined", "marked"))
        values = {"fish": fish, "marked": marked, "gears": _listed(gears[looked])}
        # Runs months apart met other shares; a fit takes them one by one.
        points = _share(marked, fish) if looked.sum() == 1 else None
        yield _Told(Kind.SECOND_GEAR, values, points)
    efforts = runs["effort"].values
    alike = [(gears[~np.isnan(efforts)] == gear).sum() > 1 for gear in gears]
    compared = np.array(alike, dtype=bool) & ~np.isnan(efforts)
    if compared.any():
        values = {"runs": int(compared.sum()), "gears": _listed(gears[compared])}
        points = None
        if len(set(gears[compared])) == 1:
            order = np.flatnonzero(compared)[np.argsort(runs["date"].values[compared])]
            first, last = order[0], order[-1]
            points = _ratio(runs["caught"].values[[first, last]], efforts[[first, last]])
        yield _Told(Kind.EFFORT, values, points)


def _weights(fit: FittedCampaign, season: int) -> Iterator[_Told]:
    fish = _rows(fit.campaign.fish, "fish", season)
    weighed = int((~np.isnan(fish["weight"].values)).sum())
    measured = fish.sizes["fish"] - weighed
    if fish.sizes["fish"]:
        points = None
        if says(fit, "mean_weight", season):
            points = low_median_high(fit.quantities["mean_weight"].isel(season=season).values)
        values = {"weighed": weighed, "measured": measured}
        yield _Told(Kind.WEIGHTS, values, points, by_fit=True)


def _movements(season: xr.Dataset) -> Iterator[_Told]:
    moved, error = (float(season[name]) for name in ("moved", "moved_error"))
    if moved:
        wide = normal_quantile(INTERVAL) * error
        values = {"went": max(round(moved), 0), "came": max(round(-moved), 0)}
        points = None if not error else np.array([-moved - wide, -moved, -moved + wide])
        yield _Told(Kind.MOVEMENTS, values, points)


def _share(count: int, of: int) -> FloatArray | None:
    """Return a share with its exact limits."""
    if not of:
        return None
    low, high = binomial_limits(count, of, INTERVAL)
    return np.array([low, count / of, high])


def _ratio(caught: FloatArray, hours: FloatArray) -> FloatArray | None:
    """Return the ratio of two catches per hour, with exact limits by chance alone.

    Given their sum, one of two Poisson counts is binomial (Przyborowski and Wilenski 1940,
    Biometrika 31:313–323; reference from memory).
    """
    first, last = (int(count) for count in caught)
    if not first or not last:
        return None
    low, high = binomial_limits(last, first + last, INTERVAL)
    shares = np.array([low, last / (first + last), high])
    found: FloatArray = shares / (1.0 - shares) * hours[0] / hours[1]
    return found


def _listed(gears: Any) -> str:
    return ", ".join(dict.fromkeys(str(gear) for gear in gears))
