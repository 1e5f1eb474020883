"""Output that cannot be printed as it is, or not at all: nothing that was saved is lost."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from command_lines import FILES, joined, passes
from drawn_fits import drawn_fit, records
from fake_fits import StubSampler

from fishdown.cli import main
from fishdown.terminal.output import Channel


class Broken(io.StringIO):
    """A stream that takes the first so many texts."""

    def __init__(self, error: OSError, takes: int) -> None:
        super().__init__()
        self.error, self.takes = error, takes

    def write(self, text: str) -> int:
        self.takes -= 1
        if self.takes < 0:
            raise self.error
        return super().write(text)


FULL, CLOSED = OSError(28, "No space left on device"), BrokenPipeError(32, "Broken pipe")


@pytest.mark.parametrize("takes", [0, 4])
@pytest.mark.parametrize(("error", "code"), [(FULL, 4), (CLOSED, 141)])
def test_results_are_saved_whoever_reads(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
    error: OSError,
    code: int,
    takes: int,
) -> None:
    stub(0)
    out = tmp_path / "results"
    monkeypatch.setattr(sys, "stdout", Broken(error, takes))
    assert main(["fit", str(passes(folder_of)), "--out", str(out)]) == code
    monkeypatch.undo()
    assert {path.name for path in out.iterdir()} == FILES
    said = capsys.readouterr().err
    assert said == (
        "fishdown: the output could not be printed (No space left on device); the results are in "
        f"{out}\n"
        if code == 4
        else ""
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the kernel has no full device")
@pytest.mark.parametrize("command", ["--help", "check"])
def test_a_full_disk_in_a_shell(folder_of: Callable[..., Path], command: str) -> None:
    arguments = [command] if command == "--help" else [command, str(passes(folder_of))]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "fishdown.cli", *arguments],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 4
    assert done.stderr == ("fishdown: the output could not be printed (No space left on device)\n")


def test_nobody_reads_in_a_shell(folder_of: Callable[..., Path]) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        [sys.executable, "-m", "fishdown.cli", "check", str(passes(folder_of))],
        stdout=writer,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(writer)
    assert done.returncode == 141
    assert done.stderr == ""


@pytest.mark.parametrize(
    ("text", "encoding", "shown"),
    [
        ("12–34 fish ± 2 × 10 °C, ½", "ascii", "12-34 fish +- 2 x 10 deg C, 1/2"),
        ("Étang à l'âne, Łódź, 湖", "ascii", "Etang a l'ane, ?odz, ?"),
        ("10 °C ± ½ – 湖", "latin-1", "10 °C ± ½ - ?"),
        ("a name that is no text: \udcff", "utf-8", "a name that is no text: \\udcff"),
        ("12–34", "utf-8", "12–34"),
    ],
)
def test_what_an_encoding_lacks_is_written_plainer(text: str, encoding: str, shown: str) -> None:
    bytes_ = io.BytesIO()
    channel = Channel(io.TextIOWrapper(bytes_, encoding=encoding))
    assert channel.write(text) == len(text)
    channel.flush()
    assert bytes_.getvalue().decode(encoding) == shown


def test_every_command_in_ascii(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stub: Callable[..., type[StubSampler]]
) -> None:
    folder = records(tmp_path / "r", ["Étang 湖", "Pond"])
    out = str(tmp_path / "out")
    drawn_fit(folder).save(out)
    for name in ("pictures", "pictures_of_checks"):
        monkeypatch.setattr(f"fishdown.report.page.{name}", lambda *_, **__: ())
    stub(0)
    for command in (
        ["check", str(folder)],
        ["priors", str(folder)],
        ["formulas", str(folder)],
        ["report", out],
        ["years", out, "--years", "1"],
        ["update", out, str(folder), "--out", out],
        ["check", str(tmp_path / "Étang 湖")],
    ):
        bytes_, errors = io.BytesIO(), io.BytesIO()
        for name, stream in (("stdout", bytes_), ("stderr", errors)):
            monkeypatch.setattr(sys, name, io.TextIOWrapper(stream, encoding="ascii"))
        code = main(command)
        sys.stdout.flush()
        sys.stderr.flush()
        printed, said = bytes_.getvalue().decode("ascii"), errors.getvalue().decode("ascii")
        assert code == (1 if command[-1].endswith("湖") else 0), said
        assert bool(said) == bool(code)
        if command[0] in {"priors", "years", "update"}:
            assert "Etang ?" in joined(printed), command


def test_no_stream_at_all() -> None:
    channel = Channel(None)
    assert channel.write("x") == 1
    channel.flush()
    assert not channel.isatty()
