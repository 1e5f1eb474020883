"""A fit in the user's hands: what it holds, and all that can be asked of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Self

from fishdown.api.ahead import Ahead
from fishdown.api.giving import giving
from fishdown.decisions.ahead import pulls_ahead
from fishdown.decisions.budget import budget
from fishdown.decisions.worth import worth
from fishdown.decisions.years import years_ahead
from fishdown.equality import by_value
from fishdown.posterior.fitted import FittedCampaign
from fishdown.statements import comparison as lakes
from fishdown.statements import (
    cooling,
    effort,
    elsewhere,
    estimates,
    evidence,
    removals,
    sources,
    verdicts,
)
from fishdown.statements.bycatch import by_species
from fishdown.units import shown_in

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    import pandas as pd
    from matplotlib.figure import Figure

    from fishdown.checks.result import CheckResult


@by_value
@dataclass(frozen=True, repr=False)
class Fit(FittedCampaign):
    """A fitted campaign, and what follows from it.

    From `fishdown.fit`, `fishdown.load` or `fishdown.update`. Two are equal if their
    records, model, draws and record of the run are.

    Attributes
    ----------
    campaign : Campaign
        The records that were fitted.
    spec : ModelSpec
        The model, less the parts that the records could not feed.
    tree : xarray.DataTree
        Groups ``posterior`` (free variables), ``quantities`` (the reported ones),
        ``sample_stats``, ``told`` (how much of abundance the priors determine), ``campaign``;
        those that ArviZ knows by name (``observed_data``, ``posterior_predictive``,
        ``log_likelihood``, ``log_prior``, ``constant_data``, ``prior``, see
        `fishdown.posterior.standard_groups`), and ``prior_quantities``; ``evidence`` where
        mark–recapture and depletion were compared, and ``alone`` where lakes were.
    run : dict
        Seed, versions, input hashes, attempts, wall times: what `run.json` holds.
    """

    # What these take and return is said where they are written.
    ahead = giving(Ahead.of, pulls_ahead)
    years = years_ahead
    worth = worth
    budget = budget
    verdicts = verdicts.verdicts
    estimates = estimates.estimates
    removals = removals.removals
    evidence = evidence.evidence
    sources = sources.sources
    elsewhere = elsewhere.elsewhere
    effort = effort.effort
    cooling = cooling.cooling
    comparison = lakes.comparison
    lake_pairs = lakes.lake_pairs

    @classmethod
    def of(cls, fitted: FittedCampaign) -> Self:
        """Wrap a fitted campaign."""
        return cls(fitted.campaign, fitted.spec, fitted.tree, fitted.run)

    def _repr_html_(self) -> str:
        """Show the verdicts in a notebook, as the page has them; a failed gate withholds them."""
        from fishdown.display.fitted import verdicts_table
        from fishdown.display.html import as_html
        from fishdown.display.table import Source

        with shown_in(self.units):
            table = verdicts_table(Source("verdicts", self.verdicts()))
        return f"<p>{escape(repr(self))}</p>{as_html(table)}"

    def checks(self) -> tuple[CheckResult, ...]:
        """Return the model checks of the fit; computed once.

        Returns
        -------
        tuple of CheckResult
            See `fishdown.checks.battery.checks`.
        """
        return self._checks

    @cached_property
    def _checks(self) -> tuple[CheckResult, ...]:
        from fishdown.checks.battery import checks

        return checks(self)

    def bycatch(self) -> pd.DataFrame:
        """Tabulate the bycatch of each season by species, with its mean per pull.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.bycatch.by_species`.
        """
        return by_species(self.bycatch_estimates)

    def figures(
        self,
        *,
        only: Sequence[str] | None = None,
        palette: str = "light",
        despite_gate: bool = False,
    ) -> dict[str, Figure]:
        """Draw every figure for which the fit has data.

        Parameters
        ----------
        only : sequence of str, optional
            Names out of `fishdown.figures.NAMES`; by default all with something to show.
        palette : {"light", "print", "page"}
        despite_gate : bool
            Draw also what a failed gate would withhold.

        Returns
        -------
        dict of str to matplotlib.figure.Figure
            By name.

        Raises
        ------
        FishdownError
            If there is no such figure or palette, or nothing to draw in one that was asked for.
        """
        from fishdown import figures

        names = only or [name for name in figures.NAMES if not figures.missing(self, name)]
        return {
            name: figures.draw(self, name, palette=palette, despite_gate=despite_gate)
            for name in names
        }

    def report(self, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
        """Write the page about the fit into a folder.

        Parameters
        ----------
        folder : str or path
            Made if need be. Tables of pulls and years ahead in it are shown if they are of this
            fit.
        despite_gate : bool
            Show statements under a warning even where a gate failed.

        Returns
        -------
        Path
            The page.

        Raises
        ------
        FishdownError
            If the folder cannot be written.
        """
        from fishdown.report import write_report

        return write_report(self, folder, checks=self.checks(), despite_gate=despite_gate)

    def workbook(self, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
        """Write the tables on the fit, its checks, its priors and its methods as one workbook.

        Parameters
        ----------
        folder : str or path
            Made if need be. Tables of pulls and years ahead in it are sheets if they are of this
            fit.
        despite_gate : bool
            Write statements even where a gate failed; the first sheet then says so.

        Returns
        -------
        Path
            The workbook.

        Raises
        ------
        FishdownError
            If the folder cannot be written.
        """
        from fishdown.report.workbook import write_workbook

        return write_workbook(self, folder, checks=self.checks(), despite_gate=despite_gate)

    def save(self, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
        """Write the fit, its statements and its checks into a folder.

        With several lakes also how they compare; and `manifest.json`, by which `fishdown.load`
        knows the files again.

        Parameters
        ----------
        folder : str or path
            Made if need be; files of an earlier fit in it are replaced, and what was made from
            that one (its page, figures, and pulls and years ahead) is removed.
        despite_gate : bool
            Print statements under a warning even where a gate failed.

        Returns
        -------
        Path
            The folder.

        Raises
        ------
        FitError
            If the folder cannot be written.
        """
        from fishdown.api.files import write_fit

        write_fit(self, folder, checks=self.checks(), despite_gate=despite_gate)
        return Path(folder)


def load(folder: str | os.PathLike[str]) -> Fit:
    """Read a fit that `Fit.save` wrote.

    Parameters
    ----------
    folder : str or path

    Returns
    -------
    Fit
        Equal to the one that was saved.

    Raises
    ------
    FitError
        If the folder holds no fit, a damaged or changed one, or one of another format.
    """
    from fishdown.api.files import read_fit

    return Fit.of(read_fit(folder))
