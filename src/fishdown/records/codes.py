"""What can be wrong in the records: each code with its sentences, and nowhere else.

A code has two clauses, what is wrong → how to mend it; `fishdown.sentences` says how values stand
in them. Where the second is left out, the column or setting has its advice.
"""

from __future__ import annotations

from enum import unique
from typing import Literal

from fishdown.records.problems import ProblemCode

_SAVE_AGAIN = " → open the workbook in a spreadsheet program and save it again"
_SAVE_AS_XLSX = " → open it in a spreadsheet program and save it again as .xlsx"
_UNITS = """
    → write <{us:?}the weight in pounds and the length in inches|the weight in kilograms and the
      length in millimetres>"""
_NOT_EXAMINED = """< (the same in {more})>; this column is not read, and fish not examined would
    count as unmarked, which makes the estimate too high
    → give the number of fish that were examined in the column examined of {pulls_file}, 0 if
      none were"""


@unique
class Wrong(ProblemCode):
    """An error: the records cannot be read before it is mended."""

    # The path, its files and sheets.
    NO_SUCH_CAMPAIGN = "no such folder or workbook → check the spelling, or the folder you are in"
    CAMPAIGN_LINKS_NOWHERE = "a link to nothing → name the folder or workbook itself"
    NO_CAMPAIGN = """neither a folder nor an .xlsx workbook
        → name the folder that holds campaign.toml, or a workbook saved as .xlsx"""
    NO_TABLES = """the folder has neither campaign.toml nor any table of a campaign
        → name the folder that holds campaign.toml, lakes.csv and pulls.csv"""
    FOLDER_REFUSED = """the folder cannot be opened ({said})
        → ask its owner, or the system's administrator, for the right to read it"""
    FILE_REFUSED = "cannot be opened ({said}) → close it in other programs and check your rights"
    NO_SUCH_FILE = "there is no such file → check the spelling, or the folder you are in"
    FILE_LINKS_NOWHERE = "a link to a file that is not there → put the file there, or delete it"
    A_FOLDER = "a folder, not a file → name a file, or put one in its place"
    A_PIPE_OR_DEVICE = "a pipe or device, not a file → put a plain file in its place"
    MISSING_TABLE = """missing {kind}
        → add it, with the <{settings:?}columns setting and value, and the rows title and
          species|columns {columns}|lines title and species>"""
    TABLE_TWICE = "the folder has {names}, which are the same table → keep one of them"
    SHEET_TWICE = "{sheets} sheets are this table: {titles} → keep one of them"
    NOT_UTF8 = """a character that is not UTF-8
        → save the file again in the encoding UTF-8 (in a spreadsheet: "CSV UTF-8")"""
    # Workbooks.
    WORKBOOK_LOCKED = """a workbook with a password<{old:?}, or one of the older format .xls>
        → take the password off and save it as .xlsx"""
    WORKBOOK_DAMAGED = "cannot be read as a workbook" + _SAVE_AS_XLSX
    WORKBOOK_PACKING = "packed in a way that no workbook is" + _SAVE_AS_XLSX
    WORKBOOK_TOO_LARGE = """unpacks to {gigabytes:.1f} GB, more than {most:.0f} GB
        → copy the tables into a new workbook"""
    SHEET_LACKING = "the workbook lists the sheet, and does not hold it" + _SAVE_AS_XLSX
    SHEET_DAMAGED = "the sheet is damaged ({said})" + _SAVE_AGAIN
    ROW_WITHOUT_PLACE = "a row or cell behind row {before} cannot be placed ({said})" + _SAVE_AGAIN
    ROW_OUT_OF_ORDER = 'a row with the number "{number}" behind row {before}' + _SAVE_AGAIN
    CELLS_OUT_OF_ORDER = "cells of other rows, or out of order" + _SAVE_AGAIN
    CELL_DAMAGED = "cell {place} cannot be read ({said})" + _SAVE_AGAIN
    # Text: CSV and TOML.
    CELL_TOO_LONG = """a cell of more than {most:,} letters
        → shorten the cell, or close the quotation mark it begins with"""
    QUOTATION_MARKS = """quotation marks that do not close, or letters behind one that does
        → put quotation marks around whole cells only, and close them"""
    EMPTY_FILE = "empty file → write the column names and the rows"
    RAGGED_ROW = """the row has {cells:#cell}, the header has {header}< ({rows:several})>
        → put every value under its column; a value with a comma needs quotation marks"""
    NUMBERS_ALONE = """numbers without {columns}< ({rows:several})>
        → fill them in, or delete the row if it holds a total"""
    MERGED_NUMBER = """a merged cell: one number for {count} rows< (the same in {rows:several})>
        → unmerge the cells, and write the number of each row"""
    COLUMN_UNDER_TWO_HEADINGS = "the columns {headings} are one and the same → keep one of them"
    COLUMN_TWICE = "{columns} columns have this name → keep one of them"
    MISSING_COLUMN = """missing column
        → add it: {what}<; if it has another heading, name it in the settings: {heading} = "…">"""
    NOT_TOML = """not valid TOML ({said})
        → write one setting a line, such as title = "Two lakes"; text needs quotation marks"""
    TOML_TOO_LONG = """{letters:,} letters are more than the {most:,} of any such file
        → name the right file, or leave out what is not needed"""
    TOML_TOO_DEEP = "tables or lists nested more than {most} deep → write one setting a line"
    TOML_NUMBER_TOO_LARGE = """a whole number beyond {most:,}
        → write a smaller number, or text in quotation marks"""
    # Settings.
    MISSING_SETTING = "missing setting"
    MISSING_THRESHOLD = "missing setting; only common carp has a default, not {species}"
    UNKNOWN_DATE_STYLE = """not a style of dates
        → write the order and the sign between, such as "day.month.year" or "month/day/year",
          as it stands in the cells"""
    UNKNOWN_UNITS = "neither metric nor us → write metric or us"
    NEITHER_POINT_NOR_COMMA = "neither point nor comma → write point or comma"
    HEADINGS_MISPLACED = """not the heading of a column
        → write [headings.pulls], and below it a line a column, such as
          caught = "Carp" for the column caught"""
    HEADING_OF_UNKNOWN_TABLE = """there is no table "{table}"
        → <did you mean "{like}"?|known tables are {known}>"""
    HEADING_OF_UNKNOWN_COLUMN = """the table {table} has no column "{column}"
        → <did you mean "{like}"?|known columns are {known}>"""
    HEADING_TWICE = "the heading of {other}, too → give each column a heading of its own"
    HEADING_ABSENT = """{file} has no column with this heading
        → <did you mean "{like}"?|correct the heading, or delete the line; its columns are
          {found}>"""
    THRESHOLD_IN_TWO_UNITS = "the setting {other} is given, too → keep one of them"
    SETTING_TWICE = "the setting is given twice → keep one of them"
    # Cells.
    FORMULA = """a formula without its value
        → write the value, or open the file in a spreadsheet program and save it again"""
    SPREADSHEET_ERROR = "an error of the spreadsheet → mend its formula, or write the value"
    EMPTY_CELL = "empty cell"
    NO_TEXT = "no text"
    NOT_TEXT = "not a text"
    NAME_TOO_LONG = "{letters:,} letters, more than {most} → write a shorter name"
    INVISIBLE_LETTER = "an invisible character → type the name anew, with plain letters"
    UNKNOWN_MARK = "unknown kind of mark → write fin_clip, pit_tag or both"
    UNKNOWN_MOVEMENT = """unknown movement
        → write stocked, moved_in, moved_out, angled, seined, found_dead or winterkill"""
    NEITHER_ALL_NOR_DEAD = "neither all nor dead → write all or dead"
    NEITHER_YES_NOR_NO = "neither yes nor no → write yes or no"
    NOT_A_NUMBER = "not a number"
    TIME_FOR_NUMBER = """a time of day, or from one to another, not a number
        → write a number, such as 5.5 for five and a half hours"""
    NOT_FINITE = "not a finite number"
    POINT_OF_THOUSANDS = """not a number because of the point
        → write {plain}, or {decimal} if the point marks the decimals"""
    DECIMAL_POINT = """not a number because of the point
        → write the decimals after a comma, as the setting decimal says: {decimal}"""
    NOT_WHOLE = "not a whole number"
    COMMA_OF_THOUSANDS = """not a number because of the comma
        → write {plain}, or {decimal} if the comma marks the decimals"""
    DECIMAL_COMMA = """not a number because of the comma
        → write the decimals after a point: {decimal}; or set decimal = "comma" in the settings,
          if all decimals are written so"""
    NEGATIVE = "negative"
    NEGATIVE_COUNT = "negative count"
    ZERO_OR_NEGATIVE = "zero or negative"
    BELOW = "below {least}"
    ABOVE = "above {most:g}"
    MORE_FISH_THAN_A_LAKE_HOLDS = "more fish than a lake can hold"
    IMPLAUSIBLY_SMALL = "implausibly small"
    IMPLAUSIBLY_LARGE = "implausibly large"
    OTHER_DATE_STYLE = """not a date of the form year-month-day
        → write the date as year-month-day, such as 2025-06-14; or set {styles} in the settings, if
          all dates are written so"""
    NOT_OF_DATE_STYLE = """not a date of the form {style}, nor year-month-day
        → write the date such as {example}"""
    DATES_IN_TWO_STYLES = """text, while the spreadsheet program took the other cells of the column
        for dates; no day of the month in those is above 12: it has swapped days and months
        → import the table again with dates as {style}, or type all dates of the column again as
          year-month-day, such as 2025-06-14"""
    NOT_A_DATE = "not a date of the form year-month-day"
    NO_SUCH_DAY = "no such day in the calendar"
    OUTSIDE_YEARS = "not in the years {first} to {last}"
    NOT_A_TIME = "not a date and time"
    NO_TIME_ZONE = """time without a time zone
        → add the zone: {time}Z for universal time, {time}-06:00 for six hours behind it; or give
          the setting time_zone"""
    UNKNOWN_TIME_ZONE = "unknown time zone"
    HOUR_LEAPT_OVER = """an hour that clocks leap over when they go forward
        → write the offset into the time, such as 2025-06-14T22:05:00-06:00, or set time_zone to
          the offset that the antenna's clock keeps all year"""
    # Names of lakes, batches and pulls.
    NO_ROWS = "no rows under the header → write <one row a {noun}|the rows, or delete the table>"
    EXAMPLE_ROW = """an example, and nobody's record< ({rows:several})>
        → replace the row by your own<{alone:?}, or delete the table if you have none>"""
    LAKE_TWICE = "the lake has a row already (row {first}) → keep one of the two rows"
    AREA_TWICE = """{lake} has an area on this day already (row {first})
        → keep one of the two rows"""
    UNKNOWN_LAKE = """unknown lake<, here and in {more:#more row}>
        → <did you mean "{like}"?|add it to {lakes_file}, or correct the name>"""
    UNKNOWN_BATCH = """unknown batch of marked fish
        → <did you mean "{like}"?|add it to {marked_file}, or correct the name>"""
    SEVERAL_PULLS = """{pulls} pulls of this net on this day
        → say in the column order which of them it is"""
    NO_PULL_IN_LAKE = """{pulls_file} has no pull in {lake} on this day
        <, here and in {more:#more row}>
        → add the pull, or correct the date"""
    NO_PULL_OF_NET = """{pulls_file} has no pull of this net in {lake} on {date:%Y-%m-%d}
        <, here and in {more:#more row}>
        → nets pulled that day: {nets}< and {others:,} more>"""
    NO_PULL_OF_ORDER = """{pulls_file} has pulls of this net on this day, none with this order
        <, here and in {more:#more row}>
        → correct the order, or leave it out if there is one pull"""
    # Columns that are not read.
    OTHER_SPECIES = """another species than the {species} of {campaign_file}< ({rows:several})>;
        the column is not read, so that these fish would count as {species}
        → <{in_pulls:?}move such catches to {bycatch_file} (columns species and count) and keep
          one row a pull with the catch of {species}, 0 if there was none|delete such rows: this
          table holds {species} only>"""
    EXAMINED_IN_PART = (
        "<only {examined:,.0f}|none> of the {caught:,.0f} fish caught were examined for marks"
        + _NOT_EXAMINED
    )
    NOT_ALL_EXAMINED = (
        "not all of the {caught:,.0f} fish caught were examined for marks" + _NOT_EXAMINED
    )
    EXAMINED_ABOVE_CATCH = """more fish examined for marks than the {caught:,.0f} caught< (the
        same in {more})>
        → correct one of the two"""
    NOTE_OF_PART = (
        "the catch of {caught:,.0f} fish was not examined whole for marks" + _NOT_EXAMINED
    )
    # Surveys.
    MARKED_ABOVE_LOOKED_AT = """{marked:.0f} marked fish among {looked_at:.0f} looked at
        → correct one of the two; caught and examined count the marked fish, too"""
    # Second looks.
    FOUND_FIRST_ABOVE_RECAPTURED = """{found_first:.0f} marked fish found at the first look, and
        {recaptured:.0f} in the catches of {lake} on that day
        → correct one of the two; recaptured counts the marked fish that the first look found"""
    # Movements.
    MOVEMENT_WITHOUT_NUMBER = """neither a number of fish nor a share
        → write one of the two; an estimate will do, with its standard error"""
    MOVEMENT_IN_TWO_WAYS = "a number of fish and a share → leave one of the two empty"
    SHARE_OF_NO_WINTER = """a share of the fish, which only a winterkill may have
        → write the number of fish"""
    SHARE_WITHIN_SEASON = """a share of the fish, while season {season} of {lake} was netted
        → write the number of fish found dead (found_dead)"""
    MARKED_ABOVE_MOVED = """{marked:.0f} marked fish among {fish:.0f}
        → correct one of the two; fish counts the marked fish, too"""
    MARKED_FISH_CAME = """marked fish that came into the lake
        → enter those that were marked or released with a mark in {marked_file}, and leave this
          cell empty"""
    MOVED_TWICE = """row {other} has the same fish from the other lake's side
        → delete one of the two rows; the other counts for both lakes"""
    OTHER_LAKE_OF_NO_MOVE = """another lake, although the fish are {movement}
        → write moved_in or moved_out, or leave this cell empty"""
    # Pulls.
    PULL_TWICE = """this net has a pull on this day already (row {first})
        → delete the row if it is the same pull, else number both in column order"""
    SEASON_OFF_DATE = """the season does not fit the date {date:%Y-%m-%d}
        → write {date:%Y}, or {year_before} if the season began the year before"""
    SEASONS_OVERLAP = """season {season} of {lake} overlaps season {other}
        → give each season of a lake dates of its own"""
    PUT_BACK_ABOVE_CATCH = """more fish put back than the {caught:.0f} caught
        → correct one of the two; caught counts all fish of the catch"""
    FISH_ABOVE_PLAUSIBLE = """{fish:,.0f} fish {done} in {season}, {density:,.0f} <{us:?}an acre|a
        hectare> of its {area_ha:unit ha}; the plausible maximum is {most:,.0f}
        → correct the counts or the area in {lakes_file}"""
    # Marks.
    DIED_ABOVE_RELEASED = """more fish died than the {released:.0f} released
        → correct one of the two; released counts the fish that died later, too"""
    PEN_ABOVE = """more fish than were in the pen
        → penned counts the marked fish put into the pen, pen_alive those alive at the end, and
          pen_marked those of them whose mark was found again"""
    PEN_UNFINISHED = """a pen without its outcome
        → write the number, 0 if there were none, or leave all three columns of the pen empty"""
    RECAPTURED_ABOVE_CATCH = """{recaptured:.0f} marked fish in a catch of {caught:.0f}
        → correct one of the two; caught counts marked fish too"""
    RECAPTURED_ABOVE_EXAMINED = """{recaptured:.0f} marked fish, but <only {examined:.0f}|none> of
        the {caught:.0f} fish caught were examined for marks
        → correct one of the two; examined counts the marked fish too, and is empty if all of the
          catch was examined"""
    EXAMINED_WITHOUT_OUTCOME = """{examined:.0f} fish were examined for marks, and the number of
        marked ones among them is not told
        → write it in the column recaptured, 0 if there were none"""
    RECAPTURED_ABOVE_MARKS = """{recaptured:.0f} marked fish in the catch, but <only
        {at_large:.0f}|none> at large in {lake} (<{earlier:?}{carried:.0f} left from earlier
        years, >{alive:.0f} released alive for season {season}, {gone:.0f} taken out since)
        → correct the count, or add the marking to {marked_file}"""
    RECAPTURED_BEFORE_MARKING = """marked fish in the catch before any was at large
        → correct the count or a date; fish marked on a day are at large from the next day on,
          unless {marked_file} has an order"""
    NEVER_MARKED = """marked fish in the catch< (and in {later:#later catch/later catches})>,
        but none was marked in {lake} for season {season}
        → add the marking to {marked_file}, or correct the count<{marked_later:?}; fish marked
          later do not count here>"""
    RECAPTURES_DISAGREE = """{recaptures_file} has {recaptured:#marked fish/marked fish} for
        this pull
        → make the two agree, or leave this cell empty"""
    BATCH_MARKED_LATER = """this batch was marked later, on {date:%Y-%m-%d}
        → correct the batch, the count or the date"""
    RECAPTURED_ABOVE_BATCH = """only {released:.0f} fish of batch {batch} were released until
        then
        → correct the batch, the count or the date"""
    NO_MARK_SEEN = """neither clip nor tag was seen, so the fish cannot be recognised as marked
        → correct clip_seen or tag_read, or leave the fish out"""
    MARK_NOT_OF_BATCH = "batch {batch} carries {carries} only → correct the batch or what was seen"
    # Tags and the antenna.
    TAG_TWICE = """the tag has a row already (row {first})<, here and in {more:#more row}>
        → keep the row of the fish that carries it"""
    BATCH_OF_OTHER_LAKE = """{marked_file} has no such batch in {lake}
        → correct the batch or the lake"""
    TAG_OF_CLIPPED = """batch {batch} carries fin clips only
        → correct the batch, or its mark in {marked_file}"""
    MORE_TAGS_THAN_FISH = """{tags:,} tags of batch {batch}, of which {alive:,.0f} fish were
        released alive
        → leave out the tags of fish that died, or correct the batch"""
    # Measured fish and bycatch.
    NO_COLUMN_OF_SIZES = "no column length_mm and no column weight_kg → add at least one of them"
    NOT_MEASURED = "neither length nor weight → write one of them, or delete the row"
    WEIGHTS_IN_OTHER_UNITS = """{off:,} of {weights:#weight} cannot be <{us:?}pounds of fish of
        their lengths in inches|kilograms of fish of their lengths in millimetres> ({rows})
        → write <{us:?}weights in pounds and lengths in inches|weights in kilograms and lengths in
          millimetres>"""
    TOO_HEAVY_FOR_LENGTH = (
        """about {times:,.0f} times too heavy for its length of
        {length_mm:unit mm} (weight in <{us:?}ounces or grams|grams>, or length in centimetres?)"""
        + _UNITS
    )
    TOO_LIGHT_FOR_LENGTH = (
        """about {times:,.0f} times too light for its length of
        {length_mm:unit mm}"""
        + _UNITS
    )
    HEAVIER_THAN_ANY_FISH = (
        "heavier than any such fish (weight in <{us:?}ounces or grams|grams>?)" + _UNITS
    )
    FAR_ABOVE_USUAL_WEIGHT = (
        """over 100 times the usual weight in {lake}, {usual_kg:unit kg}
        (weight in <{us:?}ounces or grams|grams>?)"""
        + _UNITS
    )
    FAR_BELOW_USUAL_WEIGHT = (
        """under a hundredth of the usual weight in {lake}, {usual_kg:unit
        kg}"""
        + _UNITS
    )
    DEAD_ABOVE_COUNT = """more dead fish than the {count:.0f} counted
        → correct one of the two; count holds the dead fish too"""
    BYCATCH_NOT_COUNTED = """{bycatch_file} has bycatch of this pull (row {entry})
        → write yes, or delete the rows of bycatch if they are of another pull"""
    SPECIES_TWICE = "the species has a row already (row {first}) → keep one of the two rows"
    LIMIT_TWICE = """the limit has a row already (row {first})
        → keep one of the two rows; limits on all and on dead fish may stand side by side"""


@unique
class Odd(ProblemCode):
    """A warning: probably an error, or something that changes what can be estimated."""

    @property
    def severity(self) -> Literal["error", "warning"]:
        """A warning does not stop the reading."""
        return "warning"

    # The path, its files and sheets.
    UNKNOWN_TABLE = """unknown {kind}, which is not read
        → <did you mean "{like}"?|known {kind}s are {known}>"""
    STOCKED_FISH = """unknown name, and not read: fish that came or went other than by the nets
        stand in movements
        → rename it to movements, with the columns date, lake, movement and fish"""
    SURVEY_WITHOUT_NETTING = """no pull of {lake} in season {season}: this run tells nothing yet
        → nothing to do"""
    SECOND_LOOK_WITHOUT_PULL = """{pulls_file} has no pull in {lake} on this day
        → correct the date, unless these fish were caught by another gear"""
    MOVED_BEFORE_NETTING = """no season of {lake} was netted before that day: these fish change
        no estimate
        → nothing to do"""
    MOVED_AFTER_NETTING = """no season of {lake} was netted after that day: these fish count in
        the forecast of years, and change nothing else
        → nothing to do"""
    # Text: CSV and TOML.
    TITLE_ROWS = """above the header (row {header}), and not read< ({rows:several})>
        → nothing to do unless it says something that the rows lack"""
    NOTE_ROWS = """a line of words, which is not read< ({rows:several})>
        → nothing to do unless it says something that the rows lack"""
    TOTAL_ROWS = """a line of totals, which is not read< ({rows:several})>
        → nothing to do"""
    TOTAL_OFF = """the rows above sum to {sum:,}, not to this total
        → look for a row that is missing, given twice or mistyped; the total is not read"""
    HEADER_AGAIN = """the header once more, which is not read< ({rows:several})>
        → nothing to do"""
    MERGED_CELLS = """taken from a merged cell< ({rows:several})>
        → nothing to do if it holds for each of these rows; else unmerge the cells and fill them"""
    COLUMN_WITHOUT_NAME = """the {place} column has no name and is not read (first filled in row
        {filled}) → name it, or delete it"""
    UNKNOWN_COLUMN = """unknown column, which is not read
        → <did you mean "{like}"? Rename it, or keep it by the setting {setting}|known columns are
          {known}>"""
    # Settings.
    UNKNOWN_SETTING = """unknown setting, which is not read
        → <did you mean "{like}"?|known settings are {known}>"""
    # Names of lakes, batches and pulls.
    NO_ROWS = Wrong.NO_ROWS.value
    NO_PULL_IN_LAKE = Wrong.NO_PULL_IN_LAKE.value
    NO_PULL_OF_NET = Wrong.NO_PULL_OF_NET.value
    NO_PULL_OF_ORDER = Wrong.NO_PULL_OF_ORDER.value
    NO_RECAPTURES = """no rows under the header, so that no catch holds a marked fish
        → write the recaptures, or delete the table if no catch was examined for marks"""
    NAME_IN_OTHER_CASE = """differs from the {noun} "{usual}" ({usual_rows}) by capital letters
        only ({rows}), and counts as another {noun}
        → write "{usual}" if it is the same"""
    # Areas by date.
    AREA_LEAPS = """{times:.1f} times <{larger:?}the area|less than the area> of {before:unit ha} on
        {day:%Y-%m-%d}, the date before it
        → check for a wrong digit, or acres for hectares; leave it if it is correct"""
    AREA_UNLIKE_USUAL = """{lake} has areas of {least:unit ha} to {most:unit ha} by date, all more
        than {times:g} times <{larger:?}the area|less than the area> of {usual:unit ha} in
        {lakes_file}
        → check that both are in the unit of their heading; the one in {lakes_file} is the area at
          the usual water level"""
    AREA_YEARS_AWAY = """{years:.1f} years from the nearest pull in {lake}< ({rows:several})>
        → correct the date; leave it if it is correct"""
    # Columns that are not read.
    ONE_SPECIES = "unknown column, which is not read; all rows count as {species} → nothing to do"
    ALL_EXAMINED = """unknown column, which is not read; no catch that counts as examined for
        marks was examined in part
        → nothing to do"""
    NOTES = """unknown column, which is not read
        → nothing to do unless a note changes the meaning of a count"""
    # Pulls.
    DAY_TO_COME = """later than today< ({rows:several})>
        → correct it, unless the clock of this computer is wrong"""
    HOURS_IN_PART = """empty for {lacking:#pull} of {lake} in {season} ({rows}) while others have
        hours: effort then counts pulls, not hours
        → fill in the hours that the net fished, or leave the column empty throughout"""
    HOURS_ABOVE_TIME = """more hours than passed since the net was pulled before, at most {most:g}
        → write the hours that the net fished for this pull only; leave it if it is correct"""
    CATCH_FAR_ABOVE_OTHERS = """over {times:.0f} times the catches before and after it in
        {season}, half of which were {usual:,g} fish or fewer
        → check for an extra digit; leave it if it is correct"""
    # Marks.
    RECAPTURES_IN_TWO_PLACES = """recaptures are given here and in {recaptures_file}, which is
        the one that counts
        → leave out the column recaptured"""
    MARKED_ELSEWHERE = """marked in {origin}, recaptured in {lake} ({rows})
        → nothing to do if that is so; the fish count as caught, not as recaptures"""
    NO_CATCH_EXAMINED = """no catch of {season} was examined for its {marks:#marked fish/marked
        fish}, so its marks are unused
        → fill the column recaptured (0 if the catch was examined and had none)"""
    CATCHES_NOT_EXAMINED = """empty for {catches:#catch/catches} of {season} while marked fish
        were at large ({rows}): not examined, and assumed to hold the season's share of marked
        fish
        → write 0 if the catch was examined and had none"""
    # Tags and the antenna.
    TAGS_OF_MIXED_BATCH = """batch {batch} of {lake} was marked in several seasons or with several
        marks, so that its tags do not say how many marks are still there
        → give each its own batch in {marked_file}"""
    ANTENNA_WITHOUT_PULL = """{pulls_file} has no pull of this net in {lake}
        <, here and in {more:#more row}>
        → did you mean "{like}"? Nothing to do if the net was never pulled"""
    HEARD_BEFORE_RELEASE = """{reads:#read/reads} of {tags:#tag} before the fish was released
        ({rows})
        → check the antenna's clock, or the batch of the tag in {tags_file}; until then these
          reads are left out"""
    HOUR_TWICE = """{reads:#read/reads} in an hour that occurs twice, when clocks go back ({rows});
        taken as its first
        → write the offset into the time, or set time_zone to the offset that the antenna's clock
          keeps all year"""
    CLOCK_OF_NO_ANTENNA = """no read of {detections_file} is of this antenna
        → correct the lake or the net"""
    # Measured fish and bycatch.
    LIMIT_OF_TARGET = """the species that is removed; its catch is in {pulls_file} and is not
        bycatch
        → delete the row, or correct the species"""
    LIMIT_OF_LIKE_SPECIES = """no fish of this species is in {bycatch_file}
        → did you mean "{like}"? Nothing to do if none was caught"""
    LIMIT_OF_UNKNOWN_SEASON = """no pull of this season is in {pulls_file}
        → seasons with pulls: {seasons}; leave the cell empty for the last one"""
    DEAD_NOT_RECORDED = """{bycatch_file} has no entry of dead fish, so that limits on dead fish
        cannot be compared with the records
        → fill the column dead (0 if no fish of the row was dead)"""
    OFF_STANDARD_WEIGHT = """{fish:#common carp/common carp} of less than {lightest:.0f} % or
        more than {heaviest:.0f} % of the standard weight of the length ({examples}<; and
        {others:,} more>)
        → check that <{us:?}weights are in pounds (not ounces or kilograms) and total lengths in
          inches|weights are in kilograms (not grams or pounds) and total lengths in millimetres>
          (not centimetres); leave them if they are correct"""
    WEIGHED_UNLIKE_MEASURED = """in {season} the {chosen:,} weighed fish are
        <{larger:?}longer|shorter> than the {others:,} that were measured only (half of them above
        {chosen_middle:unit mm} and {others_middle:unit mm}); from the weights alone, biomass would
        be about {percent:.0f} % too <{larger:?}high|low>
        → weigh fish as they come<{paired:?}; until then the others' weights follow from their
          lengths|, and measure {fewest} or more of those weighed>"""
    MEASURED_UNLIKE_CATCH = """in {season} catches of which only a part was measured gave
        <{larger:?}larger|smaller> fish than catches measured whole (half of them above
        {chosen_middle:unit {unit}} and {others_middle:unit {unit}}): if fish were selected by size,
        biomass is about {percent:.0f} % too <{larger:?}high|low>
        → measure fish as they come, such as every fifth; leave selected fish out"""
    WEIGHTS_ALL_ALIKE = """{alike:,} of {weights:#weight} of {season} are exactly
        {weight_kg:unit kg} ({rows})
        → check whether one mean weight was written for all; leave out what nobody measured"""
    MEASURED_YEARS_AWAY = """measured {years:.1f} years from the nearest pull in {lake}<
        ({rows:several})>
        → correct the date; leave it if it is correct"""
    MARKED_YEARS_BEFORE = """marked {years:.1f} years before the next pull in {lake}<
        ({rows:several})>
        → correct the date; leave it if it is correct"""
