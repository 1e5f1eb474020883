"""Recaptures given the catch when marked fish are not in it by plain lot.

By lot the number of marked fish in a catch is hypergeometric, and its factorials telescope in the
`ledger`. Two departures from that have a density of their own here: marked fish that are easier or
harder to catch, and marked fish that keep together. Both leave the form

    Pr(r) = t(r) / Σ t,    t(r) / t(r − 1) known in closed form,

so the normaliser is an exact sum over all numbers of marked fish that the catch can hold, and no
ln Γ is needed. `models/README.md`, section "Recaptures", has the derivation.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fishdown.typing import FloatArray, IntArray

# Few catches hold many marked fish: catches of a like size are summed together, each block of them
# over half as many numbers as the one before.
BLOCKS = 4


def numbers_tried(caught: FloatArray, marked: FloatArray) -> FloatArray:
    """Return the numbers of marked fish that any of some catches can hold.

    Parameters
    ----------
    caught, marked : ndarray, shape (pull,)
        Catches, and the most marked fish at large before each, in fish.

    Returns
    -------
    ndarray, shape (number,)
        0, 1, … up to the largest that some catch can hold.
    """
    most = np.floor(np.minimum(caught, marked)).max(initial=0.0)
    return np.arange(most + 1.0)


def blocks_by_size(caught: FloatArray, marked: FloatArray) -> tuple[IntArray, IntArray]:
    """Put catches in order of the marked fish that they can hold, and part them into blocks.

    Parameters
    ----------
    caught, marked : ndarray, shape (pull,)
        As in `numbers_tried`.

    Returns
    -------
    order : ndarray of int, shape (pull,)
        Positions of the catches, the largest first.
    blocks : ndarray of int, shape (BLOCKS, 3)
        First and last catch of each block in that order (the last one not in it), and how many of
        the `numbers_tried` it needs; a block may be empty.
    """
    numbers = np.floor(np.minimum(caught, marked)).astype(np.int64) + 1
    order = np.argsort(-numbers, kind="stable")
    largest = numbers.max(initial=1)
    widths = np.maximum(-(-largest // 2 ** np.arange(BLOCKS)), 1)
    # The narrowest block that is wide enough; `numbers[order]` falls.
    ends = np.searchsorted(-numbers[order], -np.append(widths[1:], 0), side="left")
    starts = np.append(0, ends[:-1])
    return order, np.column_stack([starts, ends, widths])


def recaptures_log_density(
    recaptured: Any,
    caught: Any,
    marked: Any,
    unmarked: Any,
    tried: Any,
    *,
    odds: Any = 1.0,
    clumping: Any = 0.0,
    arrays: Any = np,
) -> Any:
    """Log-density of the marked fish in each catch, whose size is given.

    With odds ω and clumping s the terms of neighbouring numbers stand to each other as

        t(r)/t(r − 1) = ω (M − r + 1)(C − r + 1) / (r (U − C + r))
                        · (1 + (r − 1)/a) / (1 + (M − r)/b).

    With s = 0 the second fraction is 1: the noncentral hypergeometric distribution of Fisher
    (1935, J. R. Stat. Soc. 98:39–82), and with ω = 1 the hypergeometric. With s > 0 the share of
    the marked fish that a pull takes is a beta variable with the mean p = C/(U + M + 1) and the
    parameters a, b of `fishdown.models.catch.beta_shape`, integrated out (beta-binomial, Skellam
    1948, J. R. Stat. Soc. B 10:257–261); each unmarked fish is taken with the probability p.

    M and U need not be whole: a number counts as long as ln Γ of what is left is finite.

    Parameters
    ----------
    recaptured, caught : array or tensor, shape (pull,)
        R and C, in fish.
    marked, unmarked : array or tensor, shape (pull,)
        M and U, fish in the lake just before the pull.
    tried : array or tensor, shape (number,)
        From `numbers_tried`.
    odds : array or tensor
        ω, dimensionless: odds of a marked fish to be in the catch, relative to an unmarked one.
    clumping : array or tensor
        s, dimensionless: coefficient of variation, from pull to pull, of the share of the marked
        fish that a pull takes, beyond that of all fish.
    arrays : module
        The array library in use: NumPy by default, ``pytensor.tensor`` in a graph.

    Returns
    -------
    array or tensor, shape (pull,)
    """
    R, C, M, U = (column[:, None] for column in (recaptured, caught, marked, unmarked))
    r = tried[None, :]
    marked_left, others_left, unmarked_left = M - r + 1.0, C - r + 1.0, U - C + r
    possible = (marked_left > 0) & (others_left > 0) & (unmarked_left > -1.0)
    # From the number before, if that was possible, too.
    step = possible & (r > 0) & (unmarked_left > 0)
    share = C / (U + M + 1.0)
    less_a = clumping**2 / (1.0 - share)
    less_b = less_a * share / (1.0 - share)
    together = (1.0 + (r - 1.0) * less_a) / (1.0 + arrays.maximum(marked_left - 1.0, 0.0) * less_b)
    below = arrays.where(step, r * unmarked_left, 1.0)
    ratio = odds * together * marked_left * others_left / below
    log_ratio = arrays.log(arrays.where(step, ratio, 1.0))
    log_term = arrays.where(possible, arrays.cumsum(log_ratio, axis=1), -np.inf)
    highest = arrays.max(log_term, axis=1, keepdims=True)
    log_sum = arrays.log(arrays.sum(arrays.exp(log_term - highest), axis=1)) + highest[:, 0]
    return arrays.sum(arrays.where(r <= R, log_ratio, 0.0), axis=1) - log_sum
