"""A straight line by least squares, and limits for where it leads."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TYPE_CHECKING

import numpy as np

from fishdown.formulas.limits import student_quantile

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Line:
    """The line y = intercept + slope × x by ordinary least squares.

    Attributes
    ----------
    slope, intercept : float
        Its coefficients.
    mean_x, mean_y : float
        Centre of the points.
    spread : float
        Sum of squares of x about its mean.
    residual : float
        Residual standard deviation, with two degrees of freedom spent.
    points : int
        Number of points.
    """

    slope: float
    intercept: float
    mean_x: float
    mean_y: float
    spread: float
    residual: float
    points: int

    @classmethod
    def through(cls, x: NDArray[np.float64], y: NDArray[np.float64]) -> Line:
        """Fit the line to three points or more, not all at the same x."""
        mean_x, mean_y = float(x.mean()), float(y.mean())
        spread = float(((x - mean_x) ** 2).sum())
        slope = float(((x - mean_x) * (y - mean_y)).sum()) / spread
        intercept = mean_y - slope * mean_x
        squares = float(((y - intercept - slope * x) ** 2).sum())
        return cls(slope, intercept, mean_x, mean_y, spread, sqrt(squares / (x.size - 2)), x.size)

    @property
    def slope_se(self) -> float:
        """Standard error of the slope."""
        return self.residual / sqrt(self.spread)

    def margin(self, level: float) -> float:
        """Return the radius of the confidence region in y: Student quantile × spread."""
        return student_quantile(level, self.points - 2) * self.residual


def crossing_limits(line: Line, level: float) -> tuple[float, float]:
    """Return Fieller limits for the x at which a falling line of positive mean reaches zero.

    The upper one is infinite when the slope is not clearly negative at this level.

    References
    ----------
    Fieller, E.C. 1954. Some problems in interval estimation. Journal of the Royal Statistical
    Society B 16:175–185.
    """
    # All u = x − mean with (mean_y + slope u)² ≤ margin² (1/n + u²/spread): a quadratic in u.
    margin = line.margin(level) ** 2
    a = line.slope**2 - margin / line.spread
    b = line.mean_y * line.slope
    c = line.mean_y**2 - margin / line.points
    discriminant = b * b - a * c
    if discriminant < 0:
        return -inf, inf
    # b is negative, so this sum does not cancel; it gives both roots, far / a and c / far.
    far = -b + sqrt(discriminant)
    return line.mean_x + c / far, line.mean_x + far / a if a > 0 else inf


def log_ratio_limits(line: Line, level: float) -> tuple[float, float]:
    """Return limits for exp(intercept)/(−slope) of a falling line.

    The ratio is followed along the edge of the confidence ellipse of mean and slope whose radius
    is Student's for one quantity. For a normal scatter this is the profile-likelihood interval
    with its exact critical value; the upper limit is infinite when the ellipse reaches a slope of
    zero.

    References
    ----------
    Bates, D.M. and D.G. Watts. 1988. Nonlinear regression analysis and its applications. Wiley,
    chapter 6 (profile t; from memory).
    """
    margin = line.margin(level)
    # An extreme is flat, so a step of 1e-4 in the angle leaves an error of about 1e-9.
    angle = np.linspace(0.0, 2 * np.pi, 62_833)
    mean = line.mean_y + margin / sqrt(line.points) * np.cos(angle)
    slope = line.slope + margin / sqrt(line.spread) * np.sin(angle)
    falling = slope < 0
    ratio = mean[falling] - slope[falling] * line.mean_x - np.log(-slope[falling])
    return float(np.exp(ratio.min())), float(np.exp(ratio.max())) if falling.all() else inf
