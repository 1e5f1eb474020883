"""The pulls of one lake and season, arranged as each classical estimator takes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import DesignError
from fishdown.formulas.counts import as_counts
from fishdown.formulas.estimate import fish

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

COLUMNS = ("date", "net", "caught", "recaptured", "released_again", "marks_at_large", "spoiled")

OF_SEASON = ("marks_of_season", "recaptured_of_season")
"""Columns of the marks released in the season, where others of earlier seasons are at large."""

ROUNDING = 1e-9
"""A change in the marks at large below this is no change."""


@by_value
@dataclass(frozen=True)
class Steps:
    """Netting summed to steps of time: days, or single pulls where there is one net.

    Attributes
    ----------
    unit : str
        "day" or "pull".
    catch : ndarray, shape (step,)
        Fish caught by nets that fished properly.
    effort : ndarray, shape (step,)
        Their number of pulls, or of hours fished.
    removed : ndarray, shape (step,)
        Fish taken out of the lake, void pulls included and fish released again left out.
    """

    unit: str
    catch: NDArray[np.float64]
    effort: NDArray[np.float64]
    removed: NDArray[np.float64]


@by_value
@dataclass(frozen=True)
class Samples:
    """Pulls whose catch was examined for marks.

    Attributes
    ----------
    caught, recaptured : ndarray, shape (sample,)
        Fish examined, and marked fish among them.
    marks : ndarray, shape (sample,)
        Marked fish in the lake just before the pull.
    removed_before : ndarray, shape (sample,)
        Fish removed from the lake before the pull, since the first of the season.
    """

    caught: NDArray[np.float64]
    recaptured: NDArray[np.float64]
    marks: NDArray[np.float64]
    removed_before: NDArray[np.float64]


@by_value
@dataclass(frozen=True)
class Netting:
    """The pulls of one lake and season in time order.

    Attributes
    ----------
    day : ndarray of datetime64[D], shape (pull,)
        Date.
    nets : int
        Number of different nets.
    caught, returned, removed : ndarray, shape (pull,)
        Fish caught, of these put back alive, and the difference.
    recaptured, examined : ndarray, shape (pull,)
        Fish marked in the season among those examined (NaN where none was), and how many these
        are.
    marks : ndarray, shape (pull,)
        Fish marked in the season and in the lake just before the pull.
    spoiled : ndarray of bool, shape (pull,)
        Whether the net failed.
    hours : ndarray, shape (pull,)
        Hours that the net fished; NaN where not on record.
    earlier : float
        Marks of earlier seasons at large at the first pull, if all of them lived.
    mixed : int
        Examined catches whose marks of earlier seasons cannot be distinguished from those of the
        season.
    """

    day: NDArray[np.datetime64]
    nets: int
    caught: NDArray[np.float64]
    returned: NDArray[np.float64]
    recaptured: NDArray[np.float64]
    examined: NDArray[np.float64]
    marks: NDArray[np.float64]
    spoiled: NDArray[np.bool_]
    hours: NDArray[np.float64]
    earlier: float = 0.0
    mixed: int = 0

    @classmethod
    def read(cls, pulls: pd.DataFrame) -> Netting:
        """Take the pulls out of a data frame.

        Parameters
        ----------
        pulls : DataFrame
            The columns `COLUMNS`, one row a pull, in time order; ``examined`` too, unless catches
            were examined whole for marks; ``effort_h`` if hours are on record; `OF_SEASON` too,
            unless all marks at large were released in the season.

        Returns
        -------
        Netting
            The same as arrays; a missing number of marks at large counts as none.

        Raises
        ------
        DesignError
            If columns are missing, there are no pulls, they are not in time order, or counts are
            impossible.
        """
        missing = [column for column in COLUMNS if column not in pulls.columns]
        if missing:
            raise DesignError(f"the pulls lack the columns {', '.join(missing)}")
        if pulls.empty:
            raise DesignError("there are no pulls")
        day = pulls["date"].to_numpy(dtype="datetime64[D]")
        early = np.flatnonzero(np.diff(day) < np.timedelta64(0, "D"))
        if early.size:
            i = int(early[0])
            raise DesignError(f"pulls must be in time order: {day[i + 1]} comes after {day[i]}")
        caught = as_counts(pulls["caught"].to_numpy(), "catches")
        returned = as_counts(pulls["released_again"].to_numpy(), "fish released again")
        recaptured = pulls["recaptured"].to_numpy(dtype=np.float64, na_value=np.nan)
        as_counts(recaptured[~np.isnan(recaptured)], "recaptures")
        wrong = [
            f"{day[i]}: {fate[i]:g} fish {what} out of a catch of {caught[i]:g}"
            for fate, what in ((returned, "released again"), (recaptured, "recaptured"))
            for i in np.flatnonzero(fate > caught)
        ]
        if wrong:
            raise DesignError("; ".join(wrong))
        examined = pulls["examined"].to_numpy(dtype=np.float64) if "examined" in pulls else caught
        marks = np.nan_to_num(pulls["marks_at_large"].to_numpy(dtype=np.float64))
        own_marks, own = marks, recaptured
        if set(OF_SEASON) <= set(pulls.columns):
            own_marks = pulls["marks_of_season"].to_numpy(dtype=np.float64)
            own = pulls["recaptured_of_season"].to_numpy(dtype=np.float64)
        return cls(
            day=day,
            nets=pulls["net"].nunique(),
            caught=caught,
            returned=returned,
            recaptured=own,
            examined=np.where(np.isnan(own), 0.0, examined),
            marks=own_marks,
            spoiled=pulls["spoiled"].to_numpy(dtype=bool),
            hours=pulls["effort_h"].to_numpy(dtype=np.float64)
            if "effort_h" in pulls
            else np.full(len(pulls), np.nan),
            earlier=float(max(marks[0] - own_marks[0], 0.0)),
            mixed=int((~np.isnan(recaptured) & np.isnan(own)).sum()),
        )

    @property
    def removed(self) -> NDArray[np.float64]:
        """Fish taken out of the lake by each pull."""
        return self.caught - self.returned

    @property
    def removed_before(self) -> NDArray[np.float64]:
        """Fish taken out of the lake by earlier pulls."""
        return np.cumsum(self.removed) - self.removed

    @property
    def known(self) -> float:
        """Fish known to have been there: all removed, and the marked fish left at the end."""
        return float(self.removed.sum() + max(self.marks[-1] - self.most_marked[-1], 0.0))

    @property
    def most_marked(self) -> NDArray[np.float64]:
        """Most fish of each catch that can have been marked: those seen, and those not examined."""
        return np.nan_to_num(self.recaptured) + self.caught - self.examined

    @property
    def in_hours(self) -> bool:
        """Whether the hours of all pulls that fished properly are on record."""
        return bool((self.spoiled | ~np.isnan(self.hours)).all() and not self.spoiled.all())

    def steps(self, *, hours: bool = False) -> Steps:
        """Sum the pulls to days; where a single net was used, each pull is a step.

        Parameters
        ----------
        hours : bool
            Whether effort is counted in hours, which must be on record.
        """
        single = self.nets == 1
        step = np.arange(self.day.size) if single else np.unique(self.day, return_inverse=True)[1]

        def total(values: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.bincount(step, weights=values)

        fished = (~self.spoiled).astype(np.float64)
        return Steps(
            unit="pull" if single else "day",
            catch=total(self.caught * fished),
            effort=total(np.where(self.spoiled, 0.0, self.hours) if hours else fished),
            removed=total(self.removed),
        )

    def passes(self) -> Steps:
        """Return the steps if they are passes of equal effort whose whole catch was removed.

        Raises
        ------
        DesignError
            If fish were released again before the last pull, a net failed with fish in it, or
            effort differs.
        """
        self._refuse_returned("a fish may count twice as removed")
        self._refuse_spoiled_catch("a pass must take fish with its full effort only")
        steps = self.steps()
        # A failed pull of a single net that caught nothing is no pass at all.
        fished = steps.effort > 0
        effort = steps.effort[fished]
        if not effort.size:
            raise DesignError("every pull was void (spoiled)")
        if np.ptp(effort):
            raise DesignError(
                f"effort differs between days ({effort.min():g} to {effort.max():g} pulls); "
                "passes must be equal"
            )
        return Steps(steps.unit, steps.catch[fished], effort, steps.removed[fished])

    def effort_only(self, *, hours: bool = False) -> Steps:
        """Return the steps if fish left the lake only by the effort counted.

        Parameters
        ----------
        hours : bool
            As in `steps`.

        Raises
        ------
        DesignError
            If fish were released again before the last pull, or a net failed with fish in it.
        """
        self._refuse_returned("they did not leave the lake")
        self._refuse_spoiled_catch("they left the lake without effort")
        return self.steps(hours=hours)

    def one_sample(self) -> tuple[int, int, int, float]:
        """Pool the examined pulls into one recapture sample, if there was one marking only.

        Examined pulls among others are still a random sample, without replacement, of the fish
        that were there when the marks went in.

        Returns
        -------
        tuple
            Marked fish, fish examined, recaptures, and fish removed before the marks were there.

        Raises
        ------
        DesignError
            If there were no marks, no catch was examined for them, marks were added or lost later,
            or fish were released again before the last pull; or if marks of earlier seasons cannot
            be told apart.
        """
        self._refuse_mixed_marks()
        with_marks = np.flatnonzero(self.marks > 0)
        if not with_marks.size:
            raise DesignError("no marked fish were at large")
        start = int(with_marks[0])
        marks, day = self.marks[start:], self.day[start:]
        looked_at, recaptured = self.examined[start:], self.recaptured[start:]
        examined = ~np.isnan(recaptured)
        if not examined.any():
            raise DesignError("no catch was examined for marks")
        change = np.diff(marks)
        most_taken = self.most_marked[start:-1]
        added, lost = change > ROUNDING, -change > most_taken + ROUNDING
        if added.any():
            i = int(added.argmax())
            raise DesignError(
                f"{change[i]:g} marks were added before {day[i + 1]}: this is more than one marking"
            )
        if lost.any():
            i = int(lost.argmax())
            raise DesignError(
                f"marks at large fell by {-change[i]:g} before {day[i + 1]}, but at most "
                f"{most_taken[i]:g} were caught: marks were lost in between"
            )
        returned = float(self.returned[start:-1].sum())
        if returned:
            raise DesignError(
                f"{fish(returned)} fish were released again and could be recaptured, so the pulls "
                "are not one sample"
            )
        return (
            round(float(marks[0])),
            int(looked_at[examined].sum()),
            int(recaptured[examined].sum()),
            float(self.removed_before[start]),
        )

    def samples(self) -> Samples:
        """Return every examined pull as a recapture sample, in time order.

        Raises
        ------
        DesignError
            If no catch was examined for marks, or marks of earlier seasons cannot be told apart.
        """
        self._refuse_mixed_marks()
        examined = ~np.isnan(self.recaptured)
        if not examined.any():
            raise DesignError("no catch was examined for marks")
        return Samples(
            self.examined[examined],
            self.recaptured[examined],
            self.marks[examined],
            self.removed_before[examined],
        )

    @property
    def counted_marks(self) -> str:
        """Which marks count, in words; empty where all of them were released in the season."""
        if not self.earlier:
            return ""
        return (
            f"counts the marks released in this season; up to {fish(self.earlier)} of earlier "
            "seasons are left out, since it is not known how many of them are still alive"
        )

    def _refuse_mixed_marks(self) -> None:
        if not self.earlier:
            return
        left_out = (
            f"up to {fish(self.earlier)} marked fish of earlier seasons were at large, and it is "
            "not known how many of them were still alive"
        )
        if not self.marks.any():
            raise DesignError(f"no fish were marked in this season; {left_out}")
        if self.mixed:
            catches = "1 catch does" if self.mixed == 1 else f"{self.mixed} catches do"
            raise DesignError(
                f"{left_out}; {catches} not tell their marks from those of this season: name the "
                "batch of every recapture, and give each season batches of its own"
            )

    def _refuse_returned(self, why: str) -> None:
        returned = float(self.returned[:-1].sum())
        if returned:
            raise DesignError(f"{fish(returned)} fish of the catch were released again: {why}")

    def _refuse_spoiled_catch(self, why: str) -> None:
        lost = self.spoiled & (self.caught > 0)
        if lost.any():
            count = int(lost.sum())
            raise DesignError(
                f"{count} void pull{'s' if count != 1 else ''} (spoiled) took "
                f"{fish(self.caught[lost].sum())} fish: {why}"
            )
