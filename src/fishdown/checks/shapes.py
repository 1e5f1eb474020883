"""Cross-validation of temperature–catchability curves, leaving out whole days or nets.

Each curve is fitted once. Its prediction of a left-out group of pulls comes from reweighting the
draws by Pareto-smoothed importance sampling [1]_, whose k diagnoses how reliable that is. Single
pulls are not left out, because pulls of a day share schools and weather. A difference below 4, or
within two of its standard errors, is no difference [2]_.

References
----------
.. [1] Vehtari, Simpson, Gelman, Yao & Gabry 2024. Pareto smoothed importance sampling. Journal of
   Machine Learning Research 25(72). Limit of k: min(1 − 1/log10(draws), 0.7).
.. [2] Sivula, Magnusson, Matamoros & Vehtari 2020. Uncertainty in Bayesian leave-one-out
   cross-validation based model comparison. arXiv:2008.10296 (reference and limits from memory).
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
import xarray as xr

from fishdown.checks.codes import Ranking
from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.labels import told_apart
from fishdown.models.parts.temperature import TEMPERATURE
from fishdown.models.pull_table import pull_table
from fishdown.models.spec import needed_priors, read_model
from fishdown.posterior.choice import choose_model
from fishdown.posterior.fitting import fit_model
from fishdown.posterior.pointwise import informative_pulls, pull_log_densities
from fishdown.sentences import Said
from fishdown.words import listed_names, with_error

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from fishdown.campaign import Campaign
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.posterior.sampling import SamplerSettings
    from fishdown.typing import FloatArray, IntArray

    type Progress = Callable[[int, int, int], None]

LeaveOut = Literal["day", "net"]
LEAVE_OUT: tuple[LeaveOut, ...] = ("day", "net")
# The simplest first.
SHAPES = tuple(TEMPERATURE.choices)
SMALL_DIFFERENCE = 4.0
STANDARD_ERRORS = 2.0
# With a larger share of groups that cannot be trusted, nothing is ranked (our judgement).
MANY = 0.05
# Models whose priors serve a curve for which the user's model has none.
_PRIORS_FROM = ("detailed_nets", "smooth_cooling", "pooled_lakes")
COLUMNS = (
    "shape", "score", "score_se", "behind", "behind_se", "groups", "unreliable", "largest_k", "gate"
)  # fmt: skip


@by_value
@dataclass(frozen=True)
class Score:
    """How well one curve predicts each left-out group of pulls.

    Attributes
    ----------
    by_group : ndarray, shape (group,)
        Expected log predictive density of the group, natural logarithm.
    pareto_k : ndarray, shape (group,)
        Tail of the importance weights.
    limit : float
        Largest k that can be trusted with so many draws.
    failure : str
        Why the fit must not be used; empty when it may.
    """

    by_group: FloatArray
    pareto_k: FloatArray
    limit: float
    failure: str = ""

    @property
    def unreliable(self) -> int:
        """Number of groups whose k is too high."""
        # An undefined k is unreliable too.
        return int((~(self.pareto_k <= self.limit)).sum())


@dataclass(frozen=True)
class ShapeComparison:
    """Temperature–catchability curves compared by their predictions of left-out groups.

    Attributes
    ----------
    scores : mapping of str to Score
        By shape, the simplest first.
    groups : tuple of str
        "lake day" or "lake: net", what was left out in turn.
    leave_out : {"day", "net"}
    """

    scores: Mapping[str, Score]
    groups: tuple[str, ...]
    leave_out: LeaveOut

    @property
    def best(self) -> str:
        """The shape of the highest score."""
        return max(self.scores, key=lambda shape: float(self.scores[shape].by_group.sum()))

    @property
    def failure(self) -> str:
        """Why the curves must not be ranked; empty when they may."""
        reasons = [
            Said(Ranking.FAILED, {"shape": shape, "failure": score.failure})
            for shape, score in self.scores.items()
            if score.failure
        ]
        counts = {"groups": len(self.groups), "left_out": f"{self.leave_out}s"}
        reasons += [
            Said(
                Ranking.UNRELIABLE,
                {"shape": shape, "limit": score.limit, "unreliable": score.unreliable, **counts},
            )
            for shape, score in self.scores.items()
            if score.unreliable > MANY * len(self.groups)
        ]
        return "; ".join(map(str, reasons))

    def behind(self, shape: str) -> tuple[float, float]:
        """Return the score difference of a curve from the best, and its standard error."""
        lost = self.scores[self.best].by_group - self.scores[shape].by_group
        return float(lost.sum()), float(np.sqrt(len(lost)) * lost.std(ddof=1))

    def alike(self) -> tuple[str, ...]:
        """Return the curves that are not distinguishable from the best, which is one of them."""
        return tuple(shape for shape in self.scores if self._like_best(shape))

    def frame(self) -> pd.DataFrame:
        """Tabulate the comparison.

        Returns
        -------
        pandas.DataFrame
            Columns `COLUMNS`, one row a shape: score (sum of log predictive densities over the
            groups, natural logarithm) and how far it lies behind the best, with standard errors.
        """
        count = len(self.groups)
        rows = []
        for shape, score in self.scores.items():
            behind, behind_se = self.behind(shape)
            rows.append(
                {
                    "shape": shape,
                    "score": float(score.by_group.sum()),
                    "score_se": float(np.sqrt(count) * score.by_group.std(ddof=1)),
                    "behind": behind,
                    "behind_se": behind_se,
                    "groups": count,
                    "unreliable": score.unreliable,
                    "largest_k": float(score.pareto_k.max()),
                    "gate": score.failure or "passed",
                }
            )
        return pd.DataFrame(rows, columns=list(COLUMNS))

    def sentence(self, *, despite_gate: bool = False) -> str:
        """State the result in words."""
        return str(self.said(despite_gate=despite_gate))

    def said(self, *, despite_gate: bool = False) -> Said:
        """Return the result: a code and its values."""
        values: dict[str, object] = {"failure": self.failure, "left_out": f"{self.leave_out}s"}
        if self.failure and not despite_gate:
            return Said(Ranking.NOT_RANKED, values)
        alike = self.alike()
        worse = [shape for shape in self.scores if shape not in alike]
        behind = {shape: with_error(*self.behind(shape)) for shape in worse}
        if len(alike) == 1:
            nearest = min(worse, key=lambda shape: self.behind(shape)[0])
            values |= {"best": self.best, "nearest": nearest, "behind": behind[nearest]}
            return Said(Ranking.BEST, values)
        further = (Said(Ranking.WORSE, {"shape": one, "behind": behind[one]}) for one in worse)
        values |= {
            "alike": listed_names(alike),
            "small": SMALL_DIFFERENCE,
            "without": "none" in alike,
        }
        return Said(Ranking.ALIKE, values | {"worse": "".join(map(str, further))})

    def _like_best(self, shape: str) -> bool:
        behind, error = self.behind(shape)
        return not behind >= max(SMALL_DIFFERENCE, STANDARD_ERRORS * error)


def compare_shapes(
    campaign: Campaign,
    model: str | Path | ModelSpec | None = None,
    *,
    leave_out: LeaveOut = "day",
    settings: SamplerSettings | None = None,
    on_shape: Callable[[str], None] | None = None,
    on_progress: Progress | None = None,
    on_retry: Callable[[str], None] | None = None,
) -> ShapeComparison:
    """Fit a model with each temperature–catchability curve, and compare their predictions.

    Parameters
    ----------
    campaign : Campaign
    model : str, path or ModelSpec, optional
        As for `fishdown.fit`; its curve is replaced by each curve in turn. Priors that it lacks
        are those of the shipped models.
    leave_out : {"day", "net"}
        What is left out in turn: all pulls of one day in one lake, or of one net.
    settings : SamplerSettings, optional
        The same for all shapes, seed included.
    on_shape : callable, optional
        Called with the shape that is fitted next.
    on_progress, on_retry : callable, optional
        As for `fishdown.fit`.

    Returns
    -------
    ShapeComparison

    Raises
    ------
    FitError
        If no pull has a water temperature, if the model does without catches, or if there are not
        three days or nets.
    ModelFileError
        If there is no such model.
    """
    if leave_out not in LEAVE_OUT:
        raise FitError(f"leave out {leave_out!r}: write one of {', '.join(LEAVE_OUT)}")
    asked = choose_model(campaign, model).spec
    if asked.part("evidence") == "marks":
        raise FitError(f"the model {asked.name} does not use catches, and so no temperature")
    if campaign.pulls["temperature"].isnull()[~campaign.pulls["spoiled"].values].all():
        raise FitError("no pull has a water temperature: fill in water_temp_c in pulls.csv")
    names, group = groups_of_pulls(campaign, asked, leave_out)
    if len(names) < 3:
        raise FitError(
            f"{len(names)} {leave_out}s in all: too few to leave out one and predict it; "
            f"leave out {'nets' if leave_out == 'day' else 'days'} instead"
        )
    scores = {}
    for shape in SHAPES:
        if on_shape is not None:
            on_shape(shape)
        fitted = fit_model(
            campaign,
            with_shape(asked, shape),
            settings=settings,
            on_progress=on_progress,
            on_retry=on_retry,
        )
        scores[shape] = score(fitted, group, len(names))
    return ShapeComparison(scores, names, leave_out)


def with_shape(spec: ModelSpec, shape: str) -> ModelSpec:
    """Return a model with another curve; priors that it lacks are those of shipped models."""
    known: dict[str, Prior] = {}
    for name in _PRIORS_FROM:
        known |= read_model(name).priors
    known |= spec.priors
    parts = {**spec.parts, "temperature": shape}
    priors = {name: known[name] for name in needed_priors(parts)}
    return replace(spec, parts=parts, priors=priors)


def groups_of_pulls(
    campaign: Campaign, spec: ModelSpec, leave_out: LeaveOut
) -> tuple[tuple[str, ...], IntArray]:
    """Return the groups that are left out in turn, and the group of every pull.

    Returns
    -------
    names : tuple of str
        Of the informative groups.
    group : ndarray of int, shape (pull,)
        Position of each pull's group; -1 for a pull that says nothing.
    """
    if leave_out == "net":
        every = pull_table(campaign, np.ones(campaign.pulls.sizes["pull"], dtype=bool))
        keys, joint = [every.nets[net] for net in every.net], ": "
    else:
        lake = campaign.seasons["lake"].values[campaign.pulls["season_index"].values]
        day = campaign.pulls["date"].values.astype("datetime64[D]").astype(str)
        keys, joint = list(zip(lake.tolist(), day.tolist(), strict=True)), " "
    speaks = informative_pulls(campaign, spec)
    left_out = sorted({keys[pull] for pull in np.flatnonzero(speaks)})
    place = {key: position for position, key in enumerate(left_out)}
    group = np.array(
        [place[key] if says else -1 for key, says in zip(keys, speaks, strict=True)], dtype=np.int64
    )
    return tuple(told_apart(joint.join(key) for key in left_out)), group


def score(fitted: FittedCampaign, group: IntArray, count: int) -> Score:
    """Predict each group of pulls from all the others, by reweighting the draws of a fit.

    Parameters
    ----------
    group : ndarray of int, shape (pull,)
        Group of every pull, -1 for none.
    count : int
        Number of groups.
    """
    import arviz_stats

    posterior = fitted.tree["posterior"].dataset
    pulls = pull_log_densities(posterior, fitted.campaign, fitted.spec)
    together = (pulls["catch"] + pulls["recaptures"]).values @ (group[:, None] == np.arange(count))
    likelihood = xr.Dataset({"group": (("chain", "draw", "group_of_pulls"), together)})
    tree = xr.DataTree.from_dict(
        {"posterior": fitted.quantities[["abundance_before"]], "log_likelihood": likelihood}
    )
    with warnings.catch_warnings():
        # Groups with a high k are counted and said.
        warnings.filterwarnings("ignore", message="Estimated shape parameter of Pareto")
        found = arviz_stats.loo(tree, var_name="group", pointwise=True)
    return Score(
        by_group=found.elpd_i.values,
        pareto_k=found.pareto_k.values,
        limit=float(found.good_k),
        failure="" if fitted.quality.passed else _why(fitted),
    )


def _why(fitted: FittedCampaign) -> str:
    seasons = range(fitted.quantities.sizes["season"])
    return next(why for season in seasons if (why := fitted.quality.failure(season)))
