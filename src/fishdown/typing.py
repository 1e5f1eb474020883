"""Names for the types that several rooms share."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

type FloatArray = np.ndarray[Any, np.dtype[np.float64]]
type IntArray = np.ndarray[Any, np.dtype[np.int64]]
# Arrays that a model is fed with.
type Numbers = np.ndarray[Any, np.dtype[Any]]
type BoolArray = np.ndarray[Any, np.dtype[np.bool_]]

Evidence = Literal["both", "marks", "depletion"]
