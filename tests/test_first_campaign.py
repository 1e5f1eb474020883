"""The first campaign as its page tells it: each command runs, its verdicts are those quoted."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path

import pandas as pd
import pytest
from command_lines import joined
from fake_fits import StubSampler

from fishdown.cli import main
from fishdown.words import SCALE

DEMO = Path(__file__).parent.parent / "demo"
TEXT = (DEMO / "first_campaign.md").read_text("utf-8")
# The name of a file, and what stands in it; or a command.
STEP = re.compile(
    r"^(?P<add>Append to )?`(?P<file>marlpit/[\w.]+)`(?:(?!^`|```).)*?```\w+\n(?P<content>.*?)^```"
    r"|^    (?P<command>fishdown .*?)$",
    re.MULTILINE | re.DOTALL,
)


def follow(folder: Path) -> Iterator[tuple[str, int]]:
    """Do what the page says, in its order; yields each command with its exit code."""
    for step in STEP.finditer(TEXT):
        if step["command"]:
            yield step["command"], main(shlex.split(step["command"])[1:])
            (folder / "marlpit" / "bycatch.csv").unlink(missing_ok=True)
            continue
        path = folder / step["file"]
        before = path.read_text("utf-8") if step["add"] else ""
        path.write_text(before + step["content"], encoding="utf-8")


def quoted() -> list[str]:
    quotes = re.findall(r"((?:^> .*\n)+)", TEXT, re.MULTILINE)
    return [joined(quote.replace("> ", "")) for quote in quotes]


def test_every_command_runs(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    stub: Callable[..., type[StubSampler]],
    capsys: pytest.CaptureFixture[str],
) -> None:
    stub(0)
    # The stand-in gives its draws no names of seasons, by which figures are drawn.
    for name in ("pictures", "pictures_of_checks"):
        monkeypatch.setattr(f"fishdown.report.page.{name}", lambda *_, **__: ())
    monkeypatch.chdir(tmp_path)
    ran = list(follow(tmp_path))
    assert [command.split()[1] for command, _ in ran] == [
        "new", "check", "fit", "report", "ahead", "check", "update", "report", "workbook", "rerun"
    ]  # fmt: skip
    # The draws of the stand-in say nothing of this lake, so that marks and catches may disagree.
    assert {code for _, code in ran} <= {0, 3}
    assert {code for command, code in ran if command.split()[1] in {"new", "check"}} == {0}
    said = joined(capsys.readouterr().out)
    assert "no problems found" in said
    assert "temperature spans 2.0 °C only: no temperature effect" in said
    assert (tmp_path / "july" / "results.xlsx").is_file()


@pytest.mark.slow
def test_the_verdicts_are_those_quoted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert {code for _, code in follow(tmp_path)} == {0}
    for month, quote in zip(("june", "july"), quoted(), strict=True):
        said = pd.read_csv(tmp_path / month / "verdicts.csv")["statement"].iloc[1]
        print(said)
        for pattern in (r"it is ([\w ]+) \(", r"in \d+ held (\d+)"):
            assert re.findall(pattern, said)[0][:2] == re.findall(pattern, quote)[0][:2]


def test_the_page_on_the_verdict_has_the_words_of_the_program() -> None:
    text = (DEMO / "reading_the_verdict.md").read_text("utf-8")
    rows = re.findall(r"^\| ([\w ]+) \| (.*?) % \|$", text, re.MULTILINE)
    limits = [limit for limit, _ in SCALE]
    expected = []
    for (limit, words), above in zip(SCALE, [None, *limits], strict=False):
        low, high = round(100 * limit), None if above is None else round(100 * above)
        expected.append(
            (
                words,
                f"more than {low}"
                if high is None
                else f"{low} to {high}"
                if low
                else "less than 1",
            )
        )
    assert rows == expected
    assert quoted()[0] in joined(text.replace("> ", ""))
