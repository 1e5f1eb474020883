"""The settings of a campaign: what campaign.toml (or the sheet ``campaign``) says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC
from typing import TYPE_CHECKING

from fishdown.records.cells import CellError, parse
from fishdown.records.codes import Odd, Wrong
from fishdown.records.entry import Entry
from fishdown.records.headings import flat, heading_problems, headings_written, on_headings
from fishdown.records.notation import DATE_STYLES, DECIMALS, ISO_DATES, Notation
from fishdown.records.problems import Problem, nearest
from fishdown.records.toml_text import read_toml, rows_of_keys, rows_of_settings
from fishdown.records.us_columns import us_name, us_unit
from fishdown.records.zones import zone_named
from fishdown.units import SYSTEMS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.records.source import Source
    from fishdown.units import System

# Common practice, no source: above roughly this much common carp, water clears poorly.
COMMON_CARP_THRESHOLD_KG_PER_HA = 100.0
COMMON_CARP_NAMES = ("common carp", "cyprinus carpio")

_WHAT = {
    "title": "the campaign's title in quotation marks",
    "species": 'the fish that is removed, such as "common carp"',
    "threshold_kg_per_ha": "the biomass density to get below, in kg/ha, above 0",
    "threshold_lb_per_acre": "the biomass density to get below, in lb/acre, above 0",
    "currency": 'the currency of the costs, such as "EUR"',
    "cost_per_pull": "the cost of one pull, 0 or more",
    "cost_per_field_day": "the cost of one field day, 0 or more",
    "cost_per_penned_fish": "the cost of one marked fish kept in a pen, 0 or more",
    "cost_per_double_mark": "the cost of checking one fish for two marks, 0 or more",
    "cost_per_antenna": "the cost of an antenna for a season, 0 or more",
    "cost_per_survey": "the cost of one run of another gear, 0 or more",
    "cost_per_weighed_fish": "the cost of weighing one fish, 0 or more",
    "model": "the name of a model in quotation marks",
    "time_zone": 'the time zone of the antenna\'s clock, such as "America/Chicago" or "-06:00"',
    "units": 'the units of the results, "metric" or "us"',
    "dates": 'how dates are written, such as "day.month.year" or "month/day/year"',
    "decimal": 'the sign before the decimals, "point" or "comma"',
}
_NUMBERS = {"threshold_kg_per_ha", "threshold_lb_per_acre"} | {
    name for name in _WHAT if name.startswith("cost_per_")
}
_REQUIRED = ("title", "species")
_CHOICES = {
    "units": (SYSTEMS, Wrong.UNKNOWN_UNITS),
    "dates": (DATE_STYLES, Wrong.UNKNOWN_DATE_STYLE),
    "decimal": (DECIMALS, Wrong.NEITHER_POINT_NOR_COMMA),
}


def is_common_carp(species: str) -> bool:
    """Return whether a species, as people write it, is the common carp."""
    return species.lower() in COMMON_CARP_NAMES


@dataclass(frozen=True)
class Settings:
    """What holds for the whole campaign.

    Attributes
    ----------
    title : str
        Title of the campaign.
    species : str
        The fish that is removed.
    threshold_kg_per_ha : float
        Biomass density to get below (kg/ha); 100 if left out for common carp
        (common practice, no source).
    currency : str or None
        Currency of the costs.
    cost_per_pull : float or None
        Cost of one pull, in `currency`.
    cost_per_field_day : float or None
        Cost of one field day, in `currency`.
    cost_per_penned_fish, cost_per_double_mark, cost_per_weighed_fish : float or None
        Cost of a marked fish kept in a pen, checked for two marks, and of a fish weighed.
    cost_per_antenna, cost_per_survey : float or None
        Cost of an antenna for a season, and of a run of another gear.
    model : str or None
        Name of the model to fit.
    time_zone : str or None
        Where the clock was that wrote times without an offset.
    units : {"metric", "us"}
        Of what people read; everything is computed in metric units.
    """

    title: str
    species: str
    threshold_kg_per_ha: float
    currency: str | None = None
    cost_per_pull: float | None = None
    cost_per_field_day: float | None = None
    cost_per_penned_fish: float | None = None
    cost_per_double_mark: float | None = None
    cost_per_antenna: float | None = None
    cost_per_survey: float | None = None
    cost_per_weighed_fish: float | None = None
    model: str | None = None
    time_zone: str | None = None
    units: System = "metric"


def toml_entries(text: str) -> dict[str, Entry]:
    """Read the text of campaign.toml.

    Raises
    ------
    UnreadableError
        If the text is not TOML.
    """
    content, entries = read_toml(text), {}
    rows, lines = rows_of_keys(text), rows_of_settings(text)
    for name, value in content.items():
        if on_headings(name):
            for path, inner in flat(name, value):
                entries[path] = Entry(inner, lines.get(path, rows.get(name)))
        else:
            entries[name] = Entry(value, rows.get(name))
    return entries


def read_settings(file: str, entries: Mapping[str, Entry]) -> tuple[Settings | None, list[Problem]]:
    """Check the settings of a campaign.

    Parameters
    ----------
    file : str
        Name to show in problems.

    Returns
    -------
    settings : Settings or None
        None if a setting is wrong or a required one is missing.
    problems : list of Problem
        Everything wrong with them.
    """
    problems = [
        Problem(Odd.UNKNOWN_SETTING, file, entry.row, name, values=_meant(name))
        for name, entry in entries.items()
        if name not in _WHAT and not on_headings(name)
    ]
    problems += heading_problems(file, entries)
    values: dict[str, object] = {}
    wrong_names = set()
    for name, what in _WHAT.items():
        entry, advice = entries.get(name), f"write {what}"
        if entry is None or (isinstance(entry.value, str) and not entry.value.strip()):
            if name in _REQUIRED:
                missing = Problem(
                    Wrong.MISSING_SETTING, file, None, name, values={"advice": advice}
                )
                problems.append(missing)
            continue
        try:
            values[name] = _value(name, entry.value)
        except CellError as error:
            wrong_names.add(name)
            problems.append(error.at(file, entry.row, name, str(entry.value), advice=advice))

    species = values.get("species")
    threshold = "threshold_kg_per_ha"
    us = us_name(threshold)
    if us in values and threshold in values:
        entry = entries[us]
        said = {"other": threshold}
        twice = Problem(Wrong.THRESHOLD_IN_TWO_UNITS, file, entry.row, us, str(entry.value), said)
        problems.append(twice)
    elif isinstance(given := values.pop(us, None), float):
        values[threshold] = us_unit(threshold).to_metric(given)
    if us in wrong_names:
        wrong_names.add(threshold)
    if threshold not in values and threshold not in wrong_names and isinstance(species, str):
        if is_common_carp(species):
            values[threshold] = COMMON_CARP_THRESHOLD_KG_PER_HA
        else:
            said = {"species": species, "advice": f"write {_WHAT[threshold]}"}
            problems.append(Problem(Wrong.MISSING_THRESHOLD, file, None, threshold, values=said))
    if any(problem.severity == "error" for problem in problems):
        return None, problems
    # How cells are written concerns nobody once they are read.
    kept = {name: value for name, value in values.items() if name not in ("dates", "decimal")}
    return Settings(**kept), problems  # type: ignore[arg-type]


def set_up(source: Source, entries: Mapping[str, Entry], tried: Mapping[str, str]) -> None:
    """Take up the settings of a campaign.

    Parameters
    ----------
    entries : mapping of str to Entry
        As written.
    tried : mapping of str to str
        Others to read the records with, in place of those of the same name.
    """
    source.entries = {**entries, **entries_tried(tried)}
    source.notation = notation_written(source.entries)


def entries_tried(tried: Mapping[str, str]) -> dict[str, Entry]:
    """Return settings that are tried as if they were written."""
    return {name: Entry(value, None) for name, value in tried.items()}


def notation_written(entries: Mapping[str, Entry] | None) -> Notation:
    """Return how the settings say that cells are written, plain where they say nothing.

    What cannot be understood has a problem of its own; so that not every cell has another, dates
    and decimals then count as plain, and times without an offset as universal.
    """
    entries = entries or {}
    dates, decimal, named = (_text_of(entries, name) for name in ("dates", "decimal", "time_zone"))
    try:
        zone = zone_named(named) if named else None
    except CellError:
        zone = UTC
    return Notation(
        dates if dates in DATE_STYLES else ISO_DATES,
        "comma" if decimal == "comma" else "point",
        zone,
        headings_written(entries),
    )


def _text_of(entries: Mapping[str, Entry], name: str) -> str:
    entry = entries.get(name)
    return "" if entry is None else str(entry.value).strip()


def _value(name: str, value: object) -> object:
    if name not in _NUMBERS:
        if not isinstance(value, str):
            raise CellError(Wrong.NOT_TEXT)
        text = parse(value.strip(), "text")
        if name == "time_zone":
            zone_named(value.strip())
        if name in _CHOICES:
            choices, code = _CHOICES[name]
            if text not in choices:
                raise CellError(code)
        # A path may hold spaces of any number.
        return value.strip() if name == "model" else text
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise CellError(Wrong.NOT_A_NUMBER)
    number = parse(str(value), "number")
    assert isinstance(number, float)
    if number < 0 or (name.startswith("threshold") and number == 0):
        raise CellError(Wrong.NEGATIVE if number else Wrong.ZERO_OR_NEGATIVE)
    return number


def _meant(name: str) -> dict[str, object]:
    return {"like": nearest(name, _WHAT), "known": list(_WHAT)}
