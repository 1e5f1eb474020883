"""What a model needs of a campaign: plain arrays, the ledgers, what is known of temperatures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.errors import FitError
from fishdown.models.ledger import Ledger, season_ledger
from fishdown.models.measured import WeightData, fitting_weights, weight_data
from fishdown.models.nets import rest_days
from fishdown.models.spec import PARTS
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
        Smallest number of unmarked fish before the first pull that the records allow, fish.
    marks_at_start : ndarray, shape (season,)
        Marked fish at large before the first pull, if all marks count.
    smallest_share : ndarray, shape (season,)
        Smallest share of the marks that counts, by what was seen of them again.
    term_season, term_unmarked, term_marks, term_offset, term_weight : ndarrays, shape (term,)
        The ledgers of all seasons, one behind the other.
    constant : float
        Factorials without unknowns.
    pull_season, caught, gone_before : ndarrays, shape (pull,)
        Season, catch (fish) and fish gone before the pull.
    temperature : TemperatureGuess
        Water temperatures with what is known of the missing ones.
    net : ndarray of int, shape (pull,)
        Which net of which lake.
    net_names : tuple of str
        "lake: net", by position.
    mesh_doublings : ndarray, shape (pull,)
        log2 of the mesh over the median mesh; 0 where it is not known.
    rest, bait : ndarray, shape (pull,)
        Days since the net's last pull, and days of bait (the median where not known).
    weights : WeightData
        Sums over the measured fish.
    """

    area: FloatArray
    lake_of_season: IntArray
    bound: FloatArray
    marks_at_start: FloatArray
    smallest_share: FloatArray
    term_season: IntArray
    term_unmarked: FloatArray
    term_marks: FloatArray
    term_offset: FloatArray
    term_weight: FloatArray
    constant: float
    pull_season: IntArray
    caught: FloatArray
    gone_before: FloatArray
    temperature: TemperatureGuess
    net: IntArray
    net_names: tuple[str, ...]
    mesh_doublings: FloatArray
    rest: FloatArray
    bait: FloatArray
    weights: WeightData

    def arrays(self) -> dict[str, FloatArray | IntArray]:
        """Return what the graph is fed with, by name; another campaign's may take its place."""
        lake = self.lake_of_season[self.pull_season]
        mine = np.arange(len(self.area))[:, None] == lake
        return {
            "log_area": np.log(self.area),
            "lake_of_season": self.lake_of_season,
            "bound": self.bound,
            "marks_at_start": self.marks_at_start,
            "smallest_share": self.smallest_share,
            "term_season": self.term_season,
            "term_unmarked": self.term_unmarked,
            "term_marks": self.term_marks,
            "term_offset": self.term_offset,
            "term_weight": self.term_weight,
            "constant": np.array([self.constant]),
            "pull_season": self.pull_season,
            "pull_lake": lake,
            "caught": self.caught,
            "gone_before": self.gone_before,
            # Averages over each lake's pulls; a lake without any has zeros.
            "pull_share": mine / np.maximum(mine.sum(axis=1, keepdims=True), 1),
            # Without any reading there is no temperature part to look at these.
            "temperature": np.nan_to_num(self.temperature.value),
            "missing": self.temperature.missing,
            "missing_sd": self.temperature.sd,
            "net": self.net,
            "mesh_doublings": self.mesh_doublings,
            "rest": self.rest,
            "bait": self.bait,
            **self.weights.arrays(),
        }


def fitting_spec(campaign: Campaign, spec: ModelSpec) -> tuple[ModelSpec, tuple[str, ...]]:
    """Leave out the parts of a model that this campaign has no records for.

    Returns
    -------
    spec : ModelSpec
        Without pooling when there is one lake, without temperature when no pull has one, without
        the parts about weights that `fitting_weights` leaves out.
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
    for part, missing in _unfed_net_parts(campaign).items():
        if spec.part(part) != PARTS[part][0]:
            spec = spec.with_parts(**{part: PARTS[part][0]})
            notes.append(missing)
    spec, about_weights = fitting_weights(campaign, spec)
    return spec, (*notes, *about_weights)


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
        ledger = ledger_of_season(campaign, season, evidence, all_marks_count=all_marks_count(spec))
        spoiled = pulls["spoiled"][pulls["season_index"] == season]
        catch_speaks = evidence != "marks" and not spoiled.all()
        if not catch_speaks and not len(ledger.weights):
            mute.append(str(seasons["season"].values[season]))
        ledgers.append(ledger)
    if mute:
        raise FitError(
            f"nothing in the records tells the abundance of {', '.join(mute)} "
            f"when only {_evidence_words(evidence)} may speak; see fishdown check"
        )

    speaks = ~pulls["spoiled"] if evidence != "marks" else np.zeros(len(pulls["caught"]), bool)
    names = net_names(campaign)[speaks]
    nets, net = np.unique(names, return_inverse=True)
    count = seasons.sizes["season"]
    return ModelData(
        area=campaign.lakes["area"].values,
        lake_of_season=seasons["lake_index"].values,
        bound=np.array([ledger.bound for ledger in ledgers]),
        marks_at_start=np.array([ledger.marks_at_start for ledger in ledgers]),
        smallest_share=np.array([ledger.smallest_share for ledger in ledgers]),
        term_unmarked=np.concatenate([ledger.unmarked for ledger in ledgers]),
        term_marks=np.concatenate([ledger.marks for ledger in ledgers]),
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
        net=net.astype(np.int64),
        net_names=tuple(str(name) for name in nets),
        mesh_doublings=np.nan_to_num(np.log2(_filled(pulls["mesh"][speaks]))),
        rest=rest_days(net, pulls["season_index"][speaks], pulls["date"][speaks]),
        bait=_filled(pulls["bait_days"][speaks], relative=False),
        weights=weight_data(campaign, spec),
    )


def all_marks_count(spec: ModelSpec) -> bool:
    """Tell whether every mark released alive is taken to be there for the nets to find."""
    return spec.part("marks") == "kept" and spec.part("reach") == "all"


def ledger_of_season(
    campaign: Campaign, season: int, evidence: str, *, all_marks_count: bool = True
) -> Ledger:
    """Collect the log-factorials of one season of a campaign.

    Parameters
    ----------
    campaign : Campaign
    season : int
        Position of the season.
    evidence : {"both", "marks", "depletion"}
        Which part of the records speaks.
    all_marks_count : bool
        As in `season_ledger`.
    """
    pulls = campaign.season_pulls(season)
    stay = campaign.seasons.isel(season=season)
    return season_ledger(
        pulls["caught"].values,
        pulls["recaptured"].values,
        pulls["marks_at_large"].values,
        pulls["marks_removed"].values,
        pulls["gone_before"].values,
        pulls["spoiled"].values,
        gone=float(stay["gone"]),
        marks_left=float(stay["marks_left"]),
        evidence=evidence,  # type: ignore[arg-type]
        all_marks_count=all_marks_count,
    )


def net_names(campaign: Campaign) -> np.ndarray[Any, np.dtype[np.str_]]:
    """Return "lake: net" for every pull: nets of different lakes are different nets."""
    lake = campaign.seasons["lake"].values[campaign.pulls["season_index"].values]
    return np.array(
        [f"{lake}: {net}" for lake, net in zip(lake, campaign.pulls["net"].values, strict=True)],
        dtype=np.str_,
    )


def _unfed_net_parts(campaign: Campaign) -> dict[str, str]:
    """Return the parts about nets that these records cannot feed, with the reason."""
    pulls = campaign.pulls.isel(pull=~campaign.pulls["spoiled"].values)
    unfed = {}
    names = net_names(campaign)[~campaign.pulls["spoiled"].values]
    lakes = campaign.seasons["lake_index"].values[pulls["season_index"].values]
    if len(np.unique(names)) == len(np.unique(lakes)):
        unfed["nets"] = "one net a lake: nets cannot be told apart"
    mesh = pulls["mesh"].values
    if len(np.unique(mesh[~np.isnan(mesh)])) < 2:
        unfed["mesh"] = "no two meshes on record: no mesh effect"
    again = pd.DataFrame({"net": names, "season": pulls["season_index"].values}).duplicated()
    if not again.any():
        unfed["rest"] = "no net was pulled twice in a season: no effect of rest"
    if np.isnan(pulls["bait_days"].values).all():
        unfed["bait"] = "no days of bait on record: no effect of bait"
    return unfed


def _filled(values: FloatArray, *, relative: bool = True) -> FloatArray:
    """Put the median where a value is missing, and divide by it if asked to."""
    known = values[~np.isnan(values)]
    median = float(np.median(known)) if len(known) else 1.0
    filled: FloatArray = np.where(np.isnan(values), median, values)
    return filled / median if relative else filled


def _evidence_words(evidence: str) -> str:
    words = {"both": "marks and catches", "marks": "marks", "depletion": "catches"}
    return words[evidence]
