"""One marking, one recapture sample: Chapman's form of the Petersen estimate."""

from __future__ import annotations

from math import sqrt
from typing import Literal

from fishdown.errors import DesignError
from fishdown.formulas.counts import as_count, check_level
from fishdown.formulas.estimate import Estimate, fish
from fishdown.formulas.limits import hypergeometric_limits, normal_quantile


def chapman(
    marked: int,
    caught: int,
    recaptured: int,
    *,
    level: float = 0.9,
    interval: Literal["hypergeometric", "normal"] = "hypergeometric",
) -> Estimate:
    """Estimate abundance from one marking and one recapture sample taken without replacement.

    N = (M + 1)(C + 1)/(R + 1) − 1, with variance
    (M + 1)(C + 1)(M − R)(C − R) / ((R + 1)²(R + 2)). The sample may be spread over many pulls,
    as long as no fish is released again between them: it is then still one sample of the fish that
    were there when the first pull began.

    Parameters
    ----------
    marked : int
        Marked fish M in the lake when the sample begins.
    caught : int
        Fish C examined for marks.
    recaptured : int
        Marked fish R among them.
    level : float, default 0.9
        Confidence level.
    interval : {"hypergeometric", "normal"}
        Exact limits, which respect the number of fish handled (M + C − R) and hold for few
        recaptures; or the estimate ± normal quantile × standard error, cut at that number.

    Returns
    -------
    Estimate
        Abundance when the sample begins; no catchability.

    Raises
    ------
    DesignError
        If there are no marks, no catch, no recaptures, or more recaptures than marks or catch.

    References
    ----------
    Chapman, D.G. 1951. Some properties of the hypergeometric distribution with applications to
    zoological sample censuses. University of California Publications in Statistics 1:131–160.
    Seber, G.A.F. 1970. The effects of trap response on tag recapture estimates. Biometrics
    26:13–22 (variance).
    Robson, D.S. and H.A. Regier. 1964. Sample size in Petersen mark-recapture experiments.
    Transactions of the American Fisheries Society 93:215–226 (seven recaptures; from memory).
    """
    check_level(level)
    M = as_count(marked, "marked fish")
    C = as_count(caught, "fish examined")
    R = as_count(recaptured, "recaptures")
    _check(M, C, R, level)
    N = (M + 1) * (C + 1) / (R + 1) - 1
    standard_error = sqrt((M + 1) * (C + 1) * (M - R) * (C - R) / ((R + 1) ** 2 * (R + 2)))
    handled = M + C - R
    if interval == "normal":
        half_width = normal_quantile(level) * standard_error
        low, high = max(float(handled), N - half_width), N + half_width
        made = "normal, not below the fish handled"
    else:
        low, high = hypergeometric_limits(M, C, R, level)
        made = "exact hypergeometric"
    few = f"only {R} recaptures: below 7 the estimate is biased low" if R < 7 and M + C < N else ""
    return Estimate(
        method="Chapman, one marking",
        abundance=N,
        standard_error=standard_error,
        low=low,
        high=high,
        level=level,
        interval=made,
        source="Chapman 1951; variance Seber 1970",
        note=few,
    )


def _check(M: int, C: int, R: int, level: float) -> None:
    if M == 0:
        raise DesignError("no marked fish were at large")
    if C == 0:
        raise DesignError("no fish were examined for marks")
    if R > C:
        raise DesignError(f"{R} recaptures are more than the {C} fish examined")
    if R > M:
        raise DesignError(f"{R} recaptures are more than the {M} marked fish at large")
    if R == 0:
        # One-sided: all that the level leaves out goes below, so a two-sided level is widened.
        least, _ = hypergeometric_limits(M, C, 0, 2 * level - 1)
        raise DesignError(
            f"no recaptures among {C:,} fish examined, with {M:,} marked fish at large: "
            f"no upper limit, and only a lower one of {fish(least)} fish ({level:.0%}, one-sided)"
        )
