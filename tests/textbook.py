"""Models in which every mark counts, lakes are closed and pulls vary alike, as in textbooks."""

from __future__ import annotations

import fishdown

EVERY_MARK = {
    "marks": "all_count",
    "recaptures": "random",
    "natural_deaths": "none",
    "immigration": "none",
    "scatter": "same",
}


def textbook(name: str = "one_lake", **parts: str) -> fishdown.ModelSpec:
    """Return a shipped model with every mark counted, and other choices besides."""
    return fishdown.read_model(name).with_parts(**{**EVERY_MARK, **parts})
