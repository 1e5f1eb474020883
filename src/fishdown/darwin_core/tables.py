"""Pulls as events, and the fish in them as occurrences.

A season of a lake is an event, and its pulls are events in it; so is a net on a day where it was
pulled several times, since rows of bycatch do not say in which of these pulls the fish were.
"""

from __future__ import annotations

import json
from collections import defaultdict
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import pandas as pd

from fishdown.darwin_core.terms import EVENT_TERMS, OCCURRENCE_TERMS
from fishdown.records.covariates import COVARIATES
from fishdown.records.settings import is_common_carp
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from fishdown.records.checked import Records

PROTOCOL = "lift net over bait"
COMMON_CARP = ("common carp", "Cyprinus carpio")
_NET = ["lake", "season", "date", "net"]


def scientific_names(records: Records) -> dict[str, str]:
    """Return the scientific name of each species that has one on record."""
    names = records.species_names
    found = dict(zip(names["species"], names["scientific_name"], strict=True))
    if is_common_carp(records.settings.species):
        found.setdefault(records.settings.species, COMMON_CARP[1])
    return found


def events(records: Records) -> pd.DataFrame:
    """Tabulate seasons of lakes, nets on days with several pulls, and pulls.

    Parameters
    ----------
    records : Records

    Returns
    -------
    pandas.DataFrame
        Columns `EVENT_TERMS`, all text.
    """
    pulls, several = records.pulls, _several(records)
    rows = []
    for (lake, season), mine in pulls.groupby(["lake", "season"], sort=False):
        first, last = (day.date().isoformat() for day in (mine["date"].min(), mine["date"].max()))
        rows.append(
            {
                "eventID": _id(lake, season),
                "eventDate": first if first == last else f"{first}/{last}",
                "sampleSizeValue": str(len(mine)),
                "sampleSizeUnit": "pulls",
                "waterBody": lake,
            }
        )
    for key, count in several.items():
        lake, season, day, net = key
        rows.append(
            {
                "eventID": _net_id(key),
                "parentEventID": _id(lake, season),
                "eventDate": day.date().isoformat(),
                "sampleSizeValue": str(count) if count else "",
                "sampleSizeUnit": "pulls" if count else "",
                "waterBody": lake,
                "locality": f"net {net}",
                "eventRemarks": "" if count else "bycatch without a pull on record",
            }
        )
    for pull in rows_of(pulls):
        key = _key(pull)
        remarks = ["void lift: it failed to fish properly"] if pull.spoiled else []
        if not pull.bycatch_counted:
            remarks.append("bycatch was not counted")
        rows.append(
            {
                "eventID": _pull_id(pull),
                "parentEventID": _net_id(key) if key in several else _id(pull.lake, pull.season),
                "eventDate": pull.date.date().isoformat(),
                "sampleSizeValue": "1",
                "sampleSizeUnit": "pull",
                "waterBody": pull.lake,
                "locality": f"net {pull.net}",
                "eventRemarks": "; ".join(remarks),
                "dynamicProperties": _properties(pull),
            }
        )
    table = pd.DataFrame(rows, columns=list(EVENT_TERMS), dtype="object").fillna("")
    return table.assign(samplingProtocol=PROTOCOL, datasetName=records.settings.title)


def occurrences(records: Records) -> pd.DataFrame:
    """Tabulate the fish of each event by species, none included where that is on record.

    Parameters
    ----------
    records : Records

    Returns
    -------
    pandas.DataFrame
        Columns `OCCURRENCE_TERMS`, all text.
    """
    rows: list[tuple[str, str, int, str]] = []
    several = _several(records)
    of_net: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
    for pull in rows_of(records.pulls):
        of_net[_key(pull)].append(pull)
        rows.append((_pull_id(pull), records.settings.species, pull.caught, _target_remarks(pull)))
    counts = records.bycatch.groupby([*_NET, "species"], sort=False).agg(
        count=("count", "sum"), dead=("dead", lambda dead: dead.sum(min_count=1))
    )
    caught: dict[tuple[Any, ...], dict[str, Any]] = defaultdict(dict)
    for row in rows_of(counts.reset_index()):
        caught[_key(row)][row.species] = row
    species = list(dict.fromkeys(records.bycatch["species"]))
    for key in {**dict.fromkeys(of_net), **dict.fromkeys(caught)}:
        pulls, mine = of_net.get(key, []), caught.get(key, {})
        event = _net_id(key) if key in several else _pull_id(pulls[0])
        # That a void lift held none, or that nobody counted, says nothing of the water.
        known = pulls and all(pull.bycatch_counted and not pull.spoiled for pull in pulls)
        for name in species if known else mine:
            row = mine.get(name)
            dead = "" if row is None or pd.isna(row.dead) else f"{row.dead:.0f} dead"
            rows.append((event, name, 0 if row is None else int(row.count), dead))
    names = scientific_names(records)
    return pd.DataFrame(
        [
            (
                event,
                f"{event}/{_part(name)}",
                "HumanObservation",
                "present" if count else "absent",
                str(count),
                names.get(name, ""),
                name,
                remarks,
            )
            for event, name, count, remarks in rows
        ],
        columns=list(OCCURRENCE_TERMS),
    )


def _several(records: Records) -> dict[tuple[Any, ...], int]:
    """Return nets on days that are events of their own: pulled several times, or bycatch only."""
    pulled = records.pulls.groupby(_NET, sort=False).size().to_dict()
    caught = records.bycatch.groupby(_NET, sort=False).size()
    several = {key: int(count) for key, count in pulled.items() if count > 1}
    return several | {key: 0 for key in caught.index if key not in pulled}


def _key(row: Any) -> tuple[Any, ...]:
    return row.lake, row.season, row.date, row.net


def _id(*parts: object) -> str:
    return "/".join(map(_part, parts))


def _part(name: object) -> str:
    return quote(str(name), safe="")


def _net_id(key: tuple[Any, ...]) -> str:
    lake, season, day, net = key
    return _id(lake, season, day.date().isoformat(), net)


def _pull_id(pull: Any) -> str:
    return f"{_net_id(_key(pull))}/{pull.order}"


def _properties(pull: Any) -> str:
    """Return what Darwin Core has no term for, as JSON with the names of the records' columns."""
    columns = ("water_temp_c", *COVARIATES)
    values = {name: float(getattr(pull, name)) for name in columns if pd.notna(getattr(pull, name))}
    return json.dumps(values) if values else ""


def _target_remarks(pull: Any) -> str:
    remarks = []
    if pull.released_again:
        remarks.append(f"{pull.released_again} released alive")
    if pd.notna(pull.recaptured) and pull.recaptured:
        remarks.append(f"{pull.recaptured:.0f} marked")
    return "; ".join(remarks)
