"""Columns that are not read and yet may change what the numbers beside them mean."""

from __future__ import annotations

import difflib
import re
from typing import Literal

Meaning = Literal["examined", "note", "species"]

# Tables whose counts such a column may contradict.
_TABLES: dict[Meaning, tuple[str, ...]] = {
    "examined": ("pulls", "recaptures"),
    "note": ("pulls", "recaptures"),
    "species": ("pulls", "recaptures", "marked", "measured"),
}
_WORDS: dict[Meaning, tuple[str, ...]] = {
    "examined": (
        "exam", "examined", "looked", "checked", "inspected", "scanned", "screened",
        "subsample", "subsampled"
    ),
    "note": ("note", "notes", "comment", "comments", "remark", "remarks", "observations"),
    "species": ("species", "taxon", "taxa"),
}  # fmt: skip
# Who did it, or when, is no number of fish.
_OTHER = {"by", "who", "date", "day", "time", "when", "on"}
_LIKE = 0.9
_LONGEST_NOTE = 2_000

_VERB = r"(?:examined|checked|inspected|scanned|screened|looked (?:at|over|through))"
_GEAR = r"(?:nets?|gear|traps?|bait|lines?|boats?|batter(?:y|ies)|water|oxygen|temperature)"
_ABOUT_GEAR = re.compile(
    rf"{_GEAR} (?:\w+ ){{0,2}}{_VERB}|{_VERB} (?:(?:the|all|both|each|every|of|\d+) )*{_GEAR}"
)
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
_NO_FISH = re.compile(
    rf"\d+:\d+|\d+-\d+-\d+|\d+\.? {_MONTH}|{_MONTH} \d+|100 ?(?:%|percent)"
    r"|\d+ (?:people|persons|times|hours?|h|min|am|pm|cm|mm|kg|m)\b|(?:crew|team|net|boat) \d+"
)
_PART = re.compile(
    r"\b(?:part|partly|partially|some|few|half|third|quarter|most|not|never|nobody|percent)\b|%|n't"
)
_NEVER = re.compile(r"\b(?:unexamined|unchecked|not look|n't look|nobody looked)\b")
_SUBSAMPLE = re.compile(r"\bsub[- ]?sampl(?:e|ed|es|ing)\b")
_OF_SIZES = re.compile(r"measur|weigh|length|scale|otolith|aged|sex")
_OF_MARKS = re.compile(rf"{_VERB}|mark|clip|tag|recapt")


def meaning_of(table: str, column: str) -> Meaning | None:
    """Return what an unknown column of a table holds, if it may change what its counts mean.

    Parameters
    ----------
    table, column : str
        Names, the column's in lower case.

    Returns
    -------
    str or None
        "examined" (how many fish of a catch were examined for marks), "note", "species", or None.
    """
    parts = re.findall(r"[a-z]+", column.lower())
    if not parts or _OTHER & set(parts):
        return None
    for meaning, words in _WORDS.items():
        if table in _TABLES[meaning] and any(
            difflib.get_close_matches(part, words, n=1, cutoff=_LIKE) for part in parts
        ):
            return meaning
    return None


def examined_in_part(note: str, caught: float) -> str:
    """Find what a note says of a catch that was not examined whole.

    Returns
    -------
    str
        The words of the note that say so; empty if there are none.
    """
    # Long runs of digits take time with the square of their length.
    text = " ".join(note[:_LONGEST_NOTE].lower().split())
    sample = _SUBSAMPLE.search(text)
    if sample and (_OF_MARKS.search(text) or not _OF_SIZES.search(text)):
        return sample[0]
    for clause in re.split(r"[;,.:!?] |[.!?]$", text):
        if _NEVER.search(clause):
            return clause
        if not re.search(_VERB, clause) or _ABOUT_GEAR.search(clause):
            continue
        said = _NO_FISH.sub(" ", clause)
        numbers = [float(number) for number in re.findall(r"\d+", said)]
        if _PART.search(said) or any(number != caught for number in numbers):
            return clause
    return ""


def is_species(written: str, species: str, also: tuple[str, ...] = ()) -> bool:
    """Return whether a species as written in a row may be that of the campaign.

    Parameters
    ----------
    species : str
        The campaign's.
    also : tuple of str
        Other names of it.

    Returns
    -------
    bool
        True if one name has all the words of the other, an initial standing for its word:
        "carp", "C. carpio" and "common carp (adult)" are common carp, "grass carp" is not.
    """
    words = _words(written)
    return any(
        _within(words, _words(name)) or _within(_words(name), words) for name in (species, *also)
    )


def _words(name: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", name.casefold())


def _within(some: list[str], all_words: list[str]) -> bool:
    return bool(some) and all(
        any(word == one or (len(word) == 1 and one.startswith(word)) for one in all_words)
        for word in some
    )
