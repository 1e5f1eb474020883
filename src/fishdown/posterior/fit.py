"""Fit a campaign: build, compile, sample, judge, and try harder where that is called for."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from fishdown.checks.evidence import (
    Disagreement,
    both_speak,
    catches_alone,
    compare,
    disagreement,
    evidence_frame,
    marks_alone_spec,
)
from fishdown.errors import FitError
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parameters import PARAMETERS
from fishdown.posterior.attempts import Sampled, sample_well
from fishdown.posterior.choice import choose_model
from fishdown.posterior.prior_share import mostly_prior, prior_shares
from fishdown.posterior.quality import Quality, judge
from fishdown.posterior.sampling import SamplerSettings
from fishdown.posterior.untold import untold

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Sequence
    from pathlib import Path

    import pandas as pd
    from matplotlib.figure import Figure

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.decisions.ahead import Ahead
    from fishdown.decisions.years import YearsAhead
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.attempts import Progress


LIBRARIES = (
    "fishdown", "pymc", "pytensor", "nutpie", "arviz", "numba", "numpy", "xarray", "pandas"
)  # fmt: skip


@dataclass(frozen=True)
class Fit:
    """A fitted campaign.

    Attributes
    ----------
    campaign : Campaign
        The records that were fitted.
    spec : ModelSpec
        The model, less the parts that the records could not feed.
    tree : xarray.DataTree
        Groups ``posterior`` (free variables), ``quantities`` (the reported ones),
        ``sample_stats``, ``told`` (how much of abundance the priors determine), ``campaign``,
        ``evidence`` where marks and catches were compared, and
        ``alone`` where lakes were.
    run : dict
        Seed, versions, input hashes, attempts, wall times: what `run.json` holds.
    """

    campaign: Campaign
    spec: ModelSpec
    tree: xr.DataTree
    run: dict[str, Any]

    def __repr__(self) -> str:
        """Say what was fitted, and whether it may be spoken about."""
        gate = "passed" if self.passed else "FAILED"
        return f"<Fit of {self.campaign!r} by {self.spec.name}: gate {gate}>"

    @property
    def quantities(self) -> xr.Dataset:
        """Draws of the reported quantities, dimensions (chain, draw, season)."""
        return self.tree["quantities"].dataset

    @cached_property
    def data(self) -> ModelData:
        """The records as the model sees them."""
        return model_data(self.campaign, self.spec)

    @cached_property
    def quality(self) -> Quality:
        """Convergence of the reported quantities, by which statements are let through."""
        return judge(self.quantities, self.tree["sample_stats"].dataset)

    @cached_property
    def untold(self) -> tuple[str, ...]:
        """Why the records do not determine each season's abundance; empty where they do."""
        by_records = untold(self.campaign, self.spec)
        if "told" not in self.tree.children:
            return by_records
        told = self.tree["told"].dataset
        return tuple(why or mostly_prior(told, season) for season, why in enumerate(by_records))

    @cached_property
    def fingerprint(self) -> str:
        """Twelve letters that another fit does not have: of its draws and its input files."""
        digest = hashlib.sha256(json.dumps(self.run.get("input_sha256"), sort_keys=True).encode())
        for name in sorted(map(str, self.quantities)):
            digest.update(np.ascontiguousarray(self.quantities[name].values).tobytes())
        # A letter first: to a spreadsheet it is no number.
        return f"f{digest.hexdigest()[:11]}"

    def failure(self, season: int) -> str:
        """Return why statements on a season must be withheld; empty when they need not be."""
        reasons = [self.untold[season], self.quality.failure(season)]
        said = self.disagreement(season)
        if said is not None and said.conflict:
            reasons.append(said.sentence())
        return "; ".join(reason for reason in reasons if reason)

    @property
    def passed(self) -> bool:
        """Whether every season is told by its records and passes both gates."""
        return not any(self.failure(season) for season in range(self._seasons))

    @property
    def _seasons(self) -> int:
        return int(self.quantities.sizes["season"])

    @property
    def reweighted(self) -> bool:
        """Whether its draws were reweighted for pulls that came since: see `decisions.update`."""
        return bool(self.run.get("update", {}).get("reweighted"))

    def disagreement(self, season: int) -> Disagreement | None:
        """Return what marks and catches of a season say to each other; None if not compared."""
        if "evidence" not in self.tree.children:
            return None
        return disagreement(self.tree["evidence"].dataset, season)

    def evidence(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return abundance by marks alone, by catches alone and by both, season by season.

        Where a gate failed the numbers are missing, unless `despite_gate`; the agreement is told
        all the same, and ``gate`` says why.
        """
        if "evidence" not in self.tree.children:
            raise FitError("marks and catches were not compared in this fit")
        found = evidence_frame(self.campaign, self.tree["evidence"].dataset)
        gates = [self.failure(season) or "passed" for season in range(self._seasons)]
        # Every season has as many rows: one a kind of evidence.
        found["gate"] = np.repeat(gates, len(found) // max(len(gates), 1))
        if not despite_gate:
            found.loc[found["gate"] != "passed", ["low", "median", "high"]] = np.nan
        return found

    def verdicts(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return one verdict a season before and after netting: see `fishdown.statements`."""
        from fishdown.statements.verdicts import verdicts

        return verdicts(self, despite_gate=despite_gate)

    def estimates(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return every reported quantity with interval and convergence."""
        from fishdown.statements.estimates import estimates

        return estimates(self, despite_gate=despite_gate)

    def removals(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return the fish and kg still to remove for a wanted probability."""
        from fishdown.statements.removals import removals

        return removals(self, despite_gate=despite_gate)

    def bycatch(self) -> pd.DataFrame:
        """Return the bycatch by species, with its rate a pull; see `fishdown.statements`."""
        from fishdown.statements.bycatch import bycatch

        return bycatch(self.campaign)

    def effort(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return what was done and taken, season by season; see `fishdown.statements`."""
        from fishdown.statements.effort import effort

        return effort(self, despite_gate=despite_gate)

    def figures(
        self,
        *,
        only: Sequence[str] | None = None,
        palette: str = "light",
        despite_gate: bool = False,
    ) -> dict[str, Figure]:
        """Draw every figure that the fit has something for, by name; see `fishdown.figures`."""
        from fishdown import figures

        names = only or [name for name in figures.NAMES if not figures.missing(self, name)]
        return {
            name: figures.draw(self, name, palette=palette, despite_gate=despite_gate)
            for name in names
        }

    def report(self, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
        """Write the page about the fit into a folder; see `fishdown.report`."""
        from fishdown.report import write_report

        return write_report(self, folder, despite_gate=despite_gate)

    def cooling(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return what cold water leaves of a pull, lake by lake: see `fishdown.statements`."""
        from fishdown.statements.cooling import cooling

        return cooling(self, despite_gate=despite_gate)

    def comparison(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return the lakes beside each other, and each beside its fit on its own."""
        from fishdown.statements.comparison import comparison

        return comparison(self, despite_gate=despite_gate)

    def lake_pairs(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return how probable it is that one lake is above another, quantity by quantity."""
        from fishdown.statements.comparison import lake_pairs

        return lake_pairs(self, despite_gate=despite_gate)

    def ahead(self, pulls: int | None = None, **plan: Any) -> Ahead:
        """Predict pulls to come, their catch, cost and worth; see `fishdown.decisions.ahead`."""
        from fishdown.decisions.ahead import ahead

        return ahead(self, pulls, **plan)

    def prior_parts(self) -> pd.DataFrame:
        """Return how much of what all lakes have in common is the prior: `fishdown.statements`."""
        from fishdown.statements.prior_parts import prior_parts

        return prior_parts(self)

    def years(self, years: int = 5, **asked: Any) -> YearsAhead:
        """Look years ahead, with or without netting; see `fishdown.decisions.years`."""
        from fishdown.decisions.years import years_ahead

        return years_ahead(self, years, **asked)

    def checks(self) -> tuple[CheckResult, ...]:
        """Return the fit held against its own records: see `fishdown.checks.battery`."""
        return self._checks

    @cached_property
    def _checks(self) -> tuple[CheckResult, ...]:
        from fishdown.checks.battery import checks

        return checks(self)

    def save(self, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
        """Write the fit and its statements into a folder; see `fishdown.posterior.store`."""
        from fishdown.posterior.store import save

        return save(self, folder, despite_gate=despite_gate)


def fit(
    campaign: Campaign,
    model: str | Path | ModelSpec | None = None,
    *,
    settings: SamplerSettings | None = None,
    compare_evidence: bool = True,
    compare_lakes: bool = False,
    on_progress: Progress | None = None,
    on_retry: Callable[[str], None] | None = None,
) -> Fit:
    """Fit a model to a campaign.

    Parameters
    ----------
    campaign : Campaign
        From `fishdown.read`.
    model : str, path or ModelSpec, optional
        A shipped model's name, a model file, or a specification; by default the campaign's own
        choice or else that of `choose_model`.
    settings : SamplerSettings, optional
        Draws, chains, seed and the like.
    compare_evidence : bool
        Fit the catches alone too, and hold them against the marks, where both speak.
    compare_lakes : bool
        Where lakes are pooled, fit them without pooling too, for `Fit.comparison`. What is common
        to all pulls, such as schooling, stays common.
    on_progress : callable, optional
        Called with draws done, draws in all and divergences.
    on_retry : callable, optional
        Called with the reason when sampling is repeated with more care.

    Returns
    -------
    Fit
        Even when the quality gate failed after all retries; its statements are then withheld.

    Raises
    ------
    ModelFileError
        If there is no such model.
    FitError
        If the records hold nothing to fit, or the sampler broke down.
    """
    settings = settings or SamplerSettings()
    choice = choose_model(campaign, model)
    asked = choice.spec
    spec, notes = fitting_spec(campaign, asked)
    if spec.part("years") == "apart":
        campaign = campaign.netted
    sampled = sample_well(campaign, spec, settings, on_progress, on_retry)
    groups = {
        "posterior": _labelled(sampled.tree["posterior"].to_dataset()),
        "quantities": sampled.quantities,
        "sample_stats": _plain(sampled.tree["sample_stats"].to_dataset()),
        "told": prior_shares(sampled.tree["posterior"].to_dataset(), campaign, spec),
    }
    alone: dict[str, Sampled] = {}
    if compare_evidence and both_speak(campaign, spec):
        apart = {"catches alone": catches_alone(spec), "marks alone": marks_alone_spec(spec)}
        alone = {
            which: sample_well(campaign, one, settings, on_progress, on_retry, which)
            for which, one in apart.items()
            if one is not None
        }
        draws = {which: found.quantities["abundance_before"] for which, found in alone.items()}
        groups["evidence"] = compare(
            campaign,
            spec,
            both=sampled.quantities["abundance_before"],
            depletion=draws["catches alone"],
            marks=draws.get("marks alone"),
        )
    each_lake = None
    if compare_lakes and spec.part("pooling") == "lakes":
        from fishdown.statements.comparison import intervals_alone

        each = spec.with_parts(pooling="none")
        each_lake = sample_well(
            campaign, each, settings, on_progress, on_retry, "each lake on its own"
        )
        groups["alone"] = intervals_alone(each_lake.quantities, each_lake.quality)
    tree = xr.DataTree.from_dict({**groups, "campaign": campaign.to_tree()})

    run = {
        "title": campaign.settings.title,
        "model": spec.name,
        "model_title": asked.title,
        "model_choice": choice.why,
        "model_text": asked.text,
        "model_parts": dict(spec.parts),
        "model_priors": {name: prior.entry() for name, prior in spec.priors.items()},
        "notes": list(notes),
        "seed": settings.seed,
        "versions": {name: version(name) for name in LIBRARIES},
        "input_sha256": dict(campaign.hashes or {}),
        **sampled.entry(),
        "alone": {which: found.entry() for which, found in alone.items()},
        "lakes_alone": None if each_lake is None else each_lake.entry(),
    }
    return Fit(campaign, spec, tree, run)


def _labelled(posterior: xr.Dataset) -> xr.Dataset:
    """Give every free variable its unit and meaning."""
    posterior.attrs = {}
    for name, array in posterior.data_vars.items():
        base = str(name).removesuffix("_typical")
        if base == "abundance":
            array.attrs.update(units="count", long_name="fish in the lake before the first pull")
        elif base in PARAMETERS:
            parameter = PARAMETERS[base]
            typical = ", typical lake" if base != name else ""
            array.attrs.update(units=parameter.unit, long_name=parameter.meaning + typical)
        else:
            array.attrs.update(units="1", long_name=f"working variable of the sampler: {name}")
    return posterior


def _plain(stats: xr.Dataset) -> xr.Dataset:
    stats.attrs = {}
    for name, array in stats.data_vars.items():
        array.attrs.update(units="1", long_name=f"sampler: {str(name).replace('_', ' ')}")
    return stats
