"""The tables of statements of a fit, ready to be read or written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.posterior.fitted import FittedCampaign

if TYPE_CHECKING:
    import pandas as pd


class FitTables(FittedCampaign):
    """A fitted campaign with its tables of statements; the part of `fishdown.Fit` that has them."""

    def evidence(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return abundance from mark–recapture only, depletion only and both jointly, by season.

        Parameters
        ----------
        despite_gate : bool
            Fill in what a failed gate would withhold; the tail probability is given in any case.

        Returns
        -------
        pandas.DataFrame
            lake, season, evidence, low, median, high (fish before netting, 90 % interval),
            tail_probability (two-sided, of the difference), gate (passed, or why numbers are
            missing).

        Raises
        ------
        FitError
            If mark–recapture and depletion were not compared in this fit.
        """
        from fishdown.statements.evidence import evidence

        return evidence(self, despite_gate=despite_gate)

    def verdicts(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return the verdicts before and after netting, season by season.

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
        """Return every reported quantity with its interval and convergence diagnostics.

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
        """Return the additional removal needed, fish and kg, for a wanted probability.

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
        """Return the bycatch by species, with its mean per pull.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.bycatch.bycatch`.
        """
        from fishdown.statements.bycatch import bycatch

        return bycatch(self.campaign)

    def effort(self, *, despite_gate: bool = False) -> pd.DataFrame:
        """Return effort and catch, season by season.

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
        """Return the effect of cooling on catchability, lake by lake.

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
        """Return the comparison of lakes, each beside its separate fit.

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
        """Return the probability that one lake exceeds another, quantity by quantity.

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
        """Return the share of each common quantity's posterior that its prior determines.

        Returns
        -------
        pandas.DataFrame
            See `fishdown.statements.prior_parts.prior_parts`; shares between 0 and 1.
        """
        from fishdown.statements.prior_parts import prior_parts

        return prior_parts(self)
