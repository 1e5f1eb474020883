"""`recaptures_given_catch` as a node of a graph, element by element, with its derivatives."""

from __future__ import annotations

import hashlib
import inspect
from functools import cache
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np
from pytensor.gradient import DisconnectedType
from pytensor.scalar.basic import ScalarOp, float64
from pytensor.tensor.elemwise import Elemwise

from fishdown.models.parts.recaptures import density

if TYPE_CHECKING:
    from fishdown.typing import FloatArray


class RecapturesGivenCatch(ScalarOp):  # type: ignore[misc]
    """The log-density, which is differentiable, and its derivatives, which are not."""

    nin = 6
    nout = 5

    def output_types(self, types: Any) -> list[Any]:
        """Return the types of the density and its derivatives."""
        return [float64] * self.nout

    def impl(self, *inputs: float) -> Any:
        """Return them for numbers."""
        return _by_itself()(*inputs)

    def pullback(self, inputs: Any, outputs: Any, output_gradients: Any) -> list[Any]:
        """Return the gradient of what the density enters."""
        slope, *others = output_gradients
        if not all(isinstance(other.type, DisconnectedType) for other in others):
            raise NotImplementedError("second derivatives of recaptures are not available")
        # Catches and recaptures are whole numbers.
        records = [DisconnectedType()(), DisconnectedType()()]
        return [*records, *(slope * by_input for by_input in outputs[1:])]

    def connection_pattern(self, node: Any) -> list[list[bool]]:
        """Tell which inputs have derivatives."""
        return [[place > 1] * self.nout for place in range(self.nin)]


# A machine that samples with JAX does without numba.
_WITH_NUMBA = find_spec("numba") is not None


@cache
def _by_itself() -> Any:
    if not _WITH_NUMBA:
        return density.recaptures_given_catch
    import numba

    # What is compiled for graphs cannot be called from outside.
    return numba.njit(cache=True)(density.recaptures_given_catch)


if _WITH_NUMBA:
    from pytensor.link.numba.dispatch.basic import numba_njit, register_funcify_and_cache_key

    @register_funcify_and_cache_key(RecapturesGivenCatch)  # type: ignore[untyped-decorator]
    def _for_numba(op: Any, node: Any, **kwargs: Any) -> tuple[Any, str]:
        # The key of the machine code that numba keeps on disk.
        text = inspect.getsource(density)
        digest = hashlib.sha256(text.encode()).hexdigest()
        return numba_njit(density.recaptures_given_catch), digest


_NODE = Elemwise(RecapturesGivenCatch())


def recaptures_log_density(
    recaptured: Any,
    caught: Any,
    marked: Any,
    unmarked: Any,
    *,
    odds: Any = 1.0,
    clumping: Any = 0.0,
) -> Any:
    """Log-density of the marked fish in each catch, in a graph.

    Parameters
    ----------
    recaptured, caught, marked, unmarked, odds, clumping : tensor
        As in `recaptures_given_catch`, of shapes that broadcast. The gradient is available for
        the last four.

    Returns
    -------
    tensor
    """
    return _NODE(recaptured, caught, marked, unmarked, odds, clumping)[0]


def at_numbers(
    recaptured: FloatArray,
    caught: FloatArray,
    marked: FloatArray,
    unmarked: FloatArray,
    *,
    odds: FloatArray | float = 1.0,
    clumping: FloatArray | float = 0.0,
) -> FloatArray:
    """Log-density of the marked fish in each catch, of arrays.

    Parameters
    ----------
    recaptured, caught, marked, unmarked, odds, clumping : ndarray
        As in `recaptures_given_catch`, of shapes that broadcast.

    Returns
    -------
    ndarray
    """
    each = np.frompyfunc(_by_itself(), 6, 5)
    found: FloatArray = each(recaptured, caught, marked, unmarked, odds, clumping)[0]
    return found.astype(float)
