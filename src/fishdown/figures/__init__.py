"""Figures of a fit, each with a description in words made from the same numbers.

>>> from fishdown import figures
>>> figures.draw(fit, "biomass").savefig("biomass.pdf")
>>> figures.describe(fit, "biomass")

Every module here but `canvas` and `files` is one figure. It has ``TITLE``,
``missing(fit)`` (why there is nothing to draw, or an empty string), and ``draw`` and ``describe``
of a `canvas.View` of a fit. Some are of decisions, not of a fit, and have no name in `NAMES`:
`ahead` and `years_ahead` take the tables of `decisions` of the same names, `plan` a
`PlannedSeason`, `budget` the curve of a `Budget`.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from fishdown.errors import FishdownError
from fishdown.units import shown_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from fishdown.figures.canvas import View
    from fishdown.palette import Palette
    from fishdown.posterior.fitted import FittedCampaign

# In the order in which people ask; a name is that of its module and of its file.
NAMES = (
    "biomass",
    "abundance",
    "cooling",
    "depletion",
    "evidence",
    "lakes",
    "years",
    "bycatch",
    "convergence",
    "ranks",
)
# Drawn season by season in the report; the others show all seasons at once.
BY_SEASON = ("abundance", "cooling", "depletion")


def draw(
    fit: FittedCampaign,
    name: str,
    *,
    seasons: Sequence[int] | None = None,
    palette: str = "light",
    despite_gate: bool = False,
    **options: Any,
) -> Figure:
    """Draw one figure.

    Parameters
    ----------
    name : str
        One of `NAMES`.
    seasons : sequence of int, optional
        Positions of the seasons to show; by default all.
    palette : {"light", "print", "page"}
    despite_gate : bool
        Draw also what a failed gate would withhold.
    **options
        Passed on to the figure: ``own`` of ``lakes``.

    Raises
    ------
    FishdownError
        If there is no such figure or palette, or the fit holds nothing to draw in it.
    """
    import matplotlib as mpl

    from fishdown.palette import palette_named, settings

    module = _module(name)
    reason = module.missing(fit)
    if reason:
        raise FishdownError(f"nothing to draw in the figure {name}: {reason}")
    colours = palette_named(palette)
    view = _view(fit, seasons, colours, despite_gate=despite_gate)
    with mpl.rc_context(settings(colours)), shown_in(fit.units):  # type: ignore[arg-type]
        figure: Figure = module.draw(view, **options)
    return figure


def describe(
    fit: FittedCampaign,
    name: str,
    *,
    seasons: Sequence[int] | None = None,
    despite_gate: bool = False,
) -> str:
    """Describe a figure in words, from the same numbers; its alternative text."""
    with shown_in(fit.units):
        text: str = _module(name).describe(_view(fit, seasons, despite_gate=despite_gate))
    return text


def missing(fit: FittedCampaign, name: str) -> str:
    """Return why a figure has nothing to draw; empty when it has."""
    reason: str = _module(name).missing(fit)
    return reason


def title(name: str) -> str:
    """Return the title of a figure."""
    text: str = _module(name).TITLE
    return text


def _view(
    fit: FittedCampaign,
    seasons: Sequence[int] | None,
    palette: Palette | None = None,
    *,
    despite_gate: bool,
) -> View:
    from fishdown.figures.canvas import View
    from fishdown.palette import LIGHT

    shown = range(fit.campaign.seasons.sizes["season"]) if seasons is None else seasons
    return View(fit, list(shown), palette or LIGHT, despite_gate)


def _module(name: str) -> Any:
    if name not in NAMES:
        raise FishdownError(f"no figure is called {name!r}; there are {', '.join(NAMES)}")
    return importlib.import_module(f"fishdown.figures.{name}")
