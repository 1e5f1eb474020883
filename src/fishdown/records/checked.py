"""The checked records of one campaign, as everything after reading takes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fishdown.equality import by_value

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.records.problems import Problem
    from fishdown.records.settings import Settings


@by_value
@dataclass(frozen=True)
class Records:
    """The checked records of one campaign.

    Every table has all its columns, typed, and ``row``, the line of each row in its file;
    a table whose file is absent has no rows. Dates are naive calendar days.

    Attributes
    ----------
    path : str
        Folder or workbook they were read from.
    settings : Settings
        What holds for the whole campaign.
    lakes : pandas.DataFrame
        lake, area_ha, threshold_kg_per_ha, connected.
    areas : pandas.DataFrame
        date, lake, area_ha: of lakes whose water rises and falls.
    marked : pandas.DataFrame
        date, lake, season, batch, mark, released, died, order (NaN if not given), penned,
        pen_alive, pen_marked (0 without a pen).
    pulls : pandas.DataFrame
        date, lake, season, net, order, caught, recaptured (NaN where the catch was not
        examined while marks were at large), examined (fish of the catch known to be marked or
        not), released_again, removed (caught less released_again),
        marks_at_large (before the pull), marks_removed (by the pull, estimated where not
        examined), water_temp_c, spoiled, bycatch_counted (whether the records say what
        bycatch it had, none included), the covariates; sorted by lake, date and order.
        Two nets may share an order: then they are sorted as in the file.
    recaptures : pandas.DataFrame
        date, lake, season, net, order, batch, count, tag_id, clip_seen, tag_read.
    measured : pandas.DataFrame
        date, lake, season, net, length_mm, weight_kg.
    movements : pandas.DataFrame
        date, lake, movement, fish and share (one of them NaN), marked (NaN if not told),
        standard_error (0 for a count), other_lake; of fish that went from one lake of the campaign
        to another a row for each; and by `fishdown.records.movements` season (netted on that day,
        or empty) and marks_removed.
    surveys : pandas.DataFrame
        date, lake, season, gear, marking_gear, caught, examined (0 where nobody looked for marks),
        marked (0 there), effort_h (NaN if not told), marks_at_large (at the day's end).
    second_looks : pandas.DataFrame
        date, lake, season, examiner (empty if not told), found_first, found_second: marked fish
        that the first look found, and that only the second look of the same fish found.
    bycatch : pandas.DataFrame
        date, lake, season, net, species, count, dead.
    bycatch_limits : pandas.DataFrame
        species, lake (either may be "all"), season (empty: the last one), limit, fish ("all" or
        "dead").
    species_names : pandas.DataFrame
        species, scientific_name.
    tags : pandas.DataFrame
        lake, batch, tag_id: the tags released.
    detections : pandas.DataFrame
        time (UTC) and local (what a clock beside the lake showed), both without the drift of the
        antenna's clock, lake, net, tag_id; every read, in the order of the file.
    clock_checks : pandas.DataFrame
        time (UTC), local, lake, net (empty: every antenna of the lake), fast_s.
    warnings : tuple of Problem
        What is odd but does not stop the reading.
    hashes : dict of str to str
        File name to the SHA-256 of its bytes.
    """

    path: str
    settings: Settings
    lakes: pd.DataFrame
    areas: pd.DataFrame
    marked: pd.DataFrame
    pulls: pd.DataFrame
    recaptures: pd.DataFrame
    measured: pd.DataFrame
    movements: pd.DataFrame
    surveys: pd.DataFrame
    second_looks: pd.DataFrame
    bycatch: pd.DataFrame
    bycatch_limits: pd.DataFrame
    species_names: pd.DataFrame
    tags: pd.DataFrame
    detections: pd.DataFrame
    clock_checks: pd.DataFrame
    warnings: tuple[Problem, ...]
    hashes: dict[str, str]
