"""What a model needs of a campaign: plain arrays, the ledgers, what is known of temperatures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.equality import by_value
from fishdown.models.counts import Counts, count
from fishdown.models.measured import WeightData, fitting_weights, weight_data
from fishdown.models.nets import first_pulls, rest_days
from fishdown.models.pools import without_unfed_marks
from fishdown.models.spec import PARTS
from fishdown.models.temperature import TemperatureGuess, guess_missing
from fishdown.models.years import Winters, winters

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, IntArray


@by_value
@dataclass(frozen=True)
class ModelData:
    """Arrays for the graph; "pull" counts only the pulls whose catch speaks.

    Attributes
    ----------
    area : ndarray, shape (lake,)
        ha.
    lake_of_season : ndarray of int, shape (season,)
        Position of each season's lake.
    counts : Counts
        Bounds, marks and the ledgers of all seasons.
    winters : Winters or None
        Which seasons follow each other; None where years stand apart.
    pull_season, caught, gone_before : ndarrays, shape (pull,)
        Season, catch (fish) and fish gone before the pull.
    temperature : TemperatureGuess
        Water temperatures with what is known of the missing ones.
    net : ndarray of int, shape (pull,)
        Which net of which lake.
    nets : tuple of (str, str)
        Lake and net, by position.
    mesh_doublings : ndarray, shape (pull,)
        log2 of the mesh over the median mesh; 0 where it is not known.
    later : ndarray, shape (pull,)
        1 where the net was pulled before in the season, else 0.
    rest, bait : ndarray, shape (pull,)
        Days since the net's last pull, and days of bait (the median where not known).
    weights : WeightData
        Sums over the measured fish.
    """

    area: FloatArray
    lake_of_season: IntArray
    counts: Counts
    winters: Winters | None
    pull_season: IntArray
    caught: FloatArray
    gone_before: FloatArray
    temperature: TemperatureGuess
    net: IntArray
    nets: tuple[tuple[str, str], ...]
    mesh_doublings: FloatArray
    later: FloatArray
    rest: FloatArray
    bait: FloatArray
    weights: WeightData

    @property
    def any_connected(self) -> bool:
        """Whether some lake has connected waters."""
        return self.winters is not None and bool(self.winters.connected.any())

    @property
    def any_young_eaten(self) -> bool:
        """Whether the young are eaten in some lake."""
        return self.winters is not None and bool(self.winters.young_eaten.any())

    def arrays(self) -> dict[str, FloatArray | IntArray]:
        """Return what the graph is fed with, by name; another campaign's may take its place."""
        lake = self.lake_of_season[self.pull_season]
        mine = np.arange(len(self.area))[:, None] == lake
        return {
            "log_area": np.log(self.area),
            "lake_of_season": self.lake_of_season,
            **self.counts.arrays(),
            **(self.winters.arrays() if self.winters is not None else {}),
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
            "later": self.later,
            "rest": self.rest,
            "bait": self.bait,
            **self.weights.arrays(),
        }


def fitting_spec(campaign: Campaign, spec: ModelSpec) -> tuple[ModelSpec, tuple[str, ...]]:
    """Leave out the parts of a model that this campaign has no records for.

    Returns
    -------
    spec : ModelSpec
        Without pooling when there is one lake, without links when each lake has one season,
        without temperature when no pull has one, without the parts about weights that
        `fitting_weights` leaves out.
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
    lakes = campaign.seasons["lake_index"].values
    if spec.part("years") == "linked" and len(np.unique(lakes)) == len(lakes):
        spec = spec.with_parts(years="apart")
        notes.append("one year a lake: no years to link")
    if spec.part("years") == "apart":
        campaign = campaign.netted
    for part, missing in _unfed_pull_parts(campaign).items():
        if spec.part(part) != PARTS[part][0]:
            spec = spec.with_parts(**{part: PARTS[part][0]})
            notes.append(missing)
    spec, about_marks = without_unfed_marks(campaign, spec)
    spec, about_weights = fitting_weights(campaign, spec)
    return spec, (*notes, *about_marks, *about_weights)


def model_data(campaign: Campaign, spec: ModelSpec) -> ModelData:
    """Gather the arrays that a model's graph needs.

    Raises
    ------
    FitError
        If a season holds nothing that could tell its abundance.
    """
    pulls = {name: variable.values for name, variable in campaign.pulls.data_vars.items()}
    seasons = campaign.seasons
    counts = count(campaign, spec)
    silent = spec.part("evidence") == "marks"
    speaks = np.zeros(len(pulls["caught"]), bool) if silent else ~pulls["spoiled"]
    keys = nets_of_pulls(campaign)
    nets, net = _numbered([key for key, says in zip(keys, speaks, strict=True) if says])
    return ModelData(
        area=campaign.lakes["area"].values,
        lake_of_season=seasons["lake_index"].values,
        counts=counts,
        winters=winters(campaign, counts, marks_speak=spec.part("evidence") != "depletion")
        if spec.part("years") == "linked"
        else None,
        pull_season=pulls["season_index"][speaks],
        caught=pulls["caught"][speaks],
        gone_before=pulls["gone_before"][speaks],
        temperature=guess_missing(
            pulls["temperature"][speaks],
            pulls["date"][speaks],
            seasons["lake_index"].values[pulls["season_index"][speaks]],
        ),
        net=net,
        nets=nets,
        mesh_doublings=np.nan_to_num(np.log2(_filled(pulls["mesh"][speaks]))),
        later=(~first_pulls(net, pulls["season_index"][speaks])).astype(float),
        rest=rest_days(net, pulls["season_index"][speaks], pulls["date"][speaks]),
        bait=_filled(pulls["bait_days"][speaks], relative=False),
        weights=weight_data(campaign, spec),
    )


def nets_of_pulls(campaign: Campaign) -> list[tuple[str, str]]:
    """Return (lake, net) for every pull: nets of different lakes are different nets."""
    lake = campaign.seasons["lake"].values[campaign.pulls["season_index"].values]
    return list(zip(lake.tolist(), campaign.pulls["net"].values.tolist(), strict=True))


def _numbered(keys: list[tuple[str, str]]) -> tuple[tuple[tuple[str, str], ...], IntArray]:
    """Return the different keys, sorted, and the position of each given one among them."""
    different = tuple(sorted(set(keys)))
    place = {key: position for position, key in enumerate(different)}
    return different, np.array([place[key] for key in keys], dtype=np.int64)


def _unfed_pull_parts(campaign: Campaign) -> dict[str, str]:
    """Return the parts about pulls that these records cannot feed, with the reason."""
    pulls = campaign.pulls.isel(pull=~campaign.pulls["spoiled"].values)
    unfed = {}
    fished = ~campaign.pulls["spoiled"].values
    nets = [key for key, says in zip(nets_of_pulls(campaign), fished, strict=True) if says]
    lakes = campaign.seasons["lake_index"].values[pulls["season_index"].values]
    if len(set(nets)) == len(np.unique(lakes)):
        unfed["nets"] = "one net a lake: nets cannot be told apart"
    elif len(set(nets)) == len(nets):
        unfed["nets"] = "no net was pulled twice: nets cannot be told apart"
    netted = np.unique(pulls["season_index"].values)
    if len(np.unique(campaign.seasons["lake_index"].values[netted])) == len(netted):
        unfed["seasons"] = "no lake was netted in two seasons: seasons cannot be told apart"
    mesh = pulls["mesh"].values
    if len(np.unique(mesh[~np.isnan(mesh)])) < 2:
        unfed["mesh"] = "no two meshes on record: no mesh effect"
    again = pd.DataFrame({"net": nets, "season": pulls["season_index"].values}).duplicated()
    if not again.any():
        unfed["first_pulls"] = "no net was pulled twice in a season: no effect of first pulls"
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
