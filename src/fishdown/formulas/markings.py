"""Several markings or several recapture samples: Schnabel, and Schumacher and Eschmeyer.

Both take fish known to have been removed between samples into account, or refuse. With N₀ fish
before the first removal and D fish removed before a sample, that sample is drawn from N₀ − D
fish, and its expected recaptures are C M/(N₀ − D).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import DesignError
from fishdown.formulas.counts import as_amounts, as_counts, check_level
from fishdown.formulas.estimate import Estimate, fish, joined
from fishdown.formulas.limits import poisson_limits, student_quantile

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

FEW_RECAPTURES = 50
"""Below this the recaptures are taken as a Poisson count (common practice, no source)."""


@by_value
@dataclass(frozen=True)
class _Samples:
    """The informative samples: marks at large and a catch examined for them."""

    C: NDArray[np.float64]
    R: NDArray[np.float64]
    M: NDArray[np.float64]
    D: NDArray[np.float64]

    @classmethod
    def read(
        cls,
        caught: ArrayLike,
        recaptured: ArrayLike,
        marks_at_large: ArrayLike,
        removed_before: ArrayLike | None,
    ) -> _Samples:
        C = as_counts(caught, "fish examined")
        R = as_counts(recaptured, "recaptures")
        if R.shape != C.shape:
            raise DesignError(f"{R.size} numbers of recaptures were given for {C.size} catches")
        M = as_amounts(marks_at_large, "numbers of marks at large", like=C)
        D = np.zeros_like(C) if removed_before is None else removed_before
        D = as_amounts(D, "numbers of fish removed before", like=C)
        wrong = [
            f"sample {i + 1}: {R[i]:g} recaptures are more than the {limit[i]:g} {what}"
            for limit, what in ((C, "fish examined"), (M, "marked fish at large"))
            for i in np.flatnonzero(np.greater(R, limit))
        ]
        if wrong:
            raise DesignError("; ".join(wrong))
        if not M.any():
            raise DesignError("no marked fish were at large")
        informative = (M > 0) & (C > 0)
        count = int(informative.sum())
        if count < 2:
            raise DesignError(
                f"{count} sample{'s' if count != 1 else ''} with marks at large and fish examined: "
                "these formulas need 2 or more"
            )
        if not R.any():
            raise DesignError(
                f"no recaptures among {fish(C[informative].sum())} fish examined: no upper limit"
            )
        return cls(C[informative], R[informative], M[informative], D[informative])

    @property
    def least(self) -> float:
        """Fish before the first removal that are known to have been there."""
        return float(np.max(self.D + self.M + self.C - self.R))

    def solve(self, recaptures: float) -> float:
        """Find the N₀ at which Σ C M/(N₀ − D) equals a number of recaptures."""
        if recaptures <= 0:
            return inf

        def surplus(N0: float) -> float:
            return float((self.C * self.M / (N0 - self.D)).sum()) - recaptures

        marks_handled = float((self.C * self.M).sum())
        # Every N₀ − D lies between N₀ − max D and N₀ − min D, which brackets the root.
        low = max(marks_handled / recaptures + float(self.D.min()), self.least)
        high = marks_handled / recaptures + float(self.D.max())
        if surplus(low) <= 0:
            return low
        from scipy.optimize import brentq

        return float(brentq(surplus, low, high * (1 + 1e-9), rtol=1e-12))


def schnabel(
    caught: ArrayLike,
    recaptured: ArrayLike,
    marks_at_large: ArrayLike,
    *,
    removed_before: ArrayLike | None = None,
    plus_one: bool = False,
    level: float = 0.9,
) -> Estimate:
    """Estimate abundance from several samples examined for marks.

    N₀ solves Σ R = Σ C M/(N₀ − D). Without removals (D = 0) this is Schnabel's Σ C M/Σ R. The
    equation stays unbiased under known removals because, given what happened before, the
    expected recaptures of each sample are C M/(N₀ − D).

    Limits: with fewer than 50 recaptures, the same equation solved for the exact Poisson limits
    of Σ R; otherwise for Σ R ± t √(Σ R), which without removals is 1/N ± t √(Σ R)/Σ C M, with as
    many degrees of freedom as there are samples with marks at large. When samples are a large
    part of the fish, recaptures vary less than a Poisson count and the limits are wide.

    Parameters
    ----------
    caught : array_like, shape (n,)
        Fish C examined in each sample.
    recaptured : array_like, shape (n,)
        Marked fish R among them.
    marks_at_large : array_like, shape (n,)
        Marked fish M in the lake just before each sample.
    removed_before : array_like, shape (n,), optional
        Fish D removed from the lake before each sample; none when left out.
    plus_one : bool, default False
        Use Σ R + 1, Chapman's variant, which is less biased high for few recaptures.
    level : float, default 0.9
        Confidence level.

    Returns
    -------
    Estimate
        Abundance before the first removal; no catchability.

    Raises
    ------
    DesignError
        If there are fewer than two samples with marks at large, no recaptures, or more
        recaptures than marks or fish examined.

    References
    ----------
    Schnabel, Z.E. 1938. The estimation of the total fish population of a lake. American
    Mathematical Monthly 45:348–352.
    Chapman, D.G. 1952. Inverse, multiple and sequential sample censuses. Biometrics 8:286–306.
    Ricker, W.E. 1975. Computation and interpretation of biological statistics of fish
    populations. Bulletin of the Fisheries Research Board of Canada 191, chapter 3 (limits; from
    memory).
    """
    check_level(level)
    samples = _Samples.read(caught, recaptured, marks_at_large, removed_before)
    total = float(samples.R.sum())
    N = samples.solve(total + plus_one)
    remaining = N - samples.D
    steepness = float((samples.C * samples.M / remaining**2).sum())
    if total < FEW_RECAPTURES:
        fewest, most = poisson_limits(int(total), level)
        made = "exact Poisson limits of the recaptures"
    else:
        margin = student_quantile(level, samples.C.size) * sqrt(total)
        fewest, most = total - margin, total + margin
        made = "Student t on 1/N"
    notes = (
        "allows for the fish removed between samples" if samples.D.any() else "",
        "more recaptures than even the fish handled explain" if samples.least >= N else "",
    )
    return Estimate(
        method="Schnabel, several samples" + (", recaptures + 1" if plus_one else ""),
        abundance=N,
        standard_error=sqrt(total) / steepness,
        low=samples.solve(most),
        high=samples.solve(fewest),
        level=level,
        interval=made,
        source="Schnabel 1938" + ("; Chapman 1952" if plus_one else ""),
        note=joined(*notes),
    )


def schumacher_eschmeyer(
    caught: ArrayLike,
    recaptured: ArrayLike,
    marks_at_large: ArrayLike,
    *,
    removed_before: ArrayLike | None = None,
    level: float = 0.9,
) -> Estimate:
    """Estimate abundance by regressing the marked share of each sample on the marks at large.

    N = Σ C M²/Σ R M, the line R/C = M/N through the origin weighted by C. Its residual mean
    square [Σ R²/C − (Σ R M)²/Σ C M²]/(s − 2) over Σ C M² is the variance of 1/N, where s counts
    the samples, the first of which has no marks to catch; here the degrees of freedom are the
    samples with marks at large less one, which is the same.

    Parameters
    ----------
    caught, recaptured, marks_at_large, level
        As for `schnabel`.
    removed_before : array_like, shape (n,), optional
        Fish removed from the lake before each sample. They must be the same for all samples: the
        line is straight only while abundance stays the same.

    Returns
    -------
    Estimate
        Abundance before the first removal, with Student limits on 1/N; no catchability.

    Raises
    ------
    DesignError
        If fish were removed between samples, and as for `schnabel`.

    References
    ----------
    Schumacher, F.X. and R.W. Eschmeyer. 1943. The estimation of fish populations in lakes or
    ponds. Journal of the Tennessee Academy of Science 18:228–249.
    """
    check_level(level)
    samples = _Samples.read(caught, recaptured, marks_at_large, removed_before)
    C, R, M = samples.C, samples.R, samples.M
    taken = float(np.ptp(samples.D))
    if taken:
        raise DesignError(
            f"{fish(taken)} fish were removed between the first and the last sample, so the share "
            "of marked fish is no straight line; Schnabel's formula allows for removals"
        )
    weight = float((C * M**2).sum())
    inverse = float((R * M).sum()) / weight
    squares = float((R**2 / C).sum()) - inverse**2 * weight
    error = sqrt(max(squares, 0.0) / (C.size - 1) / weight)
    margin = student_quantile(level, C.size - 1) * error
    before = float(samples.D[0])
    return Estimate(
        method="Schumacher–Eschmeyer",
        abundance=max(before + 1 / inverse, samples.least),
        standard_error=error / inverse**2,
        low=max(before + 1 / (inverse + margin), samples.least),
        high=before + 1 / (inverse - margin) if inverse > margin else inf,
        level=level,
        interval="Student t on 1/N",
        source="Schumacher & Eschmeyer 1943",
    )
