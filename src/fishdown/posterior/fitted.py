"""A fitted campaign: records, model, draws, sampling record, and gates."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import xarray as xr

from fishdown.bycatch_rates.estimates import estimate_bycatch
from fishdown.equality import by_value
from fishdown.models.data import model_data
from fishdown.posterior.disagreement import disagreement
from fishdown.posterior.other_effects import other_effects
from fishdown.posterior.prior_share import mostly_prior, prior_shares
from fishdown.posterior.quality import judge
from fishdown.posterior.untold import untold

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from fishdown.bycatch_rates.estimates import BycatchEstimates
    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.disagreement import Disagreement
    from fishdown.posterior.quality import Quality
    from fishdown.typing import FloatArray, Numbers
    from fishdown.units import System


@by_value
@dataclass(frozen=True)
class FittedCampaign:
    """A fitted campaign: what it holds, and which seasons pass the gates.

    Checks, statements, decisions, figures and the page take it; what they make of it are the
    methods of `fishdown.Fit`.

    Its attributes are those of `fishdown.Fit`.
    """

    campaign: Campaign
    spec: ModelSpec
    tree: xr.DataTree
    run: dict[str, Any]

    def __repr__(self) -> str:
        """Summarise what was fitted, and whether it passes the gates."""
        gate = "passed" if self.passed else "FAILED"
        return f"<{type(self).__name__} of {self.campaign!r} by {self.spec.name}: gate {gate}>"

    @property
    def units(self) -> System:
        """The units in which people read the results; see `fishdown.units.shown_in`."""
        return self.campaign.settings.units

    @property
    def quantities(self) -> xr.Dataset:
        """Draws of the reported quantities, dimensions (chain, draw, season)."""
        return self.tree["quantities"].dataset

    @cached_property
    def data(self) -> ModelData[Numbers]:
        """The records as the model sees them."""
        return model_data(self.campaign, self.spec)

    @cached_property
    def quality(self) -> Quality:
        """Convergence of the reported quantities, the basis of the quality gate."""
        return judge(self.quantities, self.tree["sample_stats"].dataset)

    @cached_property
    def untold(self) -> tuple[str, ...]:
        """Why the records do not determine each season's abundance; empty where they do."""
        by_records = untold(self.campaign, self.spec)
        if "told" not in self.tree.children:
            return by_records
        told = self.tree["told"].dataset
        return tuple(why or mostly_prior(told, season) for season, why in enumerate(by_records))

    def prior_shares(self) -> pd.DataFrame:
        """Tabulate the share of the uncertainty about every quantity that the priors determine.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.posterior.prior_share.prior_shares`; computed once.
        """
        return self._prior_shares

    @cached_property
    def _prior_shares(self) -> pd.DataFrame:
        posterior = self.tree["posterior"].to_dataset()
        return prior_shares(posterior, self.quantities, self.campaign, self.spec, self.data)

    @cached_property
    def other_effects(self) -> tuple[FloatArray, ...]:
        """Draws of what a season's pulls have in common but temperature, on the log scale."""
        return other_effects(self.tree["posterior"].dataset, self.spec, self.data)

    @cached_property
    def bycatch_estimates(self) -> BycatchEstimates:
        """Rates and dead shares of the bycatch; those of its records, whatever was fitted."""
        return estimate_bycatch(self.campaign)

    @cached_property
    def fingerprint(self) -> str:
        """Twelve letters that another fit does not have: of its draws and its input files."""
        digest = hashlib.sha256(json.dumps(self.run.get("input_sha256"), sort_keys=True).encode())
        for name in sorted(map(str, self.quantities)):
            digest.update(np.ascontiguousarray(self.quantities[name].values).tobytes())
        # A letter first: to a spreadsheet it is no number.
        return f"f{digest.hexdigest()[:11]}"

    def failure(self, season: int) -> str:
        """Return why statements on a season must be withheld.

        Parameters
        ----------
        season : int
            Its position in `campaign.seasons`.

        Returns
        -------
        str
            Empty when they need not be.
        """
        return self._failures[season]

    @cached_property
    def _failures(self) -> tuple[str, ...]:
        found = []
        for season, why in enumerate(self.untold):
            said = self.disagreement(season)
            conflict = str(said.said) if said is not None and said.conflict else ""
            reasons = (why, self.quality.failure(season), conflict)
            found.append("; ".join(reason for reason in reasons if reason))
        return tuple(found)

    @property
    def passed(self) -> bool:
        """Whether every season is determined by its records and passes both gates."""
        return not any(self.failure(season) for season in range(self.season_count))

    @property
    def season_count(self) -> int:
        """How many seasons were fitted."""
        return int(self.quantities.sizes["season"])

    @property
    def reweighted(self) -> bool:
        """Whether its draws were reweighted for new pulls: see `fishdown.update`."""
        return bool(self.run.get("update", {}).get("reweighted"))

    def disagreement(self, season: int) -> Disagreement | None:
        """Return how the mark–recapture and depletion estimates of a season compare.

        Parameters
        ----------
        season : int
            Its position in `campaign.seasons`.

        Returns
        -------
        Disagreement or None
            None where they were not compared in this fit.
        """
        if "evidence" not in self.tree.children:
            return None
        return disagreement(self.tree["evidence"].dataset, season)

    def holding(self, groups: Mapping[str, xr.Dataset], campaign: Campaign | None = None) -> Self:
        """Return the fit with other groups in its tree, in place of its own or beside them.

        Parameters
        ----------
        groups : mapping of str to xarray.Dataset
        campaign : Campaign, optional
            In place of the fitted one.
        """
        kept = {name: self.tree[name].to_dataset() for name in self.tree.children}
        del kept["campaign"]
        records = self.campaign if campaign is None else campaign
        # The records last, as in a fit to begin with.
        tree = xr.DataTree.from_dict({**kept, **groups, "campaign": records.to_tree()})
        return replace(self, campaign=records, tree=tree)
