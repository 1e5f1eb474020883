"""Every command that writes, on a disk that is full or that may only be read.

The disk is a small one in memory, which only the administrator of a Linux can mount.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from drawn_fits import drawn_fit, records
from fake_fits import StubSampler

from fishdown.cli import main
from fishdown.errors import FitError
from fishdown.results_log import ResultsLog

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        sys.platform != "linux" or os.geteuid() != 0, reason="mounts a disk of its own"
    ),
]
LARGE = "size=64m"
PAGE = 4096
SHARES = (0.0, 0.3, 0.6, 0.9)
COMMANDS = {
    "new": "new DISK/new",
    "new workbook": "new DISK/new.xlsx",
    "fit": "fit RECORDS --out DISK/out",
    "fit into a new folder": "fit RECORDS --out DISK/a/b",
    "update": "update DISK/out RECORDS --out DISK/later",
    "report": "report DISK/out",
    "workbook": "workbook DISK/out",
    "figures": "figures DISK/out --only biomass --only abundance",
    "ahead": "ahead DISK/out --pulls 2",
    "years": "years DISK/out --years 1",
    "worth": "worth DISK/out",
    "budget": "budget DISK/out --days 2",
    "bycatch": "bycatch RECORDS --out DISK/bycatch",
    "Darwin Core": "bycatch RECORDS --darwin-core DISK/exchange",
}


class Disk:
    """A disk in memory, of which the size can be changed."""

    def __init__(self, place: Path) -> None:
        self.place = place

    def mount(self, options: str) -> None:
        how = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(self.place)]
        subprocess.run(how, check=True, capture_output=True)

    def unmount(self) -> None:
        # What failed in the middle of a file may still hold it open.
        subprocess.run(["umount", "--lazy", str(self.place)], check=True)

    def anew(self) -> None:
        self.unmount()
        self.mount(LARGE)

    def has_room_for(self, size: int) -> None:
        used = shutil.disk_usage(self.place).used
        self.mount(f"remount,rw,size={used + size}")

    def may_only_be_read(self) -> None:
        self.mount("remount,ro")

    def contents(self) -> dict[str, bytes]:
        paths = (path for path in self.place.rglob("*") if path.is_file())
        return {str(path.relative_to(self.place)): path.read_bytes() for path in paths}


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    place = tmp_path / "disk"
    place.mkdir()
    made = Disk(place)
    try:
        made.mount(LARGE)
    except subprocess.CalledProcessError:
        pytest.skip("no disk can be mounted here")
    yield made
    made.unmount()


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = records(tmp_path_factory.mktemp("records") / "r", ["Pond", "Mere"])
    out = tmp_path_factory.mktemp("results") / "out"
    drawn_fit(folder).save(out)
    return folder, out


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command(
    command: str,
    disk: Disk,
    fitted: tuple[Path, Path],
    stub: Callable[..., type[StubSampler]],
    capsys: pytest.CaptureFixture[str],
) -> None:
    stub(0)
    folder, out = fitted
    words = COMMANDS[command].replace("DISK", str(disk.place)).replace("RECORDS", str(folder))

    def anew() -> None:
        disk.anew()
        shutil.copytree(out, disk.place / "out")

    anew()
    before = disk.contents()
    assert main(words.split()) in (0, 3)
    after = disk.contents()
    size = sum(len(content) for name, content in after.items() if content != before.get(name))
    assert size
    failed = 0
    for share in (*SHARES, None):
        anew()
        if share is None:
            disk.may_only_be_read()
        else:
            disk.has_room_for(int(share * size))
        capsys.readouterr()
        code = main(words.split())
        said = capsys.readouterr().err
        if code in (0, 3):
            # The disk has whole pages only.
            assert share is not None
            assert share * size + PAGE > 0.9 * size
            continue
        failed += 1
        assert code in (1, 2)
        assert said.startswith("fishdown: cannot ")
        assert said.count("\n") == 1
        if share is None:
            assert "Read-only file system" in said or "Permission denied" in said
            assert said.endswith("name a folder that can be written to\n")
        else:
            assert "No space left on device" in said
            assert said.endswith("free some space, or name a folder on another disk\n")
        assert disk.contents() == before
        assert {path.name for path in disk.place.iterdir()} == {"out"}
        assert not list(disk.place.rglob(".unfinished*"))
    print(f"{command}: {failed} times no space or no leave, nothing lost")
    assert failed >= 2


def test_a_study_goes_on_when_there_is_space_again(disk: Disk) -> None:
    path = disk.place / "study" / "study.jsonl"
    log = ResultsLog(path, {"study": "study", "seed": 1})
    log.start()
    disk.has_room_for(8192)
    row = {"below": [0.5] * 40}
    numbers = iter(range(1000))
    with pytest.raises(FitError, match=r"No space left on device; free some space, or"):
        all(log.add(number, row) is None for number in numbers)
    disk.has_room_for(1 << 20)
    again = ResultsLog(path, {"study": "study", "seed": 1})
    assert again.rows == log.rows
    assert len(again.rows) > 10
    again.add(999, row)
    assert sorted(ResultsLog(path, {"study": "study", "seed": 1}).rows) == [*log.rows, 999]
