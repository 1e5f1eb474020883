"""The version of fishdown, as `pyproject.toml` has it."""

__version__ = "0.2.0"
