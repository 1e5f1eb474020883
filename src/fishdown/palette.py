"""Our colours, for the screen and for paper: one meaning each, told apart by colour-blind eyes.

What was counted is ink; what was estimated is colour; the threshold has a colour and a dash of its
own. `tests/figures/test_figures_palette.py` holds the colours against simulated colour blindness.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from fishdown.errors import FishdownError


@dataclass(frozen=True)
class Palette:
    """Colours by what they stand for.

    Attributes
    ----------
    name : str
        As the command line calls it.
    paper, ink, quiet, grid : str
        Background, text and records, secondary text, lines of the grid.
    estimate : str
        What is left, and whatever else the posterior says.
    other : str
        What was there before, or the other of two estimates.
    threshold : str
        The management threshold.
    """

    name: str
    paper: str
    ink: str
    quiet: str
    grid: str
    estimate: str
    other: str
    threshold: str


LIGHT = Palette(
    name="light",
    paper="#fbfaf6",
    ink="#14222a",
    quiet="#55626a",
    grid="#e4e0d5",
    estimate="#0b6390",
    other="#c2740c",
    threshold="#b8255f",
)
# On paper blue and ochre also differ by lightness, for printers without colour.
PRINT = Palette(
    name="print",
    paper="#ffffff",
    ink="#000000",
    quiet="#444444",
    grid="#dddddd",
    estimate="#00466e",
    other="#bf8b12",
    threshold="#8f1447",
)
# For the report, which is read on a screen and printed: the colours of the one on white.
PAGE = replace(LIGHT, name="page", paper="#ffffff")
# The same on a dark screen, where the page and its pictures change colours by themselves.
DARK = Palette(
    name="dark",
    paper="#182127",
    ink="#e9e6dd",
    quiet="#a9b3b8",
    grid="#323d44",
    estimate="#62b5e5",
    other="#eda646",
    threshold="#f0649c",
)
PALETTES = {palette.name: palette for palette in (LIGHT, PRINT, PAGE)}


def palette_named(name: str) -> Palette:
    """Return a palette by its name.

    Raises
    ------
    FishdownError
        If there is none of that name.
    """
    if name not in PALETTES:
        raise FishdownError(f"no palette is called {name!r}; there are {', '.join(PALETTES)}")
    return PALETTES[name]


def settings(palette: Palette) -> dict[str, Any]:
    """Return Matplotlib's settings for a palette."""
    from cycler import cycler

    return {
        "figure.facecolor": palette.paper,
        "savefig.facecolor": palette.paper,
        "axes.facecolor": palette.paper,
        "axes.edgecolor": palette.quiet,
        "axes.labelcolor": palette.ink,
        "axes.grid": True,
        "axes.axisbelow": True,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.linewidth": 0.8,
        # For whoever draws without asking for a colour: C0 is an estimate, C3 an alarm.
        "axes.prop_cycle": cycler(
            color=[palette.estimate, palette.other, palette.quiet, palette.threshold]
        ),
        "axes.titlelocation": "left",
        "axes.titlesize": 9.5,
        "axes.titleweight": "bold",
        "axes.titlecolor": palette.ink,
        "axes.labelsize": 8.5,
        "grid.color": palette.grid,
        "grid.linewidth": 0.7,
        "xtick.color": palette.quiet,
        "ytick.color": palette.quiet,
        "xtick.labelsize": 8,
        "ytick.labelsize": 8,
        "text.color": palette.ink,
        "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"],
        "font.size": 8.5,
        "legend.frameon": False,
        "legend.fontsize": 8,
        "hatch.linewidth": 0.6,
        # Names of lakes are shown as they were written: a dollar sign starts no formula.
        "text.parse_math": False,
    }
