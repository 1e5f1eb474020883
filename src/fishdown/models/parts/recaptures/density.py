"""Recaptures given the catch, where they are not hypergeometric.

At random the number of marked fish in a catch is hypergeometric, and its factorials are among the
counting terms, where they telescope. Two departures have a density of their own here: unequal
catchability of marked fish, and overdispersion, marked fish that keep together. Both have the form

    Pr(r) = t(r) / Σ t,    t(r) / t(r − 1) known in closed form,

so the normalising constant is an exact sum over all possible numbers of marked fish, and no ln Γ
is needed. `models/README.md`, section "Recaptures", has the derivation.
"""

from __future__ import annotations

import math

import numpy as np

# Beyond a double's digits, and before its range ends.
NEGLIGIBLE = 1e-20
LARGE = 1e250


def recaptures_given_catch(
    recaptured: float,
    caught: float,
    marked: float,
    unmarked: float,
    odds: float,
    clumping: float,
) -> tuple[float, float, float, float, float]:
    """Log-density of the marked fish in one catch of given size, with its derivatives.

    With odds ratio ω and clumping s the ratio of neighbouring terms is

        t(r)/t(r − 1) = ω (M − r + 1)(C − r + 1) / (r (U − C + r))
                        · (1 + (r − 1)/a) / (1 + (M − r)/b).

    With s = 0 the second fraction is 1: the noncentral hypergeometric distribution of Fisher
    (1935, J. R. Stat. Soc. 98:39–82), and with ω = 1 the hypergeometric. With s > 0 the share of
    the marked fish that a pull takes is a beta variable with the mean p = C/(U + M + 1) and the
    parameters a, b of `fishdown.models.parts.catch.beta_shape`, integrated out (beta-binomial,
    Skellam 1948, J. R. Stat. Soc. B 10:257–261); each unmarked fish is taken with the
    probability p.

    M and U need not be whole: a number of marked fish is possible if ln Γ of the rest is finite.

    Parameters
    ----------
    recaptured, caught : float
        R and C, fish, whole numbers.
    marked, unmarked : float
        M and U, fish in the lake just before the pull.
    odds : float
        ω, dimensionless: capture odds ratio, marked to unmarked fish.
    clumping : float
        s, dimensionless: coefficient of variation, from pull to pull, of the share of the marked
        fish that a pull takes, beyond that of all fish.

    Returns
    -------
    log_density : float
        −∞ if the catch cannot hold as many marked fish.
    by_marked, by_unmarked, by_odds, by_clumping : float
        Its derivatives.

    Notes
    -----
    One loop of plain arithmetic that numba can compile: see
    `fishdown.models.parts.recaptures.node`. From R outwards, where the term is set to 1, the
    derivatives of ln t(r)/t(R) are running sums, and those of the density are minus their means
    over all numbers.
    """
    # NumPy's, since numba returns integers from math's, which fail for NaN and very many fish.
    lowest = max(0.0, np.floor(caught - unmarked))
    highest = min(caught, np.ceil(marked))
    fish = unmarked + marked + 1.0
    if not (lowest <= recaptured <= highest and caught < fish):
        return -math.inf, 0.0, 0.0, 0.0, 0.0
    share = caught / fish
    share_by_fish = -share / fish
    less_a = clumping**2 / (1.0 - share)
    less_b = less_a * share / (1.0 - share)
    a_by_share = less_a / (1.0 - share)
    b_by_share = less_a * (1.0 + share) / (1.0 - share) ** 2
    a_by_clumping = 2.0 * clumping / (1.0 - share)
    b_by_clumping = a_by_clumping * share / (1.0 - share)

    # With a and b of at least 1 the terms have one mode, and fall on ever faster beyond it.
    log_concave = less_a <= 1.0 and less_b <= 1.0

    total, log_scale = 1.0, 0.0
    of_number = of_marked = of_unmarked = of_clumping = 0.0
    for step, end in ((1.0, highest), (-1.0, lowest)):
        number, term = recaptured, 1.0
        by_marked = by_unmarked = by_clumping = 0.0
        for _ in range(int(abs(end - recaptured))):
            # Ratio of the term of the larger number to that of the smaller.
            larger = max(number, number + step)
            number += step
            marked_left = marked - larger + 1.0
            unmarked_left = unmarked - caught + larger
            others_left = max(marked_left - 1.0, 0.0)
            up, down = 1.0 + (larger - 1.0) * less_a, 1.0 + others_left * less_b
            above = odds * marked_left * (caught - larger + 1.0) * up
            below = larger * unmarked_left * down
            term *= above / below if step > 0.0 else below / above

            by_a, by_b = (larger - 1.0) / up, -others_left / down
            by_fish = (by_a * a_by_share + by_b * b_by_share) * share_by_fish
            by_clumping += step * (by_a * a_by_clumping + by_b * b_by_clumping)
            of_left = less_b / down if marked_left > 1.0 else 0.0
            by_marked += step * (1.0 / marked_left - of_left + by_fish)
            by_unmarked += step * (by_fish - 1.0 / unmarked_left)

            total += term
            of_number += term * (number - recaptured)
            of_marked += term * by_marked
            of_unmarked += term * by_unmarked
            of_clumping += term * by_clumping
            if term > LARGE:
                log_scale += math.log(term)
                total, of_number, of_clumping = total / term, of_number / term, of_clumping / term
                of_marked, of_unmarked, term = of_marked / term, of_unmarked / term, 1.0
            if log_concave and term < NEGLIGIBLE * total:
                break
    return (
        -math.log(total) - log_scale,
        -of_marked / total,
        -of_unmarked / total,
        -of_number / (odds * total),
        -of_clumping / total,
    )
