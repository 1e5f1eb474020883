"""What can go wrong, in one family: every error fishdown raises on purpose is a FishdownError."""

from __future__ import annotations


class FishdownError(Exception):
    """Base of all errors that fishdown raises on purpose; its text is meant for the user."""


class ModelFileError(FishdownError, ValueError):
    """A model file names something unknown or gives it an impossible value."""


class DesignError(FishdownError, ValueError):
    """A classical estimator does not apply to this design; the text says why."""


class PlanError(FishdownError, ValueError):
    """What is asked about the future makes no sense; the text says what to write instead."""


class FitError(FishdownError, RuntimeError):
    """A model could not be fitted, or a saved fit could not be read."""
