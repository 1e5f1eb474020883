"""A function whose answer is wrapped."""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def giving[**P, A, B](wrapped: Callable[[A], B], function: Callable[P, A]) -> Callable[P, B]:
    """Return a function that asks the same as another one, and wraps its answer."""

    @wraps(function)
    def given(*arguments: P.args, **options: P.kwargs) -> B:
        return wrapped(function(*arguments, **options))

    return given
