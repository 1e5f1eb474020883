"""The rules that compare rows and tables: each yields a problem for all that breaks it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.records import (
    rules_areas,
    rules_batches,
    rules_bycatch,
    rules_examples,
    rules_fish,
    rules_heard,
    rules_marks,
    rules_movements,
    rules_names,
    rules_plausible,
    rules_pulls,
    rules_second_looks,
    rules_sizes,
    rules_surveys,
    rules_unread,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

# Where two rules find fault with one cell, the first of them speaks.
RULES: tuple[Callable[[Draft], Iterator[Problem]], ...] = (
    rules_examples.example_rows,
    rules_names.tables_without_rows,
    rules_names.lakes_given_twice,
    rules_names.unknown_lakes,
    rules_areas.areas_given_twice,
    rules_areas.areas_that_leap,
    rules_areas.areas_unlike_usual,
    rules_areas.areas_years_away,
    rules_names.unknown_batches,
    rules_names.recaptures_without_pull,
    rules_names.rows_without_pull,
    rules_unread.fish_of_other_species,
    rules_unread.catches_examined_in_part,
    rules_unread.notes_on_examination,
    rules_pulls.pulls_given_twice,
    rules_pulls.labels_out_of_season,
    rules_pulls.seasons_that_overlap,
    rules_pulls.put_back_above_catch,
    rules_pulls.days_to_come,
    rules_pulls.hours_in_part,
    rules_pulls.hours_above_time,
    rules_marks.died_above_released,
    rules_marks.pen_counts,
    rules_marks.recaptured_above_catch,
    rules_marks.examined_counts,
    rules_marks.recaptured_in_two_places,
    rules_marks.recaptured_above_marks,
    rules_marks.batch_above_marks,
    rules_marks.marks_from_elsewhere,
    rules_marks.catches_not_examined,
    rules_second_looks.looks_without_pull,
    rules_second_looks.found_above_recaptured,
    rules_movements.movement_numbers,
    rules_movements.fish_moved_twice,
    rules_movements.movements_outside_records,
    rules_surveys.survey_counts,
    rules_surveys.surveys_without_netting,
    rules_batches.marks_seen_at_odds,
    rules_heard.tags_given_twice,
    rules_heard.tags_of_no_batch,
    rules_heard.more_tags_than_fish,
    rules_heard.antennas_without_pull,
    rules_heard.heard_before_release,
    rules_heard.hours_that_occur_twice,
    rules_heard.clocks_of_no_antenna,
    rules_fish.fish_not_measured,
    rules_fish.weights_in_other_units,
    rules_sizes.weights_off_standard,
    rules_sizes.larger_fish_weighed,
    rules_sizes.larger_fish_measured,
    rules_bycatch.dead_above_count,
    rules_bycatch.bycatch_not_counted,
    rules_bycatch.species_named_twice,
    rules_bycatch.limits_given_twice,
    rules_bycatch.limits_of_the_target,
    rules_bycatch.limits_of_misspelt_species,
    rules_bycatch.limits_of_unknown_season,
    rules_bycatch.limits_on_dead_fish,
    rules_plausible.threshold_of_campaign,
    rules_plausible.more_fish_than_water_holds,
    rules_plausible.catches_far_above_their_neighbours,
    rules_plausible.weights_all_alike,
    rules_plausible.measured_years_away,
    rules_plausible.names_that_differ_by_case,
)


def broken_rules(draft: Draft, known: Sequence[Problem]) -> list[Problem]:
    """Apply every rule.

    Parameters
    ----------
    known : sequence of Problem
        What is known to be wrong; a cell among them is not reported again.
    """
    faulty = {_cell(problem) for problem in known if problem.severity == "error"}
    found = []
    for rule in RULES:
        for problem in rule(draft):
            cell = _cell(problem)
            if None not in cell:
                if cell in faulty:
                    continue
                if problem.severity == "error":
                    faulty.add(cell)
            found.append(problem)
    return found


def _cell(problem: Problem) -> tuple[str, int | None, str | None]:
    return (problem.file, problem.row, problem.column)
