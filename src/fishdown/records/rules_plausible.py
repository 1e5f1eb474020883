"""Rules on implausible values: those that are impossible, and those that are probably errors."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.labels import season_label
from fishdown.records.codes import Odd, Wrong
from fishdown.records.plausible import PLAUSIBLE
from fishdown.records.problems import Problem
from fishdown.records.tables import TABLES, rows_of
from fishdown.records.us_columns import us_field, us_name
from fishdown.units import US_UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.typing import FloatArray

# A catch is far off if it is ten times the median of its neighbours and more than three of their
# standard deviations (of logarithms) above their mean. Catches of schools scatter beyond chance,
# so the scatter is that of the neighbours; it says little where most of them caught hardly a fish
# (our judgement, no source; false alarms are counted in tests/records/test_records_plausible.py).
NEIGHBOURS, FEWEST_NEIGHBOURS, FEWEST_FISH = 12, 5, 5.0
TIMES_NEIGHBOURS, DEVIATIONS, LEAST_SCATTER = 10.0, 3.0, 0.3

# Fish of one weight, among how few other weights (our judgement, no source).
_MANY_ALIKE, _TIMES_NEXT, _FEWEST_WEIGHTS = 20, 5, 5
# Fish that are measured further than this from all netting of the lake belong to no season of it.
_YEARS_AWAY = 2.0
_DAYS_A_YEAR = 365.25


def threshold_of_campaign(draft: Draft) -> Iterator[Problem]:
    """Find an implausible threshold in the settings."""
    name = "threshold_kg_per_ha"
    entries, us = draft.source.entries or {}, us_name(name)
    if draft.settings is None or not (written := [one for one in (name, us) if one in entries]):
        return
    within, value = PLAUSIBLE[name], draft.settings.threshold_kg_per_ha
    entry, advice = entries[written[0]], f"write the biomass density to get below, {within}"
    if written[0] == us:
        name, advice = us, f"write {us_field(name, TABLES['lakes'][name]).what}"
    if not within.least <= value <= within.most:
        code = Wrong.IMPLAUSIBLY_LARGE if value > within.most else Wrong.IMPLAUSIBLY_SMALL
        said = {"advice": advice}
        file = draft.source.files["campaign"]
        yield Problem(code, file, entry.row, name, str(entry.value), said)


def more_fish_than_water_holds(draft: Draft) -> Iterator[Problem]:
    """Find seasons in which more fish were removed, or marked, than the lake can hold."""
    areas = dict(zip(draft.frames["lakes"]["lake"], draft.frames["lakes"]["area_ha"], strict=True))
    most = PLAUSIBLE["fish_per_ha"].most
    pulls, marked = draft.frames["pulls"], draft.frames["marked"]
    taken = pulls.assign(fish=pulls["caught"] - pulls["released_again"].fillna(0))
    for name, column, done, table in (
        ("pulls", "caught", "removed", taken),
        ("marked", "released", "marked", marked.assign(fish=marked["released"])),
    ):
        if table.empty:
            continue
        for (lake, season), group in table.groupby(["lake", "season"], sort=False):
            area, fish = areas.get(lake, np.nan), float(group["fish"].sum())
            if not fish > most * area:
                continue
            largest = group["row"].iloc[int(group["fish"].argmax())]
            said = {"fish": fish, "done": done, "season": season_label(lake, season)}
            us = draft.in_us_units("lakes")
            # Fish by area, in the units in which the crew wrote the area.
            unit = US_UNITS["ha"].factor if us else 1.0
            said |= {"density": fish / area * unit, "area_ha": area, "most": most * unit, "us": us}
            yield draft.problem(Wrong.FISH_ABOVE_PLAUSIBLE, name, int(largest), column, **said)


def catches_far_above_their_neighbours(draft: Draft) -> Iterator[Problem]:
    """Find catches ten times those before and after them in the season, beyond their scatter."""
    pulls = draft.frames["pulls"]
    fished = pulls[~pulls["spoiled"].fillna(value=False) & pulls["caught"].notna()]
    fished = fished[fished["date"].notna()].sort_values(["date", "turn", "row"])
    for (lake, season), group in fished.groupby(["lake", "season"], sort=False):
        caught = group["caught"].to_numpy(np.float64)
        for place in far_above_neighbours(caught):
            pull, usual = group.iloc[place], np.median(neighbours_of(caught, place))
            said = {"times": TIMES_NEIGHBOURS, "season": season_label(lake, season), "usual": usual}
            row = int(pull["row"])
            yield draft.problem(Odd.CATCH_FAR_ABOVE_OTHERS, "pulls", row, "caught", **said)


def far_above_neighbours(caught: FloatArray) -> list[int]:
    """Find catches far above those around them.

    Parameters
    ----------
    caught : ndarray, shape (pull,)
        Catches of one lake and season in time order.
    """
    found = []
    for place, catch in enumerate(caught.tolist()):
        others = neighbours_of(caught, place)
        if len(others) < FEWEST_NEIGHBOURS:
            continue
        usual = float(np.median(others))
        if usual < FEWEST_FISH or catch < TIMES_NEIGHBOURS * usual:
            continue
        # Half a fish stands for none, which has no logarithm.
        logs = np.log(others + 0.5)
        scatter = max(float(logs.std(ddof=1)), LEAST_SCATTER)
        if np.log(catch + 0.5) - logs.mean() > DEVIATIONS * scatter:
            found.append(place)
    return found


def neighbours_of(caught: FloatArray, place: int) -> FloatArray:
    """Return the catches nearest in time to one of them, shape (up to `NEIGHBOURS`,)."""
    first = max(0, min(place - NEIGHBOURS // 2, len(caught) - NEIGHBOURS - 1))
    around = caught[first : first + NEIGHBOURS + 1]
    return np.delete(around, place - first)


def weights_all_alike(draft: Draft) -> Iterator[Problem]:
    """Find seasons in which many fish have one weight, to the last digit."""
    fish = draft.frames["measured"]
    for (lake, season), group in fish[fish["weight_kg"].notna()].groupby(
        ["lake", "season"], sort=False
    ):
        (weight, alike), *others = Counter(group["weight_kg"].tolist()).most_common()
        copied = not others or (
            len(others) + 1 >= _FEWEST_WEIGHTS and alike >= _TIMES_NEXT * others[0][1]
        )
        if alike < _MANY_ALIKE or not copied:
            continue
        rows = group.loc[group["weight_kg"] == weight, "row"].tolist()
        said = {"alike": alike, "weights": len(group), "season": season_label(lake, season)}
        said |= {"weight_kg": weight, "rows": rows}
        yield draft.problem(Odd.WEIGHTS_ALL_ALIKE, "measured", rows[0], "weight_kg", **said)


def measured_years_away(draft: Draft) -> Iterator[Problem]:
    """Find fish measured, or marked, years away from all netting of their lake."""
    pulls = draft.frames["pulls"]
    days: dict[Any, Any] = {
        lake: group["date"].dropna().to_numpy("datetime64[D]")
        for lake, group in pulls.groupby("lake", sort=False)
    }
    for name in ("measured", "marked"):
        rows: dict[tuple[str, Any], list[int]] = defaultdict(list)
        away: dict[tuple[str, Any], float] = {}
        for row in rows_of(draft.frames[name]):
            netted = days.get(row.lake)
            if netted is None or not len(netted) or pd.isna(row.date):
                continue
            days_to = (netted - row.date.to_datetime64().astype("datetime64[D]")).astype(int)
            # Fish marked after all netting wait for netting to come.
            if name == "marked" and days_to.max() < 0:
                continue
            apart = np.abs(days_to) if name == "measured" else days_to[days_to >= 0]
            years = float(apart.min()) / _DAYS_A_YEAR
            if years > _YEARS_AWAY:
                rows[row.lake, row.date].append(row.row)
                away[row.lake, row.date] = years
        for (lake, day), places in rows.items():
            said = {"lake": lake, "years": away[lake, day], "rows": places}
            codes = {"measured": Odd.MEASURED_YEARS_AWAY, "marked": Odd.MARKED_YEARS_BEFORE}
            yield draft.problem(codes[name], name, places[0], "date", **said)


def names_that_differ_by_case(draft: Draft) -> Iterator[Problem]:
    """Find names that are the same but for capital letters, and count as two."""
    for table, column, within in (
        ("lakes", "lake", None),
        ("pulls", "net", "lake"),
        ("marked", "batch", "lake"),
        ("bycatch", "species", None),
    ):
        frame = draft.frames[table]
        rows: dict[Any, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
        places = frame[within] if within else [""] * len(frame)
        for place, name, row in zip(places, frame[column], frame["row"].tolist(), strict=True):
            if name:
                rows[place, name.casefold()][name].append(row)
        for spellings in rows.values():
            usual = max(spellings, key=lambda name: (len(spellings[name]), -spellings[name][0]))
            for name, its_rows in spellings.items():
                if name == usual:
                    continue
                said: dict[str, Any] = {"usual": usual, "usual_rows": spellings[usual]}
                at = (table, its_rows[0], column)
                yield draft.problem(Odd.NAME_IN_OTHER_CASE, *at, noun=column, rows=its_rows, **said)
