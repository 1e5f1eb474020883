"""Rank plots: whether the chains agree, by ArviZ."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import MaxNLocator

from fishdown.figures.canvas import PANEL_WIDTH, View, short

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign

TITLE = "Rank plots by chain"
QUANTITY = "abundance_before"
# Seasons shown, those of the largest R-hat first.
MOST = 6
HEIGHT = 1.6
# Draws shown of each chain: the test of their ranks takes them as independent, and its work grows
# with their square.
MOST_DRAWS = 250


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw: there always is something."""
    return ""


def _worst(view: View) -> list[int]:
    rhat = np.nan_to_num(view.fit.quality.rhat[QUANTITY].values, nan=np.inf)
    return sorted(view.seasons, key=lambda season: -rhat[season])[:MOST]


def _step(view: View) -> int:
    return math.ceil(view.fit.quantities.sizes["draw"] / MOST_DRAWS)


def draw(view: View) -> Figure:
    """Draw the deviation of the ranks of abundance from uniform, by chain, for the worst seasons.

    The ranks of chains that agree deviate little from zero. ArviZ writes the probability of a
    deviation this large by chance into the panel.
    """
    import arviz
    import matplotlib.pyplot as plt

    shown, palette = _worst(view), view.palette
    draws = view.fit.quantities[QUANTITY].isel(season=shown)
    dashes = ["-", (0, (5, 1)), (0, (1, 1)), (0, (4, 1, 1, 1))]
    colours = [palette.estimate, palette.other, palette.ink, palette.threshold]
    plot = arviz.plot_rank(
        draws.to_dataset(name="fish"),
        backend="matplotlib",
        thin=True,
        stats={"thin": {"factor": _step(view)}},
        col_wrap=1,
        aes={"color": ["chain"], "linestyle": ["chain"]},
        color=colours,
        linestyle=dashes,
        figure_kwargs={"figsize": (PANEL_WIDTH, len(shown) * HEIGHT), "layout": "constrained"},
    )
    figure: Figure = plot.viz["figure"].item()
    # ArviZ draws through pyplot, which would keep the figure for ever.
    plt.close(figure)
    for season, axes in zip(shown, figure.axes, strict=False):
        axes.set_title(short(view.name(season)))
        axes.set_xlabel("rank among all draws (share)")
        axes.set_ylabel("deviation (share)")
        axes.spines["left"].set_visible(True)
        axes.yaxis.set_major_locator(MaxNLocator(3))
        axes.tick_params(axis="y", labelleft=True)
    return figure


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    parts = [
        f"{view.name(season)} R-hat {float(view.fit.quality.rhat[QUANTITY].values[season]):.4f}"
        for season in _worst(view)
    ]
    chains = view.fit.quantities.sizes["chain"]
    few = f", one draw in {_step(view)}" if _step(view) > 1 else ""
    return (
        f"Ranks of the draws of abundance before netting, {chains} chains{few}: "
        f"{'; '.join(parts)}. "
        "An R-hat near 1 means that the chains agree."
    )
