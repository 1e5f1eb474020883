"""A fit in the user's hands: what it holds, and all that can be asked of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Self

from fishdown.api.tables import FitTables
from fishdown.equality import by_value

if TYPE_CHECKING:
    import datetime as dt
    import os
    from collections.abc import Mapping, Sequence

    from matplotlib.figure import Figure

    from fishdown.api.ahead import Ahead
    from fishdown.checks.result import CheckResult
    from fishdown.decisions.rates import Given
    from fishdown.decisions.schedule import Schedule
    from fishdown.decisions.years import YearsAhead, Young
    from fishdown.posterior.fitted import FittedCampaign


@by_value
@dataclass(frozen=True, repr=False)
class Fit(FitTables):
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

    @classmethod
    def of(cls, fitted: FittedCampaign) -> Self:
        """Wrap a fitted campaign.

        Parameters
        ----------
        fitted : FittedCampaign
        """
        return cls(fitted.campaign, fitted.spec, fitted.tree, fitted.run)

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

    def ahead(
        self,
        pulls: int | None = None,
        *,
        lake: str | None = None,
        plan: Mapping[str, Schedule] | None = None,
        start: dt.date | None = None,
        days_between: int | None = None,
        pulls_a_day: int | None = None,
        temperature: float | None = None,
        cost_per_pull: float | None = None,
        cost_above: float | None = None,
        value_per_kg: float | None = None,
        seed: int = 20,
        despite_gate: bool = False,
    ) -> Ahead:
        """Predict pulls to come: catch, biomass left, cost and expected loss.

        Parameters
        ----------
        pulls : int, optional
            How many pulls in each lake; not with `plan`.
        lake : str, optional
            By default every lake that was netted.
        plan : mapping of str to Schedule, optional
            Lake to its pulls, see `fishdown.decisions.pulls_file.read_pulls_ahead`.
        start : datetime.date, optional
            First day; by default the season continues at its pace.
        days_between : int, optional
            Days from one field day to the next.
        pulls_a_day : int, optional
            Pulls on each field day.
        temperature : float, optional
            Of the water, °C; by default what the readings tell.
        cost_per_pull, cost_above, value_per_kg : float, optional
            In the campaign's currency: cost of a pull (by default the campaign's), cost of ending
            above the threshold, value of one kg removed.
        seed : int
            Of the random numbers.
        despite_gate : bool
            Fill in what a failed gate would withhold.

        Returns
        -------
        Ahead

        Raises
        ------
        PlanError
            If what is asked for cannot be.
        """
        from fishdown.api.ahead import Ahead
        from fishdown.decisions.ahead import pulls_ahead

        return Ahead.of(
            pulls_ahead(
                self,
                pulls,
                lake=lake,
                plan=plan,
                start=start,
                days_between=days_between,
                pulls_a_day=pulls_a_day,
                temperature=temperature,
                cost_per_pull=cost_per_pull,
                cost_above=cost_above,
                value_per_kg=value_per_kg,
                seed=seed,
                despite_gate=despite_gate,
            )
        )

    def years(
        self,
        years: int = 5,
        *,
        remove_fish: float | None = None,
        remove_kg: float | None = None,
        remove_share: float | None = None,
        young: Young | None = None,
        survival: Given | None = None,
        recruits: Given | None = None,
        seed: int = 20,
        despite_gate: bool = False,
    ) -> YearsAhead:
        """Project 1 to 15 years ahead from the last season of each lake.

        Parameters
        ----------
        years : int
            How many, 1 to 15.
        remove_fish, remove_kg, remove_share : float, optional
            What netting takes out of each lake in every year: fish, kg, or a share between 0 and 1.
            One of them at most; by default no fish are removed.
        young : {"eaten", "open", "strong-year"}, optional
            Recruitment scenario; by default all three.
        survival, recruits : (float, float), optional
            Ends of a 90 % interval, in place of that of the fit or the prior: survival from year
            to year, between 0 and 1; recruitment without egg and fry predators, fish/ha a year.
        seed : int
            Of the random numbers.
        despite_gate : bool
            Fill in what a failed gate would withhold; the statement then opens with a warning.

        Returns
        -------
        YearsAhead

        Raises
        ------
        PlanError
            If a number makes no sense, all problems at once.
        """
        from fishdown.decisions.years import years_ahead

        return years_ahead(
            self,
            years,
            remove_fish=remove_fish,
            remove_kg=remove_kg,
            remove_share=remove_share,
            young=young,
            survival=survival,
            recruits=recruits,
            seed=seed,
            despite_gate=despite_gate,
        )

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
