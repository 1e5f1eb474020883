"""Checks of a fit against the records and against itself, one a file."""
