"""What the crew would write down of a lake drawn from the priors, at random.

As in `truth`, the densities of the models have no part in it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fishdown.calibration.measured_fish import measured_fish
from fishdown.calibration.truth import draw_truth
from fishdown.calibration.winters import winter
from fishdown.equality import by_value
from fishdown.models.data import model_data
from fishdown.models.parts.open_lake.present import OpenLake
from fishdown.models.whole_numbers import HALF_FISH
from fishdown.posterior.replicates import shares, whole
from fishdown.posterior.urn import marked_in_catch

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.calibration.design import Design
    from fishdown.calibration.truth import Truth
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray


def records_of(
    truth: Truth, design: Design, template: Campaign, rng: np.random.Generator
) -> tuple[Campaign, Truth]:
    """Mark, net and measure the lakes, winter after winter.

    Parameters
    ----------
    template : Campaign
        The design's own.

    Returns
    -------
    campaign : Campaign
        The template with numbers, weights and lengths filled in.
    truth : Truth
        With the fish and marks of the seasons that follow another.
    """
    pulls, lake_of = template.pulls, template.seasons["lake_index"].values
    count, seasons = pulls.sizes["pull"], len(lake_of)
    names = ("caught", "recaptured", "marks_at_large", "marks_removed", "gone_before")
    of_season = ("marks_of_season", "recaptured_of_season")
    columns = {name: np.zeros(count) for name in (*names, *of_season)}
    seen = np.zeros((len(truth.counting), count))
    abundance, carried = truth.abundance.copy(), truth.carried.copy()
    fish = truth.vulnerable_fish.copy()
    years = _years(template)
    gone, carried_most, marks_left = (np.zeros(seasons) for _ in range(3))
    stock, lost = _Stock(np.zeros(1, dtype=np.int64), 0), np.zeros(1, dtype=np.int64)
    winters, level = 0, 0.0
    for season in range(seasons):
        if season > 0 and lake_of[season] == lake_of[season - 1]:
            # Nobody knows of the marks that are lost: they count among those left.
            left, marks = abundance[season - 1] - gone[season - 1], int((stock.marked + lost).sum())
            place = int(lake_of[season]), winters
            started = winter(truth.values, template.lakes, place, level, left, marks, rng)
            abundance[season], carried[season] = started
            fish[season] = abundance[season]
            carried_most[season] = marks_left[season - 1]
            winters += 1
        else:
            level = float(abundance[season])
        batches = np.flatnonzero(truth.batch_season == season)
        truth = _with_deaths_since_marking(truth, template, season, carried_most[season])
        taken: list[tuple[float, float]] = []
        marked = np.append(truth.counting[batches], carried[season])
        lost = marked - _found(marked, truth, season, rng)
        stock = _Stock(marked - lost, int(whole(fish[season] - (marked - lost).sum())))
        marks_left[season] = carried_most[season] + design.released[batches].sum()
        marks_of_season = float(design.released[batches].sum())
        for pull in np.flatnonzero(pulls["season_index"].values == season):
            columns["gone_before"][pull] = gone[season]
            columns["marks_at_large"][pull] = marks_left[season]
            where = season, int(lake_of[season]), int(pull)
            came, present = _come_and_gone(
                truth, template, season, fish[season], years[pull], taken
            )
            there = _Stock(stock.marked, stock.unmarked + came)
            caught, by_batch = there.catch(truth, design, where, present, rng)
            recaptured = int(by_batch.sum())
            seen[batches, pull] = by_batch[:-1]
            columns["caught"][pull], columns["recaptured"][pull] = caught, recaptured
            columns["marks_of_season"][pull] = marks_of_season
            columns["recaptured_of_season"][pull] = by_batch[:-1].sum()
            if design.examined is not None:
                continue
            columns["marks_removed"][pull] = recaptured
            stock = _Stock(stock.marked - by_batch, stock.unmarked - caught + recaptured)
            gone[season] += caught
            taken.append((years[pull], caught))
            marks_of_season -= by_batch[:-1].sum()
            marks_left[season] -= recaptured
    columns["removed"] = np.zeros(count) if design.examined is not None else columns["caught"]
    columns["released_again"] = columns["caught"] - columns["removed"]
    columns["examined"] = columns["caught"]
    counted = {"gone": gone, "marks_left": marks_left, "carried_most": carried_most}
    if "mark_detection" in truth.values:
        counted |= _second_looks(float(truth.values["mark_detection"][0]), template, rng)
    campaign = replace(
        template,
        pulls=pulls.assign({name: ("pull", values) for name, values in columns.items()}),
        seasons=template.seasons.assign(
            {name: ("season", values) for name, values in counted.items()}
        ),
        batches=_batches(truth, template, seen, carried_most, rng),
    )
    truth = replace(truth, abundance=abundance, vulnerable_fish=fish, carried=carried)
    return replace(campaign, fish=measured_fish(truth, campaign, rng)), truth


def _second_looks(
    detection: float, template: Campaign, rng: np.random.Generator
) -> dict[str, FloatArray]:
    """Look at fish twice until as many marked ones were found as planned; returns who found them.

    Those that both looks miss are none that the crew knows of.
    """
    planned = template.seasons["found_first"].values
    first, second_only = np.zeros(len(planned)), np.zeros(len(planned))
    for season, wanted in enumerate(planned.astype(int).tolist()):
        while first[season] + second_only[season] < wanted:
            one, other = rng.random(2) < detection
            first[season] += one
            second_only[season] += other and not one
    return {"found_first": first, "found_second": second_only}


def _variation(truth: Truth, design: Design, lake: int, pull: int) -> FloatArray | None:
    """Return the coefficient of variation of the share that a pull takes, shape (1,)."""
    values = truth.values
    if "schooling" not in values:
        return None
    variation: FloatArray = values["schooling"][[lake]]
    if "scatter_exponent" in values:
        if "catchability" in values:
            at_reference = -np.log1p(-values["catchability"][lake])
        else:
            at_reference = values["area_fished_ha"][lake] / design.areas[lake]
        variation = variation * (truth.hazard[pull] / at_reference) ** values["scatter_exponent"]
    return variation


def left_of(truth: Truth, campaign: Campaign, season: int) -> float:
    """Return the fish in a lake after the last pull of a season."""
    fish = float(truth.abundance[season])
    mine = np.flatnonzero(campaign.pulls["season_index"].values == season)
    years = _years(campaign)[mine]
    removed = campaign.pulls["removed"].values[mine]
    taken = list(zip(years.tolist(), removed.tolist(), strict=True))
    _, present = _come_and_gone(truth, campaign, season, fish, float(years.max(initial=0.0)), taken)
    return fish - float(removed.sum()) if present is None else max(present, 0.0)


def _years(template: Campaign) -> FloatArray:
    """Return the years from the first pull of its season to each pull."""
    first = template.seasons["first_day"].values[template.pulls["season_index"].values]
    days = (template.pulls["date"].values - first) / np.timedelta64(1, "D")
    found: FloatArray = days / 365.25
    return found


def _with_deaths_since_marking(
    truth: Truth, template: Campaign, season: int, carried: float
) -> Truth:
    """Let marks count for fewer, as marked fish die between marking and the first pull."""
    if not {"natural_mortality", "effective_marks"} <= set(truth.values):
        return truth
    mine = template.batches["season_index"].values == season
    marks = template.batches["released_alive"].values[mine]
    first = template.seasons["first_day"].values[season]
    days = (first - template.batches["marked_on"].values[mine]) / np.timedelta64(1, "D")
    waited = (marks * np.maximum(days, 0.0)).sum() / max(marks.sum() + carried, 1.0) / 365.25
    there = truth.values["marks_there"].copy()
    there[season] *= np.exp(-truth.values["natural_mortality"][0] * waited)
    effective = there * truth.values["season_odds"]
    return replace(
        truth, values={**truth.values, "marks_there": there, "effective_marks": effective}
    )


def _found(marked: IntArray, truth: Truth, season: int, rng: np.random.Generator) -> IntArray:
    """Draw how many marks of each batch can be found in a season at all."""
    if "marks_there" not in truth.values:
        return marked
    found: IntArray = rng.binomial(marked.astype(np.int64), truth.values["marks_there"][season])
    return found


def _come_and_gone(
    truth: Truth,
    template: Campaign,
    season: int,
    at_start: float,
    years: float,
    taken: list[tuple[float, float]],
) -> tuple[int, float | None]:
    """Return the fish that immigrated until a pull, and those present; None in a closed lake."""
    names = ("natural_mortality", "immigration")
    if not set(names) & set(truth.values):
        return 0, None
    dying, arriving = (float(truth.values.get(name, np.zeros(1))[0]) for name in names)
    lake = int(template.seasons["lake_index"].values[season])
    came = at_start * arriving * float(template.lakes["connected"].values[lake]) * years
    gone = sum(fish * np.exp(-dying * (years - since)) for since, fish in taken)
    return round(came), at_start * np.exp(-dying * years) + came - gone


@by_value
@dataclass(frozen=True)
class _Stock:
    """Vulnerable fish: marked ones of each batch, then of earlier years; and the others."""

    marked: IntArray
    unmarked: int

    def catch(
        self,
        truth: Truth,
        design: Design,
        place: tuple[int, int, int],
        present: float | None,
        rng: np.random.Generator,
    ) -> tuple[int, IntArray]:
        """Draw the fish in a catch, and the marked ones among them of each batch.

        Its place is the season, the lake and the pull, by position; the fish present are those of
        the stock in a closed lake.
        """
        season, lake, pull = place
        clumping = truth.values.get("clumping")
        odds = None
        if "season_odds" in truth.values:
            odds = truth.values["season_odds"][[season]][:, None]
        schooling = _variation(truth, design, lake, pull)
        M, U = int(self.marked.sum()), self.unmarked
        if design.examined is not None:
            caught = min(design.examined, M + U)
        else:
            share = shares(truth.hazard[[pull]], schooling, rng)
            fish = M + U if present is None else min(int(whole(np.array(present))), M + U)
            caught = int(rng.binomial(fish, share)[0])
        m, u, c = (np.array([[number]]) for number in (M, U, caught))
        recaptured = marked_in_catch(m, u, c, rng, odds=odds, clumping=clumping)[0, 0]
        return caught, rng.multivariate_hypergeometric(self.marked, recaptured)


def worth_fitting(campaign: Campaign, design: Design) -> bool:
    """Tell by the records alone whether a campaign is calibrated on.

    Leaving campaigns out by what their records say, and by nothing else, leaves the rest exactly
    calibrated: the posterior given those records is what it was.
    """
    lake_of = campaign.seasons["lake_index"].values
    index = lake_of[campaign.pulls["season_index"].values]
    caught, recaptured = (
        np.bincount(index, weights=campaign.pulls[name].values, minlength=len(design.areas))
        for name in ("caught", "recaptured")
    )
    enough = (caught >= design.fewest_caught) & (caught <= design.most_caught)
    # A graph is made for the winters that marks are carried over: the same in all campaigns.
    follows = np.flatnonzero(lake_of[1:] == lake_of[:-1]) + 1
    carried = (campaign.seasons["carried_most"].values[follows] > 0) | (design.marked == 0)
    return bool((enough & (recaptured >= design.fewest_recaptured)).all() and carried.all())


def _within_bound(truth: Truth, campaign: Campaign, spec: ModelSpec) -> bool:
    """Tell whether the fish at first were enough for all that were taken out."""
    data = model_data(campaign, spec)
    died = OpenLake(truth.values.get("natural_mortality"))
    bound = data.counts.bound + died.needed(data.times.gone, data.times.end)
    return bool((bound <= truth.unmarked + HALF_FISH).all())


def draw_campaign(
    spec: ModelSpec, design: Design, template: Campaign, rng: np.random.Generator
) -> tuple[Campaign, Truth, int]:
    """Draw lakes until their records are worth fitting; tells how many were drawn.

    Lakes of which some later season starts with fewer fish than its marks are outside the prior, as
    in `draw_truth`, and so are lakes from which more fish were taken than were there before the
    first pull, by immigration: all is drawn again, what the crew took among it.

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
        campaign, truth = records_of(truth, design, template, rng)
        if (
            truth.possible(design)
            and worth_fitting(campaign, design)
            and _within_bound(truth, campaign, spec)
        ):
            return campaign, truth, tries


def _batches(
    truth: Truth,
    template: Campaign,
    seen: FloatArray,
    carried_most: FloatArray,
    rng: np.random.Generator,
) -> xr.Dataset:
    """Write down which batches were seen, and what was left of two marks."""
    batches, pull_season = template.batches, template.pulls["season_index"].values
    here = batches["season_index"].values[:, None] == pull_season
    # Where marks of earlier years are at large, nobody tells the batch.
    here &= carried_most[pull_season] == 0
    tallies = np.zeros((3, len(seen)))
    if "clip_retention" in truth.values:
        kept = (truth.values[name] for name in ("clip_retention", "tag_retention"))
        lakes = template.lakes.sizes["lake"]
        # One value for all lakes, or one for each.
        of_clips, of_tags = (np.broadcast_to(share, lakes) for share in kept)
        lake = template.seasons["lake_index"].values[batches["season_index"].values]
        for batch in np.flatnonzero(batches["mark"].values == "both"):
            c, t = of_clips[lake[batch]], of_tags[lake[batch]]
            chances = np.array([c * t, c * (1.0 - t), (1.0 - c) * t])
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
