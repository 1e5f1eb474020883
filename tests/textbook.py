"""Models in which every mark counts and marked fish are caught like the others, as in textbooks."""

from __future__ import annotations

import fishdown

EVERY_MARK = {"marks": "all_count", "recaptures": "random"}


def textbook(name: str = "one_lake", **parts: str) -> fishdown.ModelSpec:
    """Return a shipped model with every mark counted, and other choices besides."""
    return fishdown.read_model(name).with_parts(**EVERY_MARK, **parts)
