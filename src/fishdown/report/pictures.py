"""Figures of the page: each a picture inside the file, with its description in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown import figures
from fishdown.palette import PAGE
from fishdown.report.compact_svg import picture_source

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from fishdown.checks.result import CheckResult
    from fishdown.posterior.fitted import FittedCampaign


@dataclass(frozen=True)
class Picture:
    """A figure as the page shows it.

    Attributes
    ----------
    name : str
        Of `fishdown.figures.NAMES`, or "checks", "ahead", "years_ahead".
    title : str
    source : str
        Data URI of an SVG picture: nothing in it can run, its names stay its own, and no
        character of it is markup to HTML.
    words : str
        What it shows, from the same numbers.
    """

    name: str
    title: str
    source: str
    words: str


def pictures(fit: FittedCampaign, name: str, *, despite_gate: bool) -> tuple[Picture, ...]:
    """Draw a figure for the page, cut into pictures of some seasons each."""
    if figures.missing(fit, name):
        return ()
    return tuple(
        _picture(fit, name, seasons, despite_gate=despite_gate)
        for seasons in figures.parts(fit, name)
    )


def pictures_of_checks(checks: Sequence[CheckResult]) -> tuple[Picture, ...]:
    """Draw every check of the fit against its own records."""
    return tuple(
        Picture(
            name="checks",
            title=f"{result.name[:1].upper()}{result.name[1:]}",
            source=picture_source(result.figure("page")),
            words=f"{result.outcome[:1].upper()}{result.outcome[1:]}: {result.sentence}.",
        )
        for result in checks
    )


def pictures_ahead(frames: dict[str, pd.DataFrame]) -> dict[str, tuple[Picture, ...]]:
    """Draw the pulls and the years ahead lake by lake, as far as there are tables of them."""
    from fishdown.figures import ahead, years_ahead

    drawn: dict[str, tuple[Picture, ...]] = {}
    for name, module in (("ahead", ahead), ("years_ahead", years_ahead)):
        frame = frames.get(name.removesuffix("_ahead"))
        if frame is None:
            continue
        drawn[name] = tuple(
            Picture(
                name,
                module.TITLE,
                picture_source(module.draw(lake, palette=PAGE)),
                module.describe(lake),
            )
            for _, lake in frame.groupby("lake", sort=False)
            if not module.missing(lake)
        )
    return drawn


def _picture(
    fit: FittedCampaign, name: str, seasons: Sequence[int] | None, *, despite_gate: bool
) -> Picture:
    figure = figures.draw(fit, name, seasons=seasons, palette="page", despite_gate=despite_gate)
    return Picture(
        name=name,
        title=figures.title(name),
        source=picture_source(figure),
        words=figures.describe(fit, name, seasons=seasons, despite_gate=despite_gate),
    )
