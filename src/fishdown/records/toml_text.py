"""Read TOML: the settings of a campaign, model files and plan files."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from fishdown.records.codes import Wrong
from fishdown.records.plain_file import UnreadableError

# The files shipped with fishdown have up to 3,000 letters. Reading a dotted name takes time with
# the square of its length: two seconds for one of 20,000 letters, a minute for 100,000.
_MOST_LETTERS = 20_000
# A prior's number is three tables deep.
_DEEPEST = 20
# TOML lets a reader take whole numbers of 64 bits only.
_LARGEST = 2**63 - 1
_SECTION = re.compile(r"\s*\[([^\[\]]+)\]")
# Every text fits in one way at most: with several, a line of dots in a text of several lines would
# be tried in ways that double with each dot.
_PART = r"""(?:"[^"]*"|'[^']*'|[\w-]+)"""
_SETTING = re.compile(rf"\s*({_PART}(?:\s*\.\s*{_PART})*)\s*=", re.ASCII)
_KEY = re.compile(r"""\s*(?:\[+\s*)?(?:"([^"]*)"|'([^']*)'|([\w-]+))\s*[=.\]]""", re.ASCII)


def read_toml(text: str) -> dict[str, Any]:
    """Read the text of a TOML file.

    Returns
    -------
    dict
        Tables and values. Numbers may still be infinite or NaN, which TOML allows.

    Raises
    ------
    UnreadableError
        If it is not TOML, is nested too deep or has whole numbers that no computer takes; with
        the line where that is known.
    """
    if len(text) > _MOST_LETTERS:
        raise UnreadableError(Wrong.TOML_TOO_LONG, letters=len(text), most=_MOST_LETTERS)
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said, _, where = str(error).partition(" (at ")
        line = re.match(r"line (\d+)", where)
        row = int(line[1]) if line else max(len(text.splitlines()), 1)
        raise UnreadableError(Wrong.NOT_TOML, row, said=said[:1].lower() + said[1:]) from None
    except RecursionError:
        lines = enumerate(text.splitlines(), 1)
        deep = (row for row, line in lines if len(re.findall(r"[\[{]", line)) > _DEEPEST)
        raise _too_deep(next(deep, None)) from None
    except ValueError:
        # Python turns no digits beyond some thousands into a number.
        long = re.search(r"\d[\d_]{1000}", text)
        raise _too_large(text.count("\n", 0, long.start()) + 1 if long else None) from None
    _refuse_extremes(content, text)
    return content


def rows_of_keys(text: str) -> dict[str, int]:
    """Find the line that first names each key or table.

    Returns
    -------
    dict of str to int
        Name to line; names inside of inline tables are not found.
    """
    rows: dict[str, int] = {}
    for row, line in enumerate(text.splitlines(), 1):
        if found := _KEY.match(line):
            name = next(part for part in found.groups() if part is not None)
            rows.setdefault(name, row)
    return rows


def rows_of_settings(text: str) -> dict[str, int]:
    """Find the line of each setting by its name with points, such as ``headings.pulls.caught``.

    Returns
    -------
    dict of str to int
        Full name to line; names inside of inline tables are not found.
    """
    rows: dict[str, int] = {}
    section = ""
    for row, line in enumerate(text.splitlines(), 1):
        if found := _SECTION.match(line):
            section = f"{_bare(found[1])}."
            rows.setdefault(section[:-1], row)
        elif found := _SETTING.match(line):
            rows.setdefault(section + _bare(found[1]), row)
    return rows


def _bare(name: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in name.split("."))


def _refuse_extremes(content: dict[str, Any], text: str) -> None:
    # Not by recursion, which is what deep nesting would exhaust.
    waiting: list[tuple[Any, tuple[str, ...], int]] = [(content, (), 0)]
    while waiting:
        value, names, depth = waiting.pop()
        if depth > _DEEPEST:
            raise _too_deep(_row_of(names, text))
        if isinstance(value, dict):
            waiting += [(inner, (*names, name), depth + 1) for name, inner in value.items()]
        elif isinstance(value, list):
            waiting += [(inner, names, depth + 1) for inner in value]
        elif isinstance(value, int) and not -_LARGEST <= value <= _LARGEST:
            raise _too_large(_row_of(names, text))


def _row_of(names: tuple[str, ...], text: str) -> int | None:
    """Find the line of the innermost name that begins one."""
    rows = rows_of_keys(text)
    return next((rows[name] for name in reversed(names) if name in rows), None)


def _too_deep(row: int | None) -> UnreadableError:
    return UnreadableError(Wrong.TOML_TOO_DEEP, row, most=_DEEPEST)


def _too_large(row: int | None) -> UnreadableError:
    return UnreadableError(Wrong.TOML_NUMBER_TOO_LARGE, row, most=_LARGEST)
