"""Figures as files, with what they say in words beside them."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl

from fishdown import figures
from fishdown.atomic_write import all_or_none

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign

FOLDER = "figures"
DESCRIPTIONS = "descriptions.txt"
DOTS_PER_INCH = 160
# No date in the file: the same fit gives the same bytes.
_METADATA: dict[str, dict[str, Any]] = {
    "png": {"Software": "fishdown"},
    "svg": {"Date": None, "Creator": "fishdown"},
    "pdf": {"CreationDate": None, "Creator": "fishdown"},
}


def write_figures(
    fit: FittedCampaign,
    folder: str | os.PathLike[str],
    *,
    only: Sequence[str] | None = None,
    file_format: str = "png",
    palette: str = "light",
    despite_gate: bool = False,
) -> tuple[list[Path], dict[str, str]]:
    """Write figures into the folder ``figures`` of a folder of results.

    Parameters
    ----------
    only : sequence of str, optional
        Names of the figures; by default every one that has something to show.
    file_format : {"png", "svg", "pdf"}
    palette : {"light", "print"}
    despite_gate : bool
        Draw also what a failed gate would withhold.

    Returns
    -------
    written : list of Path
        The figures, and their descriptions in words.
    left_out : dict of str to str
        Figures without anything to show, and why.

    Raises
    ------
    FishdownError
        If a figure that was asked for does not exist or has nothing to show, or the folder cannot
        be written; then nothing is written.
    """
    reasons = {name: figures.missing(fit, name) for name in (only or figures.NAMES)}
    left_out = {} if only else {name: reason for name, reason in reasons.items() if reason}
    names = [name for name in reasons if name not in left_out]
    words = []
    with all_or_none(folder, into=FOLDER) as staged:
        for name in names:
            drawn = figures.draw(fit, name, palette=palette, despite_gate=despite_gate)
            save_figure(drawn, staged / f"{name}.{file_format}", file_format)
            said = figures.describe(fit, name, despite_gate=despite_gate)
            words.append(f"{name}: {figures.title(name)}\n{said}\n")
        (staged / DESCRIPTIONS).write_text("\n".join(words), encoding="utf-8")
        written = [Path(folder) / FOLDER / path.name for path in sorted(staged.iterdir())]
    return written, left_out


def save_figure(figure: Figure, target: Any, file_format: str, *, text: bool = False) -> None:
    """Save one figure to a path or a file object, the same bytes every time.

    Parameters
    ----------
    text : bool
        Keep letters as text, in SVG, rather than as shapes that need no font.
    """
    # Looked up when a file is written, not when its figure is drawn.
    same = {"svg.hashsalt": "fishdown", "svg.fonttype": "none" if text else "path"}
    with warnings.catch_warnings(), mpl.rc_context(same):  # type: ignore[arg-type]
        # A name in a script that the font lacks is drawn as boxes; the words beside have it right.
        warnings.filterwarnings("ignore", message=r"Glyph \d+ .* missing from font")
        figure.savefig(
            target, format=file_format, dpi=DOTS_PER_INCH, metadata=_METADATA[file_format]
        )
