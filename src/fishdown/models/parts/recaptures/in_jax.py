"""`recaptures_given_catch` for JAX: many catches at once, with the derivatives of the density.

The sum of `fishdown.models.parts.recaptures.density`, term by term, with all catches in step: on a
graphics processor one instruction serves thousands of them. Where one has ended, zeros are added.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from pytensor.link.jax.dispatch import jax_funcify

from fishdown.models.parts.recaptures.density import LARGE, NEGLIGIBLE
from fishdown.models.parts.recaptures.node import RecapturesGivenCatch

type Array = Any

# Terms between two looks at which sums have ended and which have grown large: within a block the
# sums stay in the processor's registers. Eight terms may outgrow the half of a double's range that
# is left to them only if each is 1e15 times the one before.
BLOCK = 8
LARGE_FOR_BLOCKS = LARGE**0.5


class _Way(NamedTuple):
    """A sum on its way up or down from the number recaptured, with the term it has reached."""

    number: Array
    term: Array
    by_marked: Array
    by_unmarked: Array
    by_clumping: Array
    going: Array


class _Sums(NamedTuple):
    """The sum of the terms, and of the terms times their logarithms' derivatives."""

    total: Array
    of_number: Array
    of_marked: Array
    of_unmarked: Array
    of_clumping: Array


@jax.custom_jvp  # type: ignore[untyped-decorator]
def recaptures_given_catch(
    recaptured: Array, caught: Array, marked: Array, unmarked: Array, odds: Array, clumping: Array
) -> tuple[Array, ...]:
    """Log-density of the marked fish in catches, with its derivatives.

    Parameters
    ----------
    recaptured, caught, marked, unmarked, odds, clumping : array
        As in `fishdown.models.parts.recaptures.density.recaptures_given_catch`, of shapes that
        broadcast.

    Returns
    -------
    log_density, by_marked, by_unmarked, by_odds, by_clumping : array
    """
    given = (recaptured, caught, marked, unmarked, odds, clumping)
    recaptured, caught, marked, unmarked, odds, clumping = jnp.broadcast_arrays(
        *(jnp.asarray(each, dtype=jnp.float64) for each in given)
    )
    lowest = jnp.maximum(0.0, jnp.floor(caught - unmarked))
    highest = jnp.minimum(caught, jnp.ceil(marked))
    fish = unmarked + marked + 1.0
    possible = (lowest <= recaptured) & (recaptured <= highest) & (caught < fish)
    share = jnp.where(possible, caught / fish, 0.0)
    less_a = clumping**2 / (1.0 - share)
    less_b = less_a * share / (1.0 - share)
    a_by_fish = -less_a / (1.0 - share) * share / fish
    b_by_fish = -less_a * (1.0 + share) / (1.0 - share) ** 2 * share / fish
    a_by_clumping = 2.0 * clumping / (1.0 - share)
    b_by_clumping = a_by_clumping * share / (1.0 - share)
    log_concave = (less_a <= 1.0) & (less_b <= 1.0)

    def add_term(way: _Way, sums: _Sums, step: float) -> tuple[_Way, _Sums]:
        number = way.number + step
        larger = jnp.maximum(number, way.number)
        going = way.going & (lowest <= number) & (number <= highest)
        marked_left = marked - larger + 1.0
        unmarked_left = unmarked - caught + larger
        others_left = jnp.maximum(marked_left - 1.0, 0.0)
        up, down = 1.0 + (larger - 1.0) * less_a, 1.0 + others_left * less_b
        above = odds * marked_left * (caught - larger + 1.0) * up
        below = larger * unmarked_left * down
        term = jnp.where(going, way.term * (above / below if step > 0.0 else below / above), 0.0)
        by_a, by_b = (larger - 1.0) / up, -others_left / down
        by_fish = by_a * a_by_fish + by_b * b_by_fish
        of_left = jnp.where(marked_left > 1.0, less_b / down, 0.0)
        slopes = (
            1.0 / marked_left - of_left + by_fish,
            by_fish - 1.0 / unmarked_left,
            by_a * a_by_clumping + by_b * b_by_clumping,
        )
        before = (way.by_marked, way.by_unmarked, way.by_clumping)
        marked_by, unmarked_by, clumping_by = (
            old + jnp.where(going, step * slope, 0.0)
            for old, slope in zip(before, slopes, strict=True)
        )
        added = (1.0, number - recaptured, marked_by, unmarked_by, clumping_by)
        return _Way(number, term, marked_by, unmarked_by, clumping_by, going), _Sums(
            *(so_far + term * one for so_far, one in zip(sums, added, strict=True))
        )

    def add_block(state: tuple[_Way, _Way, _Sums, Array]) -> tuple[_Way, _Way, _Sums, Array]:
        up, down, sums, log_scale = state
        for _ in range(BLOCK):
            up, sums = add_term(up, sums, 1.0)
            down, sums = add_term(down, sums, -1.0)
        largest = jnp.maximum(up.term, down.term)
        scale = jnp.where(largest > LARGE_FOR_BLOCKS, largest, 1.0)
        sums = _Sums(*(each / scale for each in sums))
        up, down = (
            way._replace(
                term=way.term / scale,
                going=way.going
                & ~(log_concave & (way.term / scale < NEGLIGIBLE * sums.total))
                & (lowest < way.number)
                & (way.number < highest),
            )
            for way in (up, down)
        )
        return up, down, sums, log_scale + jnp.log(scale)

    nought, one = jnp.zeros_like(fish), jnp.ones_like(fish)
    start = _Way(recaptured, one, nought, nought, nought, possible)
    _, _, sums, log_scale = jax.lax.while_loop(
        lambda state: jnp.any(state[0].going | state[1].going),
        add_block,
        (start, start, _Sums(one, nought, nought, nought, nought), nought),
    )
    found = (
        -jnp.log(sums.total) - log_scale,
        -sums.of_marked / sums.total,
        -sums.of_unmarked / sums.total,
        -sums.of_number / (odds * sums.total),
        -sums.of_clumping / sums.total,
    )
    without = (-jnp.inf, 0.0, 0.0, 0.0, 0.0)
    return tuple(
        jnp.where(possible, value, other) for value, other in zip(found, without, strict=True)
    )


@recaptures_given_catch.defjvp  # type: ignore[untyped-decorator]
def _slope(values: Any, moves: Any) -> tuple[Any, Any]:
    # Catches and recaptures are whole numbers; second derivatives are not available.
    found = recaptures_given_catch(*values)
    moved = sum(slope * move for slope, move in zip(found[1:], moves[2:], strict=True))
    return found, (moved, *(jnp.zeros_like(each) for each in found[1:]))


@jax_funcify.register(RecapturesGivenCatch)  # type: ignore[untyped-decorator]
def _for_jax(op: Any, **kwargs: Any) -> Any:
    return recaptures_given_catch
