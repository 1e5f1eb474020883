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
# How they are cut on the page, where a picture must be readable on a phone: season by season, or
# lake by lake, so many seasons in a picture if those of one lake are not more. The others show all.
BY_SEASON = ("abundance", "cooling", "depletion")
BY_LAKE = {"biomass": 4, "evidence": 4, "years": 1, "bycatch": 4}


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


def parts(fit: FittedCampaign, name: str) -> list[list[int] | None]:
    """Return the seasons of each picture into which a figure is cut on the page.

    Returns
    -------
    list of list of int or None
        One picture each; None stands for a figure of all seasons. Seasons of which the figure
        shows nothing are left out.
    """
    if name not in BY_SEASON and name not in BY_LAKE:
        return [None]
    module = _module(name)
    view = _view(fit, None, despite_gate=False)
    if name in BY_SEASON:
        return [[season] for season in view.netted]
    pictures: list[list[int]] = []
    for several in view.by_lake(module.shown(view)):
        if pictures and len(pictures[-1]) + len(several) <= BY_LAKE[name]:
            pictures[-1] += several
        else:
            pictures.append(several)
    return [*pictures]


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
