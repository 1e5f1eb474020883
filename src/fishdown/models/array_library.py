"""One name for what NumPy and PyTensor both do, so that a formula stands once for either.

A formula takes ``xp``: `NUMPY`, or PyTensor's ``pytensor.tensor`` itself, whose names are used.
"""

from __future__ import annotations

from typing import Any

import numpy as np

_OF_SCIPY = {"gammaln": "gammaln", "softplus": "softplus", "sigmoid": "expit"}


class _NumPy:
    """NumPy, with SciPy's functions under the names that PyTensor has for them."""

    def __getattr__(self, name: str) -> Any:
        if name in _OF_SCIPY:
            from scipy import special

            return getattr(special, _OF_SCIPY[name])
        return getattr(np, name)

    @staticmethod
    def log1mexp(x: Any) -> Any:
        """Return ln(1 − exp(x)) for x below 0."""
        return np.log(-np.expm1(x))


NUMPY: Any = _NumPy()


def log_sum_exp(values: Any, *, xp: Any = NUMPY) -> Any:
    """Return ln Σ exp of the last axis, without overflow in any mode of evaluation.

    Parameters
    ----------
    values : array or tensor
    xp : module
        The array library in use.
    """
    top = values.max(axis=-1)
    return top + xp.log(xp.exp(values - top[..., None]).sum(axis=-1))
