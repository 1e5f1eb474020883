"""What the crew would write down of a lake drawn from the priors, lot by lot.

As in `truth`, the densities of the models have no part in it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fishdown.calibration.truth import draw_truth
from fishdown.checks.replay import shares, whole
from fishdown.checks.urn import marked_in_catch
from fishdown.models.data import model_data

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.calibration.design import Design
    from fishdown.calibration.truth import Truth
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

# A fish of no weight at all cannot be written down.
LIGHTEST = 1e-300


def records_of(
    truth: Truth, design: Design, template: Campaign, rng: np.random.Generator
) -> Campaign:
    """Mark, net and measure the lakes.

    Parameters
    ----------
    truth : Truth
    design : Design
    template : Campaign
        The design's own.
    rng : numpy.random.Generator

    Returns
    -------
    Campaign
        The template with numbers, weights and lengths filled in.
    """
    pulls = template.pulls
    count, batches = pulls.sizes["pull"], len(design.batches)
    names = ("caught", "recaptured", "marks_at_large", "marks_removed", "gone_before")
    columns = {name: np.zeros(count) for name in names}
    seasons = len(truth.abundance)
    gone, left = np.zeros(seasons), np.full(seasons, float(design.marked))
    marked = truth.counting.reshape(seasons, batches).copy()
    unmarked = whole(truth.reachable - marked.sum(axis=1))
    seen = np.zeros((seasons * batches, count))
    schooling, odds, clumping = (
        truth.values.get(name) for name in ("schooling", "marked_odds", "clumping")
    )
    for pull, season in enumerate(pulls["season_index"].values):
        columns["gone_before"][pull] = gone[season]
        columns["marks_at_large"][pull] = left[season]
        M, U = marked[season].sum(), unmarked[season]
        if design.examined is not None:
            caught = min(design.examined, M + U)
        else:
            share = shares(truth.hazard[pull : pull + 1], schooling, rng)
            caught = rng.binomial(M + U, share)[0]
        m, u, c = (np.array([[number]]) for number in (M, U, caught))
        recaptured = marked_in_catch(m, u, c, rng, odds=odds, clumping=clumping)[0, 0]
        by_batch = rng.multivariate_hypergeometric(marked[season], recaptured)
        seen[season * batches : (season + 1) * batches, pull] = by_batch
        columns["caught"][pull], columns["recaptured"][pull] = caught, recaptured
        if design.examined is not None:
            continue
        columns["marks_removed"][pull] = recaptured
        marked[season] -= by_batch
        unmarked[season] -= caught - recaptured
        gone[season] += caught
        left[season] -= recaptured
    columns["removed"] = np.zeros(count) if design.examined is not None else columns["caught"]
    columns["released_again"] = columns["caught"] - columns["removed"]
    return replace(
        template,
        pulls=pulls.assign({name: ("pull", values) for name, values in columns.items()}),
        seasons=template.seasons.assign(gone=("season", gone), marks_left=("season", left)),
        batches=_batches(truth, template, seen, rng),
        fish=_fish(truth, template, rng),
    )


def worth_fitting(campaign: Campaign, design: Design) -> bool:
    """Tell by the records alone whether a campaign is calibrated on.

    Leaving campaigns out by what their records say, and by nothing else, leaves the rest exactly
    calibrated: the posterior given those records is what it was.
    """
    index, seasons = campaign.pulls["season_index"].values, campaign.seasons.sizes["season"]
    caught, recaptured = (
        np.bincount(index, weights=campaign.pulls[name].values, minlength=seasons)
        for name in ("caught", "recaptured")
    )
    enough = (caught >= design.fewest_caught) & (caught <= design.most_caught)
    return bool((enough & (recaptured >= design.fewest_recaptured)).all())


def draw_campaign(
    spec: ModelSpec, design: Design, template: Campaign, rng: np.random.Generator
) -> tuple[Campaign, Truth, int]:
    """Draw lakes until their records are worth fitting; tells how many were drawn.

    Returns
    -------
    campaign : Campaign
    truth : Truth
    tries : int
    """
    planned = model_data(template, spec)
    tries = 0
    while True:
        tries += 1
        truth = draw_truth(spec, design, planned, rng)
        campaign = records_of(truth, design, template, rng)
        if worth_fitting(campaign, design):
            return campaign, truth, tries


def _batches(
    truth: Truth, template: Campaign, seen: FloatArray, rng: np.random.Generator
) -> xr.Dataset:
    """Write down which batches were seen, and what was left of two marks."""
    batches = template.batches
    here = batches["season_index"].values[:, None] == template.pulls["season_index"].values
    tallies = np.zeros((3, len(seen)))
    if "clip_kept" in truth.values:
        c, t = (float(truth.values[name][0]) for name in ("clip_kept", "tag_kept"))
        chances = np.array([c * t, c * (1.0 - t), (1.0 - c) * t])
        for batch in np.flatnonzero(batches["mark"].values == "both"):
            # A fish that lost both is none that was seen again.
            again = int(seen[batch].sum())
            tallies[:, batch] = rng.multinomial(again, chances / chances.sum())
    both_seen, clip_only, tag_only = (("batch", tally) for tally in tallies)
    return batches.assign(
        batch_recaptured=(("batch", "pull"), np.where(here, seen, np.nan)),
        both_seen=both_seen,
        clip_only=clip_only,
        tag_only=tag_only,
    )


def _fish(truth: Truth, template: Campaign, rng: np.random.Generator) -> xr.Dataset:
    """Weigh and measure fish, in the ways that the template has numbers for.

    The condition factor is that of fish of the mean length of those with both, whatever it turns
    out to be. (That it is not fixed beforehand changes the density of lengths by one factor b/3.)
    """
    fish = template.fish
    if "mean_weight" not in truth.values:
        return fish
    season = fish["season_index"].values
    has_weight, has_length = fish["weight"].notnull().values, fish["length"].notnull().values
    mean, v = truth.values["mean_weight"][season], truth.values["weight_variation"]
    if "condition" not in truth.values:
        return fish.assign(weight=("fish", _gamma(mean, v, rng)))
    b, scatter = truth.values["length_exponent"], truth.values["length_scatter"]
    # ln z = ln K + 3 c − 8 ln 10 + ½ scatter² + b (ln L − c), with c the mean of ln L.
    rest = np.log(_gamma(mean, v, rng)) - np.log(truth.values["condition"])[season]
    rest += 8.0 * np.log(10.0) - 0.5 * scatter**2
    centre = rest[has_weight & has_length].mean() / 3.0
    x = (rest - 3.0 * centre) / b
    log_condition = np.log(truth.values["condition"])[season]
    at_length = log_condition + 3.0 * centre - 8.0 * np.log(10.0) + b * x
    weight = np.exp(at_length + scatter * rng.normal(size=len(x)))
    # Weights alone are gamma, with the scatter about the relation in their variation.
    alone = _gamma(mean, np.sqrt((1.0 + v**2) * np.exp(scatter**2) - 1.0), rng)
    weight = np.maximum(np.where(has_length, weight, alone), LIGHTEST)
    return fish.assign(
        length=("fish", np.where(has_length, np.exp(centre + x), np.nan)),
        weight=("fish", np.where(has_weight, weight, np.nan)),
    )


def _gamma(mean: FloatArray, variation: FloatArray, rng: np.random.Generator) -> FloatArray:
    shape = 1.0 / variation**2
    drawn: FloatArray = rng.gamma(shape, mean / shape)
    return np.maximum(drawn, LIGHTEST)
