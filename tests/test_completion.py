"""The Tab key completes commands, options and choices."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from fishdown.cli import main
from fishdown.terminal.arguments import parser_of_arguments
from fishdown.terminal.completion import SHELLS

COMMANDS = ("new", "check", "fit", "rerun", "report", "completion")


@pytest.fixture
def script_of(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    def write(shell: str) -> Path:
        assert main(["completion", shell]) == 0
        path = tmp_path / f"completion.{shell}"
        path.write_text(capsys.readouterr().out, encoding="utf-8")
        return path

    return write


@pytest.mark.parametrize("shell", SHELLS)
def test_every_command_is_in_the_script(shell: str, script_of) -> None:
    text = script_of(shell).read_text("utf-8")
    for command in COMMANDS:
        assert command in text
    assert "compare-lakes" in text


@pytest.mark.parametrize("shell", SHELLS)
def test_the_shell_takes_it(shell: str, script_of) -> None:
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"{shell} is not installed")
    subprocess.run([program, "-n", str(script_of(shell))], check=True)


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["fishdown", "re"], {"report", "rerun"}),
        (["fishdown", "fit", "--comp"], {"--compare-lakes"}),
        (["fishdown", "completion", "z"], {"zsh"}),
    ],
)
def test_bash_completes(words: list[str], found: set[str], script_of) -> None:
    code = (
        f"source {script_of('bash')}; "
        f"COMP_WORDS=({' '.join(words)}); COMP_CWORD={len(words) - 1}; "
        "$(complete -p fishdown | sed 's/.*-F \\([^ ]*\\).*/\\1/') fishdown "
        f"'{words[-1]}' '{words[-2]}'; printf '%s\\n' \"${{COMPREPLY[@]}}\""
    )
    done = subprocess.run(["bash", "-c", code], capture_output=True, text=True, check=True)
    assert set(done.stdout.split()) == found


def test_an_unknown_shell(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["completion", "dos"])
    assert stopped.value.code == 2
    assert "invalid choice: 'dos'" in capsys.readouterr().err


def test_help_loads_nothing_of_it() -> None:
    code = (
        "import sys; from fishdown.terminal.arguments import parser_of_arguments\n"
        "parser_of_arguments(); print('shtab' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
    assert "completion" in parser_of_arguments().format_help()
