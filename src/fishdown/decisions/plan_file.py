"""The file that asks for a plan: what can be written in it, and what is wrong with it."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fishdown.decisions.codes import PlanCode
from fishdown.decisions.plan_design import MARKS, WEIGHED, WORLDS, Candidate, Plan
from fishdown.errors import PlanError
from fishdown.records.cells import refuse_year
from fishdown.records.codes import Wrong
from fishdown.records.plain_file import UnreadableError, as_text, read_plain
from fishdown.records.plausible import PLAUSIBLE
from fishdown.records.problems import NoPlaceError, Problem, ProblemCode, listed, nearest
from fishdown.records.toml_text import read_toml, rows_of_keys
from fishdown.words import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
MOST_CANDIDATES = 200
# Before netting and a week after marking there are no more.
MOST_NIGHTS = 20
# Stands for "above 0".
TINY = 1e-6


@dataclass(frozen=True)
class _Entry:
    read: Callable[[Any], Any]
    mend: str
    default: Any = None
    needed: bool = True


def _number(least: float, most: float = math.inf, *, whole: bool = False) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        kinds = int if whole else (int, float)
        if isinstance(value, bool) or not isinstance(value, kinds) or not math.isfinite(value):
            raise NoPlaceError(Wrong.NOT_WHOLE if whole else Wrong.NOT_A_NUMBER)
        if not least <= value <= most:
            if least == TINY and most == math.inf:
                raise NoPlaceError(PlanCode.NOT_ABOVE_ZERO)
            limit = most if most < math.inf else None
            raise NoPlaceError(PlanCode.OUTSIDE, least=least, most=limit)
        return value

    return read


def _real(quantity: str) -> Callable[[Any], Any]:
    """Read a number above 0 that is within what any real lake or fish has."""
    known, number = PLAUSIBLE[quantity], _number(TINY)

    def read(value: Any) -> Any:
        if not known.least <= number(value) <= known.most:
            raise NoPlaceError(PlanCode.OUTSIDE_PLAUSIBLE, plausible=known)
        return value

    return read


def _guess(one: Callable[[Any], Any]) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        ends = value if isinstance(value, list) else [value, value]
        if len(ends) != 2:
            raise NoPlaceError(PlanCode.NOT_ONE_OR_TWO)
        low, high = float(one(ends[0])), float(one(ends[1]))
        if low > high:
            raise NoPlaceError(PlanCode.LOWER_END_FIRST)
        return low, high

    return read


def _wholes(least: int, most: float = math.inf) -> Callable[[Any], Any]:
    one = _number(least, most, whole=True)

    def read(value: Any) -> Any:
        values = value if isinstance(value, list) else [value]
        if not values:
            raise NoPlaceError(PlanCode.EMPTY_LIST)
        return tuple(dict.fromkeys(one(number) for number in values))

    return read


def _day(value: Any) -> dt.date:
    if isinstance(value, dt.datetime) or not isinstance(value, dt.date):
        raise NoPlaceError(PlanCode.NOT_A_DATE)
    refuse_year(value.year)
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise NoPlaceError(Wrong.NOT_TEXT)
    return value


def _one_of(known: tuple[str, ...]) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if value not in known:
            raise NoPlaceError(PlanCode.NOT_ONE_OF, known=list(known))
        return str(value)

    return read


def _yes_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise NoPlaceError(PlanCode.NOT_TRUE_OR_FALSE)
    return value


_RANGE = "one number, or [low, high] as its 90 % interval"
# Entries that stood in another table once.
_MOVED = {("season", "weighed"): "candidates"}
# Table → entry → how to read it. Names are different in all tables, so that each has its line.
_ENTRIES: dict[str, dict[str, _Entry]] = {
    "lake": {
        "area_ha": _Entry(_real("area_ha"), "write the lake's area in ha"),
        "threshold_kg_per_ha": _Entry(_real("threshold_kg_per_ha"), "write the threshold in kg/ha"),
        "connected": _Entry(_yes_no, "write true or false", False),
    },
    "guess": {
        "fish_per_ha": _Entry(_guess(_real("fish_per_ha")), f"write fish/ha, {_RANGE}"),
        "mean_weight_kg": _Entry(_guess(_real("weight_kg")), f"write kg, {_RANGE}"),
        "area_fished_ha": _Entry(
            _guess(_number(TINY, 1e6)),
            f"write the effective area fished per pull (ha) at 20 °C, {_RANGE}",
            needed=False,
        ),
        "share_a_pull": _Entry(
            _guess(_number(TINY, 0.99)),
            f"write the share of the fish that one pull takes at 20 °C, {_RANGE}",
            needed=False,
        ),
        "temperature_effect": _Entry(
            _guess(_number(TINY, 100.0)),
            f"write the catchability ratio for 10 °C of cooling, {_RANGE}",
            (0.3, 0.8),
        ),
        "schooling": _Entry(
            _guess(_number(0.01, 3.0)),
            f"write the coefficient of variation of catchability between pulls, {_RANGE}",
            (0.5, 1.0),
        ),
    },
    "temperatures_c": {
        month: _Entry(_number(-2.0, 40.0), "write the month's temperature in °C", needed=False)
        for month in MONTHS
    },
    "season": {
        "first_day": _Entry(_day, "write the first day of netting, such as 2027-06-15"),
        "days_between": _Entry(
            _number(1.0, 60.0), "write the days from one round to the next", 7.0
        ),
        "mark": _Entry(_one_of(MARKS), 'write "fin_clip" or "pit_tag"', MARKS[0]),
        "marking_days": _Entry(_number(0, 60, whole=True), "write the days of marking", 1),
    },
    "costs": {
        "currency": _Entry(_text, 'write a currency, such as "EUR"', ""),
        **{
            name: _Entry(_number(0.0, 1e9), "write a cost, 0 or more", 0.0)
            for name in (
                "per_marked_fish", "per_double_mark", "per_penned_fish", "per_antenna",
                "per_antenna_night", "per_survey", "per_weighed_fish", "per_net", "per_pull",
                "per_field_day",
            )
        },
    },
    "candidates": {
        "marked": _Entry(_wholes(1), "write fish to mark, such as [50, 100, 200]"),
        "nets": _Entry(_wholes(1, 1_000), "write numbers of nets, such as [4, 8]"),
        "rounds": _Entry(
            _wholes(2, 366), "write days on which all nets are pulled, such as [6, 12]"
        ),
        "double_marked": _Entry(
            _wholes(0), "write how many of the fish carry two marks, such as [0, 50]", (0,)
        ),
        "penned": _Entry(_wholes(0), "write marked fish to keep in a pen, such as [0, 50]", (0,)),
        "antenna_nights": _Entry(
            _wholes(0, MOST_NIGHTS), "write nights of listening before netting, such as [0, 10]",
            (0,),
        ),
        "surveyed": _Entry(
            _wholes(0, 100_000),
            "write fish that another gear looks at before netting, such as [0, 300]",
            (0,),
        ),
        "weighed": _Entry(
            _wholes(2, 10_000), "write how many fish are weighed, 2 or more, such as [60, 120]",
            (WEIGHED,),
        ),
    },
    "target": {
        "half_width": _Entry(
            _number(0.01, 2.0), "write a relative half-width, such as 0.25", needed=False
        ),
        "right_and_firm": _Entry(
            _number(0.05, 0.99), "write a chance, such as 0.8", needed=False
        ),
    },
    "simulation": {
        "simulations": _Entry(_number(5, 10_000, whole=True), "write 5 or more", 24),
        "most_simulations": _Entry(_number(5, 10_000, whole=True), "write 5 or more", 120),
        "worlds": _Entry(_one_of(WORLDS), 'write "messy" or "plain"', WORLDS[0]),
        "seed": _Entry(_number(0, whole=True), "write a whole number, 0 or more", 1),
    },
}  # fmt: skip


def read_plan(path: str | Path) -> Plan:
    """Read a plan file.

    Raises
    ------
    PlanError
        If it cannot be read, or with everything that is wrong in it.
    """
    path = Path(path)
    try:
        text = as_text(read_plain(path))
        content = read_toml(text)
    except UnreadableError as error:
        place = f"{path}, row {error.row}" if error.row else str(path)
        raise PlanError(f"cannot read the plan file {place}: {error}") from None
    return parse_plan(content, path.name, text)


def parse_plan(content: dict[str, Any], file: str = "plan", text: str = "") -> Plan:
    """Make a plan of the tables of a plan file; see `models/README.md`, section "Planning"."""
    problems: list[Problem] = []
    rows = rows_of_keys(text)

    def wrong(code: ProblemCode, name: str, value: Any = None, **values: object) -> None:
        written = "" if value is None else str(value)
        problems.append(Problem(code, file, rows.get(name), name, written, values))

    for name in content:
        if name not in _ENTRIES:
            wrong(PlanCode.UNKNOWN_TABLE, name, **_meant(name, _ENTRIES))
    values: dict[str, Any] = {}
    for table, entries in _ENTRIES.items():
        given = content.get(table, {})
        if not isinstance(given, dict):
            wrong(PlanCode.NOT_A_TABLE, table, given, table=table)
            given = {}
        for name in given:
            if (table, name) in _MOVED:
                wrong(PlanCode.MOVED_ENTRY, name, given[name], table=_MOVED[table, name])
            elif name not in entries:
                said = _meant(name, entries)
                wrong(PlanCode.UNKNOWN_ENTRY, name, given[name], table=table, **said)
        for name, entry in entries.items():
            if name not in given:
                values[name] = entry.default
                if entry.needed and entry.default is None:
                    wrong(PlanCode.MISSING_ENTRY, name, table=table, advice=entry.mend)
                continue
            try:
                values[name] = entry.read(given[name])
            except NoPlaceError as error:
                values[name] = None
                wrong(error.code, name, given[name], **error.values, advice=entry.mend)
    ways = [name for name in ("area_fished_ha", "share_a_pull") if name in content.get("guess", {})]
    if len(ways) != 1:
        advice = _ENTRIES["guess"]["area_fished_ha"].mend + ", or share_a_pull, and not both"
        wrong(PlanCode.AREA_OR_SHARE, "area_fished_ha", advice=advice)
    targets = [name for name in _ENTRIES["target"] if name in content.get("target", {})]
    if not targets:
        wrong(PlanCode.NO_TARGET, "target")
    if not any(values[month] is not None for month in MONTHS):
        wrong(PlanCode.NO_MONTH, "temperatures_c")
    if not problems:
        _check_together(values, wrong)
    if problems:
        lines = "\n".join(f"  {line}" for line in listed(sorted(problems)))
        raise PlanError(f"{counted(len(problems), 'problem')} in the plan:\n{lines}")
    return _plan(values)


def _check_together(values: dict[str, Any], wrong: Callable[..., None]) -> None:
    designs = math.prod(len(values[name]) for name in _ENTRIES["candidates"])
    if designs > MOST_CANDIDATES:
        wrong(PlanCode.TOO_MANY_DESIGNS, "candidates", designs=designs, most=MOST_CANDIDATES)
    elif not _designs(values):
        wrong(PlanCode.NO_DESIGN, "candidates")
    turns = max(values["rounds"]) - 1
    length = (turns // 2) * 2 * values["days_between"] + 3 * (turns % 2)
    last = values["first_day"] + dt.timedelta(days=round(length))
    if last.year != values["first_day"].year:
        wrong(PlanCode.SEASON_INTO_NEXT_YEAR, "rounds", max(values["rounds"]), last=last)
    fewest = values["fish_per_ha"][0] * values["area_ha"]
    for name in ("marked", "surveyed"):
        if max(values[name]) > 0.5 * fewest:
            wrong(PlanCode.ABOVE_HALF, name, max(values[name]), fish=fewest)


def _plan(values: dict[str, Any]) -> Plan:
    fished = values["area_fished_ha"]
    if fished is None:
        fished = tuple(-math.log1p(-q) * values["area_ha"] for q in values["share_a_pull"])
    middle = {month: dt.date(2001, place, 15) for place, month in enumerate(MONTHS, start=1)}
    taken = {name: values[name] for name in Plan.__dataclass_fields__ if name in values}
    return Plan(
        **{
            **taken,
            "area_fished_ha": fished,
            "temperatures": tuple(
                (middle[month].timetuple().tm_yday, float(values[month]))
                for month in MONTHS
                if values[month] is not None
            ),
            "costs": {name: values[name] for name in _ENTRIES["costs"] if name != "currency"},
            "candidates": _designs(values),
            "most_simulations": max(values["simulations"], values["most_simulations"]),
        }
    )


def _designs(values: dict[str, Any]) -> tuple[Candidate, ...]:
    """Return every combination that is possible."""
    combined = product(*(values[name] for name in _ENTRIES["candidates"]))
    designs = (Candidate(*numbers) for numbers in combined)
    return tuple(design for design in designs if design.possible(values["mark"]))


def _meant(name: str, known: Mapping[str, Any]) -> dict[str, Any]:
    return {"like": nearest(name, known), "known": list(known)}
