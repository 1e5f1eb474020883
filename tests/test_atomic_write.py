"""Several files at once: all of them or none, whatever comes between."""

from __future__ import annotations

import os
import platform
import subprocess
import sys
from pathlib import Path

import pytest

from fishdown.atomic_write import all_or_none
from fishdown.errors import FishdownError


def contents(folder: Path) -> dict[str, str]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_text(encoding="utf-8") for path in files}


def write(folder: Path, text: str, *names: str, stale: tuple[str, ...] = ()) -> None:
    with all_or_none(folder, make=True, instead_of=stale) as staged:
        for name in names:
            (staged / name).write_text(text, encoding="utf-8")


def test_what_lacks_is_removed(tmp_path: Path) -> None:
    (tmp_path / "figures").mkdir()
    (tmp_path / "figures" / "a.png").write_text("old", encoding="utf-8")
    write(tmp_path, "old", "a", "b")
    write(tmp_path, "new", "a", stale=("b", "figures/a.png", "never/there"))
    assert contents(tmp_path) == {"a": "new"}
    assert {path.name for path in tmp_path.iterdir()} == {"a"}


def test_a_folder_in_the_place_of_a_file(tmp_path: Path) -> None:
    write(tmp_path, "old", "a", "b")
    (tmp_path / "c").mkdir()
    with pytest.raises(FishdownError, match="a folder lies where the file c should go"):
        write(tmp_path, "new", "a", "b", "c", stale=("b",))
    assert contents(tmp_path) == {"a": "old", "b": "old"}


@pytest.mark.parametrize("links", [True, False])
@pytest.mark.parametrize("failure", [OSError(5, "Input/output error"), KeyboardInterrupt()])
@pytest.mark.parametrize("at", ["a", "b", "c", "d"])
def test_a_failure_between_two_files_puts_the_first_back(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    failure: BaseException,
    at: str,
    links: bool,
) -> None:
    write(tmp_path, "old", "a", "b", "z")
    replace = Path.replace

    def breaking(path: Path, target: Path) -> Path:
        if path.name == at and path.parent.name == "new":
            raise failure
        return replace(path, target)

    def no_links(path: Path, target: Path) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(Path, "replace", breaking)
    if not links:
        monkeypatch.setattr(Path, "hardlink_to", no_links)
    with pytest.raises((FishdownError, KeyboardInterrupt)):
        write(tmp_path, "new", "a", "b", "c", "d", stale=("z",))
    assert contents(tmp_path) == {"a": "old", "b": "old", "z": "old"}


def test_a_failure_leaves_no_folder_that_was_not_there(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), all_or_none(tmp_path / "a" / "b", make=True):
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_drafts_of_the_dead_are_removed(tmp_path: Path) -> None:
    gone = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.strip()
    node = platform.node()
    dead, alive, elsewhere, old = (
        tmp_path / f".unfinished-{name}-abc"
        for name in (
            f"{node}-{gone}",
            f"{node}-{os.getppid()}",
            f"another-{node}-{gone}",
            "of an earlier version",
        )
    )
    for staged in (dead, alive, elsewhere, old):
        (staged / "new").mkdir(parents=True)
    os.utime(old, (0.0, 0.0))
    write(tmp_path, "new", "a")
    assert not dead.exists()
    assert not old.exists()
    assert alive.exists()
    assert elsewhere.exists()


@pytest.mark.skipif(sys.platform != "linux", reason="limits the size of files by the kernel")
def test_a_full_disk(tmp_path: Path) -> None:
    """The kernel refuses all bytes above the limit; of a file half is written then."""
    write(tmp_path, "old", "a", "b")
    code = (
        "import resource, signal, sys, pathlib\n"
        "from fishdown.atomic_write import all_or_none\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "with all_or_none(sys.argv[1]) as staged:\n"
        "    (staged / 'a').write_text('new')\n"
        "    (staged / 'b').write_text('new' * 1000)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert "cannot write to" in done.stderr
    assert "File too large" in done.stderr
    assert contents(tmp_path) == {"a": "old", "b": "old"}
    assert {path.name for path in tmp_path.iterdir()} == {"a", "b"}
