"""Sentences for people from templates with named values, as findings have them.

Beyond what `str.format` knows:

- ``{rows}``: a list of numbers is a list of rows, a list of words has commas;
- ``{fish:#catch/catches}``: a count with its noun, for one and for several (an s if left out);
- ``{chance:percent}``, ``{share:part}``: as `fishdown.words` has them, "84 %", "about a fifth";
- ``{length_mm:unit mm}``: a number with its unit, or in US customary units where the value ``us``
  says so; the unit may be a value, too: ``{middle:unit {unit}}``;
- ``<, from {lake}>``: left out where one of its values is missing (None, False, 0 or empty);
- ``< ({rows:several})>``: left out for one row alone, which is that of the finding itself;
- ``<{large:?}long|short>``: the words depend on this value only, which is not written; those
  after the last bar are for all other cases.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from string import Formatter
from typing import TYPE_CHECKING, Any

from fishdown.units import with_unit
from fishdown.words import counted, listed_rows, part_words, percent

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from enum import StrEnum

_WORDS: dict[str, Callable[[Any], str]] = {
    "?": lambda _: "",
    "percent": percent,
    "part": part_words,
}
_UNIT = "unit "
_OPTIONAL = re.compile(r"<([^<>]*)>")


@dataclass(frozen=True)
class Said:
    """A code, which is its own template, with its values; as text, the sentence."""

    code: StrEnum
    values: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def __str__(self) -> str:
        return sentence(self.code, self.values)


def sentence(template: str, values: Mapping[str, object]) -> str:
    """Fill the values into a template.

    Parameters
    ----------
    values : mapping of str to object
        All that the template names outside of angle brackets, and perhaps more.
    """
    chosen = _OPTIONAL.sub(lambda found: _chosen(found[1], values), template)
    return _Sentence(us=bool(values.get("us"))).vformat(chosen, (), values)


def names_in(template: str) -> set[str]:
    """Return the names of the values that a template may need."""
    fields = [(name, spec) for _, name, spec, _ in Formatter().parse(template) if name]
    return {name for name, _ in fields}.union(*(names_in(spec) for _, spec in fields if spec))


def _chosen(alternatives: str, values: Mapping[str, object]) -> str:
    *conditional, otherwise = alternatives.split("|") if "|" in alternatives else [alternatives, ""]
    for words in conditional:
        fields = [(name, spec) for _, name, spec, _ in Formatter().parse(words) if name]
        conditions = [field for field in fields if field[1] == "?"] or fields
        if all(_there(values.get(name), spec) for name, spec in conditions):
            return words
    return otherwise


def _there(value: Any, spec: str | None) -> bool:
    return len(value) > 1 if spec == "several" else bool(value)


class _Sentence(Formatter):
    def __init__(self, *, us: bool) -> None:
        super().__init__()
        self._us = us

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec in _WORDS:
            return _WORDS[format_spec](value)
        if format_spec.startswith(_UNIT):
            return with_unit(value, format_spec.removeprefix(_UNIT), us=self._us)
        if format_spec.startswith("#"):
            one, _, many = format_spec[1:].partition("/")
            return counted(value, one, many or None)
        if isinstance(value, list | tuple):
            words = all(isinstance(item, str) for item in value)
            return ", ".join(value) if words else listed_rows(value)
        return format(value, format_spec)
