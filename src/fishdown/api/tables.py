"""The tables of a fit: what it states, ready to be read or written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.posterior.fitted import FittedCampaign

if TYPE_CHECKING:
    import pandas as pd


class FitTables(FittedCampaign):
    """A fitted campaign with its tables of statements; the part of `fishdown.Fit` that has them."""

    def evidence(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return abundance by marks alone, by catches alone and by both, season by season.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold; the agreement is told all the same.

        Returns
        -------
        pandas.DataFrame
            lake, season, evidence, low, median, high (fish before netting, 90 % interval),
            agreement (two-sided tail probability), gate (passed, or why numbers are missing).

        Raises
        ------
        FitError
            If marks and catches were not compared in this fit.
        """
        from fishdown.statements.evidence import evidence

        return evidence(self, despite_gate=despite_gate)

    def verdicts(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return one verdict a season before netting, and one after it.

        Parameters
        ----------
        despite_gate : bool
            Print statements under a warning even where a gate failed.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.verdicts.verdicts`; biomass in kg/ha, 90 % intervals.
        """
        from fishdown.statements.verdicts import verdicts

        return verdicts(self, despite_gate=despite_gate)

    def estimates(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return every reported quantity with its interval and convergence.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.estimates.estimates`; the unit is a column; 90 % intervals.
        """
        from fishdown.statements.estimates import estimates

        return estimates(self, despite_gate=despite_gate)

    def removals(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return the fish and kg still to remove for a wanted probability.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.removals.removals`; units are in the column names.
        """
        from fishdown.statements.removals import removals

        return removals(self, despite_gate=despite_gate)

    def bycatch(self) -> pd.DataFrame:
        """Return the bycatch by species, with its rate a pull.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.bycatch.bycatch`.
        """
        from fishdown.statements.bycatch import bycatch

        return bycatch(self.campaign)

    def effort(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return what was done and taken, season by season.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.effort.effort`; units are in the column names.
        """
        from fishdown.statements.effort import effort

        return effort(self, despite_gate=despite_gate)

    def cooling(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return what cold water leaves of a pull, lake by lake.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.cooling.cooling`; temperatures in °C.
        """
        from fishdown.statements.cooling import cooling

        return cooling(self, despite_gate=despite_gate)

    def comparison(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return the lakes beside each other, and each beside its fit on its own.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.comparison.comparison`; the unit is a column.
        """
        from fishdown.statements.comparison import comparison

        return comparison(self, despite_gate=despite_gate)

    def lake_pairs(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return how probable it is that one lake is above another, quantity by quantity.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.comparison.lake_pairs`.
        """
        from fishdown.statements.comparison import lake_pairs

        return lake_pairs(self, despite_gate=despite_gate)

    def prior_parts(self) -> pd.DataFrame:
        """Return how much of what all lakes have in common is the prior.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.prior_parts.prior_parts`; parts between 0 and 1.
        """
        from fishdown.statements.prior_parts import prior_parts

        return prior_parts(self)
