"""What the crew wrote: reading and checking the field records of a campaign."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records.checked import Records
from fishdown.records.problems import Problem, RecordsError

if TYPE_CHECKING:
    import os

__all__ = ["Problem", "Records", "read_records"]


def read_records(path: str | os.PathLike[str]) -> Records:
    """Read and check the records of a campaign; nothing is written.

    Parameters
    ----------
    path : str or path-like
        A folder with campaign.toml and CSV files, or an .xlsx workbook with sheets of the
        same names.

    Returns
    -------
    Records
        The clean tables, with warnings if there are any.

    Raises
    ------
    RecordsError
        If anything is wrong; it lists every error of all files, then the warnings.
    """
    # Tables need pandas, whose import waits until it is used.
    from fishdown.records.clean import clean_tables
    from fishdown.records.draft import read_draft
    from fishdown.records.reader import open_source
    from fishdown.records.rules import broken_rules

    source = open_source(path)
    if not source.texts and source.entries is None:
        raise RecordsError(source.problems)
    draft, found = read_draft(source)
    found = [*source.problems, *found]
    found += broken_rules(draft, found)
    found = [source.as_headed(problem) for problem in found]
    in_order = sorted(found, key=lambda problem: (source.place_of(problem), problem))
    errors = [problem for problem in in_order if problem.severity == "error"]
    warnings = [problem for problem in in_order if problem.severity == "warning"]
    if errors or draft.settings is None:
        raise RecordsError([*errors, *warnings])
    tables = clean_tables(draft, draft.settings)
    return Records(
        path=str(path),
        settings=draft.settings,
        **tables,
        warnings=tuple(warnings),
        hashes=source.hashes,
    )
