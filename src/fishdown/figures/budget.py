"""One budget for several lakes: what smaller budgets would do, by the best and the equal split."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from matplotlib.figure import Figure

from fishdown.figures.canvas import PANEL_HEIGHT, PANEL_WIDTH, counts_axis, in_palette
from fishdown.palette import LIGHT, Palette
from fishdown.statements.in_units import shown_values
from fishdown.units import label
from fishdown.words import with_error

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

TITLE = "One budget for several lakes"
# Monte-Carlo standard errors either way.
_BAND = 2.0
_SPLITS = {"best": "best split", "equal": "equal split"}


def missing(curve: pd.DataFrame) -> str:
    """Return why there is nothing to draw."""
    return "" if len(curve) else "every lake is withheld"


@in_palette
def draw(curve: pd.DataFrame, currency: str = "", *, palette: Palette = LIGHT) -> Figure:
    """Draw `Budget.curve`: expected lakes below, or kg above, by field days or money spent.

    Bands are two Monte-Carlo standard errors either way.
    """
    curve = shown_values(curve)
    figure = Figure(figsize=(1.3 * PANEL_WIDTH, 1.1 * PANEL_HEIGHT), layout="constrained")
    axes: Axes = figure.add_subplot()
    what = _what(curve)
    # A day is one place; of money, what lies between two splits does no more than the first.
    step: Literal["mid", "post"] = "mid" if _in_days(curve) else "post"
    looks = {"best": (palette.estimate, "-"), "equal": (palette.other, (0, (4, 1.5)))}
    for split, (colour, line) in looks.items():
        mean = curve[f"{what}_{split}"]
        band = _BAND * curve[f"{what}_{split}_mc_error"]
        low, high = mean - band, mean + band
        axes.fill_between(curve["most"], low, high, color=colour, alpha=0.2, lw=0, step=step)
        axes.step(
            curve["most"], mean, where=step, color=colour, ls=line, lw=1.8, label=_SPLITS[split]
        )
    # The last step is seen.
    axes.set_xlim(0.0, 1.03 * float(curve["most"].max()) or 1.0)
    axes.set_xlabel(_limit(curve, currency))
    axes.set_ylabel(
        "expected lakes\nbelow their thresholds"
        if what == "lakes_below"
        else label("expected kg\nabove the thresholds")
    )
    counts_axis(axes.xaxis, whole=_in_days(curve))
    counts_axis(axes.yaxis)
    axes.legend(loc="best", title=f"± {_BAND:g} Monte-Carlo standard errors", title_fontsize=7.5)
    return figure


def describe(curve: pd.DataFrame, currency: str = "") -> str:
    """Describe what `draw` shows."""
    if missing(curve):
        return f"Nothing is drawn: {missing(curve)}."
    curve = shown_values(curve)
    what = _what(curve)
    noun = "lakes below their thresholds" if what == "lakes_below" else label("kg above thresholds")
    sentences = [f"Expected {noun}, by {_limit(curve, currency)}, ± Monte-Carlo standard error."]
    for place in sorted({0, len(curve) // 2, len(curve) - 1}):
        row = curve.iloc[place]
        both = (
            f"{with_error(row[f'{what}_{split}'], row[f'{what}_{split}_mc_error'])} by the {name}"
            for split, name in _SPLITS.items()
        )
        sentences.append(f"With {row['most']:,.0f}: {', '.join(both)}.")
    return " ".join(sentences)


def _what(curve: pd.DataFrame) -> str:
    return "lakes_below" if curve["aim"].iloc[0] == "lakes" else "kg_above"


def _in_days(curve: pd.DataFrame) -> bool:
    return bool(curve["limit"].iloc[0] == "field_days")


def _limit(curve: pd.DataFrame, currency: str) -> str:
    if _in_days(curve):
        return "field days available"
    return f"money available{f', {currency}' if currency else ''}"
