"""One page about a fit: for the manager first, with a switch for the scientist's part.

>>> fit.report("results")

`page` gathers what the page says, `tables` and `pictures` make its parts, `page.html.j2` and
`page.css` lay them out. The page runs no script and fetches nothing.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.atomic_write import all_or_none
from fishdown.units import label, shown_in

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from fishdown.checks.result import CheckResult
    from fishdown.posterior.fitted import FittedCampaign

FILE = "report.html"


def write_report(
    fit: FittedCampaign,
    folder: str | os.PathLike[str],
    *,
    checks: Sequence[CheckResult],
    despite_gate: bool = False,
) -> Path:
    """Write `report.html` into a folder.

    Arguments, answer and errors are those of `fishdown.Fit.report`.
    """
    folder = Path(folder)
    text = render(fit, folder, checks=checks, despite_gate=despite_gate)
    with all_or_none(folder, make=True) as staged:
        (staged / FILE).write_text(text, encoding="utf-8")
    return folder / FILE


def render(
    fit: FittedCampaign,
    folder: Path | None = None,
    *,
    checks: Sequence[CheckResult],
    despite_gate: bool = False,
) -> str:
    """Return the page as text, with the pulls and years ahead that lie in a folder."""
    import jinja2
    from markupsafe import Markup

    from fishdown.palette import DARK, PAGE
    from fishdown.report.page import gather

    home = Path(__file__).parent
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(home),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["together"] = _together
    environment.filters["in_units"] = label
    css = Markup((home / "page.css").read_text(encoding="utf-8"))
    # The template is read in these units, too: what is the same on every page is filled in then.
    with shown_in(fit.units):
        template = environment.get_template("page.html.j2")
        return template.render(
            css=css,
            light=PAGE,
            dark=DARK,
            page=gather(fit, folder, checks=checks, despite_gate=despite_gate),
        )


def _together(text: str) -> str:
    """Keep a number and its unit on one line."""
    return re.sub(r"(?<=\d) (?=%|kg\b|lb\b|fish\b)", "\N{NO-BREAK SPACE}", text)
