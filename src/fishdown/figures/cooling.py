"""The temperature–catchability curve, with the pulls themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import stats

from fishdown.figures.canvas import (
    View,
    counts_axis,
    note,
    panels,
    quantiles,
    room_above,
    said,
    short,
    withheld_note,
)
from fishdown.intervals import POINTS, low_median_high
from fishdown.models.parts.scatter import scattered
from fishdown.models.parts.temperature.readings import guess_missing
from fishdown.posterior.curves import catchability_at
from fishdown.units import label, shown
from fishdown.words import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

TITLE = "Temperature–catchability curve"
POINTS_OF_CURVE = 40
# Draws used for the band of single pulls, and their seed.
SIMULATED, SEED = 800, 7


def missing(fit: FittedCampaign) -> str:
    """Return why there is nothing to draw."""
    if "catchability_at_reference" not in fit.quantities:
        return "the model does not estimate catchability"
    if np.isnan(fit.campaign.pulls["temperature"].values).all():
        return "no water temperature is on record"
    return ""


def draw(view: View) -> Figure:
    """Draw catchability (% of the lake's fish a pull) against temperature (°C).

    Dark band: 90 % interval of the average pull; pale band: where nine of ten single pulls are
    expected; each pull with the 90 % interval that comes from not knowing how many fish there were.
    """
    figure, axes = panels(len(view.netted))
    for season, panel in zip(view.netted, axes, strict=True):
        panel.set_title(short(view.name(season)))
        panel.set_xlabel(label("water temperature, °C"))
        panel.set_ylabel("catchability, % of the fish per pull")
        reason = view.withheld(season)
        if reason:
            withheld_note(panel, reason, view.palette)
            panel.set_xticks([])
            panel.set_yticks([])
        else:
            _season(view, season, panel)
    return figure


def _season(view: View, season: int, axes: Axes) -> None:
    fit, palette, pulls = view.fit, view.palette, _Pulls(view, season)
    if not len(pulls.temperature):
        note(axes, "no pull of this season has a known temperature", palette)
        return
    low, high = pulls.temperature.min(), pulls.temperature.max()
    room = max(0.5, 0.06 * (high - low))
    grid = np.linspace(low - room, high + room, POINTS_OF_CURVE)
    share = catchability_at(fit, season, grid)
    grid, temperature = shown(grid, "°C"), shown(pulls.temperature, "°C")
    below, median, above = 100.0 * quantiles(share, POINTS)
    single = 100.0 * quantiles(_single_pulls(view, season, share), POINTS)
    axes.fill_between(grid, single[0], single[2], color=palette.estimate, alpha=0.10, lw=0)
    axes.fill_between(grid, below, above, color=palette.estimate, alpha=0.32, lw=0)
    axes.plot(grid, median, color=palette.estimate, lw=1.8)
    shares = 100.0 * pulls.shares
    for known, face in ((True, palette.ink), (False, palette.paper)):
        here = pulls.known == known
        if not here.any():
            continue
        axes.vlines(temperature[here], shares[0, here], shares[2, here], color=palette.ink, lw=0.7)
        axes.plot(
            temperature[here],
            shares[1, here],
            "o",
            ms=3.6,
            color=face,
            mec=palette.ink,
            mew=0.8,
            label="pull" if known else "pull, temperature imputed",
        )
    counts_axis(axes.xaxis)
    counts_axis(axes.yaxis)
    room_above(axes)
    if not pulls.known.all():
        axes.legend(loc="upper left", handletextpad=0.2, borderaxespad=0.2)


class _Pulls:
    """The pulls that inform catchability: temperature, and the share each took."""

    def __init__(self, view: View, season: int) -> None:
        campaign = view.fit.campaign
        speaks = ~campaign.pulls["spoiled"].values
        index = campaign.pulls["season_index"].values[speaks]
        reading = campaign.pulls["temperature"].values[speaks]
        lakes = campaign.seasons["lake_index"].values[index]
        guess = guess_missing(reading, campaign.pulls["date"].values[speaks], lakes)
        mine = (index == season) & ~np.isnan(guess.value)
        self.temperature: FloatArray = guess.value[mine]
        self.known: Any = ~np.isnan(reading[mine])
        before = view.draws("abundance_before", season).reshape(-1, 1)
        caught = campaign.pulls["caught"].values[speaks][mine]
        gone = campaign.pulls["gone_before"].values[speaks][mine]
        self.shares: FloatArray = quantiles(caught / (before - gone), POINTS)


def _single_pulls(view: View, season: int, share: FloatArray) -> FloatArray:
    """Simulate the share that single pulls take, schooling and chance included."""
    some = np.linspace(0, len(share) - 1, min(len(share), SIMULATED)).astype(int)
    mean = share[some]
    # The same luck at every temperature, or the edge of the band would be ragged.
    luck = np.random.default_rng(SEED).uniform(size=(2, len(some), 1))
    if "schooling" in view.fit.quantities:
        # The beta distribution of models/README.md, section Catches.
        schooling = view.draws("schooling", season).ravel()[some, None]
        if "scatter_exponent" in view.fit.quantities:
            at_reference = view.draws("catchability_at_reference", season).ravel()[some, None]
            effects = np.log(np.log1p(-mean) / np.log1p(-at_reference))
            exponent = view.fit.quantities["scatter_exponent"].values.ravel()[some, None]
            schooling = scattered(schooling, effects, exponent)
        spread = schooling**2
        mean = stats.beta.ppf(luck[0], (1.0 - mean) / spread, (1.0 - mean) ** 2 / (mean * spread))
    fish = view.draws("abundance_before", season).ravel()[some, None]
    # Half of what goes is gone by the middle of the season.
    whole = np.maximum(np.rint(fish - view.fit.campaign.seasons["gone"].values[season] / 2.0), 1.0)
    taken: FloatArray = stats.binom.ppf(luck[1], whole, mean) / whole
    return taken


def describe(view: View) -> str:
    """Describe what `draw` shows."""
    return view.told(view.netted, lambda season: _sentence(view, season))


def _sentence(view: View, season: int) -> str:
    pulls = _Pulls(view, season)
    if not len(pulls.temperature):
        return "no pull of this season has a known temperature"
    ends = np.array([pulls.temperature.max(), pulls.temperature.min()])
    share = 100.0 * catchability_at(view.fit, season, ends)
    warm, cold = (said(low_median_high(share[:, end]), "% of the lake's fish") for end in (0, 1))
    guessed = int((~pulls.known).sum())
    warmest, coldest = shown(ends, "°C")
    unit = label("°C")
    lacking = f", {guessed} of them at an imputed temperature" if guessed else ""
    return (
        f"a pull takes on average {warm} at {warmest:.1f} {unit} and {cold} at "
        f"{coldest:.1f} {unit}; {counted(len(pulls.temperature), 'pull')} shown{lacking}"
    )
