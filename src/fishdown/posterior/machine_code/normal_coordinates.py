"""Coordinates of the sampler that are normal by their priors, all in one term.

Where a parameter has a normal prior with known numbers, a lognormal one and is sampled as its
logarithm, or a logit-normal one and is sampled as its logit, the coordinate itself is normal. A
model has dozens; taken together they are one sum of squares, where one by one each would be some
operations to differentiate, simplify and compile.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pytensor.tensor as pt
from pymc.logprob.transforms import LogOddsTransform, LogTransform
from pymc.pytensorf import constant_fold

from fishdown.equality import by_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pymc as pm

    from fishdown.typing import FloatArray

# Families by PyMC's names, and the transformation by which their coordinate is normal.
_NORMAL_AS = {"Normal": type(None), "LogNormal": LogTransform, "LogitNormal": LogOddsTransform}


@by_value
@dataclass(frozen=True, eq=False)
class NormalCoordinates:
    """Which coordinates of a model are normal, with which mean and standard deviation.

    Attributes
    ----------
    model : pymc.Model
    others : list of tensor
        The free variables whose coordinates are not.
    mean, inverse_sd : ndarray, shape (coordinate,)
        Of all coordinates in the sampler's order; both 0 for those that are not.
    """

    model: pm.Model
    others: list[Any]
    mean: FloatArray
    inverse_sd: FloatArray

    @classmethod
    def of(
        cls, model: pm.Model, free: Sequence[Any], shapes: Mapping[str, tuple[int, ...]]
    ) -> NormalCoordinates:
        """Look through the free variables of a model.

        Parameters
        ----------
        model : pymc.Model
        free : sequence of tensor
            Its free variables, in the sampler's order.
        shapes : mapping of str to tuple of int
            Of their coordinates, by the names of these.
        """
        others: list[Any] = []
        means, inverse_sds = [], []
        for one in free:
            shape = shapes[model.rvs_to_values[one].name]
            numbers = _numbers(one, model.rvs_to_transforms[one])
            if numbers is None:
                others.append(one)
            mean, sd = (np.broadcast_to(each, shape).ravel() for each in numbers or (0.0, np.inf))
            means.append(mean)
            inverse_sds.append(1.0 / sd)
        return cls(model, others, np.concatenate(means), np.concatenate(inverse_sds))

    @property
    def described(self) -> tuple[FloatArray, FloatArray]:
        """What the term depends on, but for its place in the graph."""
        return self.mean, self.inverse_sd

    def log_density_of_others(self) -> Any:
        """Return the log-density of the model on its coordinates, without this term."""
        terms = [*self.others, *self.model.observed_RVs, *self.model.potentials]
        return self.model.logp(vars=terms) if terms else pt.constant(0.0)

    def at(self, place: Any) -> tuple[Any, Any]:
        """Return this term and its slope.

        Parameters
        ----------
        place : tensor, shape (coordinate,)

        Returns
        -------
        log_density : tensor, shape ()
        slope : tensor, shape (coordinate,)
        """
        scale = self.inverse_sd[self.inverse_sd > 0.0]
        constant = np.log(scale).sum() - len(scale) * np.log(2.0 * np.pi) / 2.0
        distance = (place - self.mean) * self.inverse_sd
        return constant - (distance**2).sum() / 2.0, -distance * self.inverse_sd


def _numbers(free: Any, transform: Any) -> list[FloatArray] | None:
    """Return the mean and standard deviation of a variable's coordinate if it is normal."""
    operation = free.owner.op
    family, *_ = getattr(operation, "_print_name", ("",))
    if not isinstance(transform, _NORMAL_AS.get(family, ())):
        return None
    numbers = constant_fold(operation.dist_params(free.owner), raise_not_constant=False)
    return list(numbers) if all(isinstance(one, np.ndarray) for one in numbers) else None
