"""Where commands print."""

from __future__ import annotations

from rich.console import Console


def plain_console() -> Console:
    """Return a console that prints names of lakes and nets as they were written, brackets too."""
    return Console(soft_wrap=False, highlight=False, markup=False, emoji=False)
