"""Figures of the page: each a picture inside the file, with its description in words."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown import figures
from fishdown.figures.files import save_figure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.posterior.fit import Fit


@dataclass(frozen=True)
class Picture:
    """A figure as the page shows it.

    Attributes
    ----------
    name : str
        Of `fishdown.figures.NAMES`.
    title : str
    source : str
        Data URI of an SVG picture: nothing in it can run, and its names stay its own.
    words : str
        What it shows, from the same numbers.
    """

    name: str
    title: str
    source: str
    words: str


def pictures(fit: Fit, name: str, *, despite_gate: bool) -> tuple[Picture, ...]:
    """Draw a figure for the page: one picture a season where it is drawn season by season."""
    if figures.missing(fit, name):
        return ()
    if name not in figures.BY_SEASON:
        return (_picture(fit, name, None, despite_gate=despite_gate),)
    pulled = np.unique(fit.campaign.pulls["season_index"].values).tolist()
    return tuple(_picture(fit, name, [season], despite_gate=despite_gate) for season in pulled)


def _picture(fit: Fit, name: str, seasons: Sequence[int] | None, *, despite_gate: bool) -> Picture:
    figure = figures.draw(fit, name, seasons=seasons, palette="page", despite_gate=despite_gate)
    file = io.BytesIO()
    save_figure(figure, file, "svg")
    coded = base64.b64encode(file.getvalue()).decode("ascii")
    return Picture(
        name=name,
        title=figures.title(name),
        source=f"data:image/svg+xml;base64,{coded}",
        words=figures.describe(fit, name, seasons=seasons, despite_gate=despite_gate),
    )
