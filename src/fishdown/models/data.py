"""What a model needs of a campaign: plain arrays, the ledgers, what is known of temperatures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.errors import FitError
from fishdown.models.ledger import season_ledger
from fishdown.models.temperature import TemperatureGuess, guess_missing

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray


@dataclass(frozen=True)
class ModelData:
    """Arrays for the graph; "pull" counts only the pulls whose catch speaks.

    Attributes
    ----------
    area : ndarray, shape (lake,)
        ha.
    lake_of_season : ndarray of int, shape (season,)
        Position of each season's lake.
    bound : ndarray, shape (season,)
        Smallest abundance that the records allow, fish.
    term_season, term_offset, term_weight : ndarrays, shape (term,)
        The ledgers of all seasons, one behind the other.
    constant : float
        Factorials without unknowns.
    pull_season, caught, gone_before : ndarrays, shape (pull,)
        Season, catch (fish) and fish gone before the pull.
    temperature : TemperatureGuess
        Water temperatures with what is known of the missing ones.
    weighed, weight_total, weight_total_log : ndarrays, shape (season,)
        Number, sum (kg) and sum of logarithms of the weighed fish.
    """

    area: FloatArray
    lake_of_season: IntArray
    bound: FloatArray
    term_season: IntArray
    term_offset: FloatArray
    term_weight: FloatArray
    constant: float
    pull_season: IntArray
    caught: FloatArray
    gone_before: FloatArray
    temperature: TemperatureGuess
    weighed: FloatArray
    weight_total: FloatArray
    weight_total_log: FloatArray

    @property
    def season_area(self) -> FloatArray:
        """Lake area of each season, ha."""
        area: FloatArray = self.area[self.lake_of_season]
        return area


def fitting_spec(campaign: Campaign, spec: ModelSpec) -> tuple[ModelSpec, tuple[str, ...]]:
    """Leave out the parts of a model that this campaign has no records for.

    Returns
    -------
    spec : ModelSpec
        Without pooling when there is one lake, without temperature when no pull has one, without
        weights when no fish was weighed.
    notes : tuple of str
        What was left out, in words.
    """
    notes = []
    if spec.part("pooling") == "lakes" and len(np.unique(campaign.seasons["lake_index"])) == 1:
        spec = spec.with_parts(pooling="none")
        notes.append("a single lake: nothing to pool")
    measured = campaign.pulls["temperature"].values[~campaign.pulls["spoiled"].values]
    if spec.part("temperature") != "none" and np.isnan(measured).all():
        spec = spec.with_parts(temperature="none")
        notes.append("no water temperature: catchability is taken as constant")
    weights = campaign.fish["weight"].values[campaign.fish["season_index"].values >= 0]
    if spec.part("weights") != "none" and np.isnan(weights).all():
        spec = spec.with_parts(weights="none")
        notes.append("no weights: no biomass")
    return spec, tuple(notes)


def model_data(campaign: Campaign, spec: ModelSpec) -> ModelData:
    """Gather the arrays that a model's graph needs.

    Raises
    ------
    FitError
        If a season holds nothing that could tell its abundance.
    """
    pulls = {name: variable.values for name, variable in campaign.pulls.data_vars.items()}
    seasons = campaign.seasons
    evidence = spec.part("evidence")
    ledgers = []
    mute = []
    for season in range(seasons.sizes["season"]):
        mine = pulls["season_index"] == season
        ledger = season_ledger(
            pulls["caught"][mine],
            pulls["recaptured"][mine],
            pulls["marks_at_large"][mine],
            pulls["gone_before"][mine],
            pulls["spoiled"][mine],
            still_there=float(seasons["gone"][season] + seasons["marks_left"][season]),
            evidence=evidence,  # type: ignore[arg-type]
        )
        catch_speaks = evidence != "marks" and not pulls["spoiled"][mine].all()
        if not catch_speaks and not len(ledger.weights):
            mute.append(str(seasons["season"].values[season]))
        ledgers.append(ledger)
    if mute:
        raise FitError(
            f"nothing in the records tells the abundance of {', '.join(mute)} "
            f"when only {_evidence_words(evidence)} may speak; see fishdown check"
        )

    speaks = ~pulls["spoiled"] if evidence != "marks" else np.zeros(len(pulls["caught"]), bool)
    weight = campaign.fish["weight"].values
    known = ~np.isnan(weight) & (campaign.fish["season_index"].values >= 0)
    fish_season = campaign.fish["season_index"].values[known]
    count = seasons.sizes["season"]
    return ModelData(
        area=campaign.lakes["area"].values,
        lake_of_season=seasons["lake_index"].values,
        bound=np.array([ledger.bound for ledger in ledgers]),
        term_season=np.repeat(np.arange(count), [len(ledger.weights) for ledger in ledgers]),
        term_offset=np.concatenate([ledger.offsets for ledger in ledgers]),
        term_weight=np.concatenate([ledger.weights for ledger in ledgers]),
        constant=float(sum(ledger.constant for ledger in ledgers)),
        pull_season=pulls["season_index"][speaks],
        caught=pulls["caught"][speaks],
        gone_before=pulls["gone_before"][speaks],
        temperature=guess_missing(
            pulls["temperature"][speaks],
            pulls["date"][speaks],
            seasons["lake_index"].values[pulls["season_index"][speaks]],
        ),
        weighed=np.bincount(fish_season, minlength=count).astype(float),
        weight_total=np.bincount(fish_season, weights=weight[known], minlength=count),
        weight_total_log=np.bincount(fish_season, weights=np.log(weight[known]), minlength=count),
    )


def _evidence_words(evidence: str) -> str:
    words = {"both": "marks and catches", "marks": "marks", "depletion": "catches"}
    return words[evidence]
