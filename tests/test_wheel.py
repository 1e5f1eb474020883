"""The wheel, installed apart from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from drawn_fits import drawn_fit, records

import fishdown

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the source archive, from that the wheel, and unpack it into a folder of its own."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(folder)]
    subprocess.run([*build, str(ROOT)], check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    target = folder / "target"
    install = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index"]
    quiet = ["--disable-pip-version-check", "--root-user-action=ignore"]
    subprocess.run([*install, *quiet, "--target", str(target), str(wheel)], check=True)
    return target


@pytest.fixture
def run(installed: Path, tmp_path: Path):
    """Run Python in an empty folder, with the installed package before the checkout's."""

    def python(*arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, *arguments],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(installed)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    return python


def names(folder: Path, pattern: str) -> set[str]:
    return {path.name for path in folder.glob(pattern)}


def test_it_is_the_installed_package_that_runs(run, installed: Path) -> None:
    found = run("-c", "import fishdown; print(fishdown.__file__)").strip()
    assert Path(found) == installed / "fishdown" / "__init__.py"


def test_model_files_and_demo_records_travel_inside(installed: Path) -> None:
    package = installed / "fishdown"
    assert names(package / "model_files", "*.toml") == names(ROOT / "models", "*.toml")
    records = package / "demo_files" / "watershed"
    for path in (ROOT / "demo" / "watershed").iterdir():
        assert (records / path.name).read_bytes() == path.read_bytes()
    assert (package / "demo_files" / "truth.csv").is_file()
    assert (package / "py.typed").is_file()
    assert names(package / "report", "page.*") >= {"page.css", "page.html.j2"}
    # Results of a demo run in the checkout stay there.
    assert not list(installed.rglob("posterior.nc"))


def test_nothing_but_the_package_is_installed(installed: Path) -> None:
    tops = {path.name.split("-")[0] for path in installed.iterdir()}
    assert tops - {"bin", "__pycache__"} == {"fishdown"}


def test_every_model_can_be_read(run, installed: Path) -> None:
    code = (
        "from fishdown.models.spec import model_folder, model_names, read_model\n"
        "print(model_folder())\n"
        "for name in model_names(): print(read_model(name).name)"
    )
    folder, *found = run("-c", code).split()
    assert Path(folder) == installed / "fishdown" / "model_files"
    assert {f"{name}.toml" for name in found} == names(ROOT / "models", "*.toml")


def test_demo_records_are_found_and_read(run, installed: Path) -> None:
    code = (
        "import fishdown; from fishdown.demo import demo_folder\n"
        "print(demo_folder()); print(fishdown.read(demo_folder() / 'watershed'))"
    )
    folder, campaign = run("-c", code).splitlines()
    assert Path(folder) == installed / "fishdown" / "demo_files"
    assert "3 lakes, 3 seasons" in campaign


def test_command_line(run) -> None:
    assert "usage: fishdown" in run("-m", "fishdown.cli", "--help")


def test_a_new_campaign_and_a_page(run, tmp_path: Path) -> None:
    """Templates and styles travel inside: a blank campaign, and the page of a saved fit."""
    assert "campaign.toml" in run("-m", "fishdown.cli", "new", str(tmp_path / "new"))
    out = drawn_fit(records(tmp_path / "r"), "one_lake").save(tmp_path / "out")
    assert "no problems found" in run("-m", "fishdown.cli", "check", str(tmp_path / "r"))
    run("-m", "fishdown.cli", "report", str(out))
    page = (out / "report.html").read_text("utf-8")
    assert "<style>" in page
    assert "<svg" in page
    assert "complete" in run("-m", "fishdown.cli", "completion", "bash")


def test_version_and_license(installed: Path) -> None:
    (info,) = installed.glob(f"fishdown-{fishdown.__version__}.dist-info")
    metadata = (info / "METADATA").read_text(encoding="utf-8")
    assert "\nRequires-Python: >=3.12\n" in metadata
    assert "fishdown = fishdown.cli:command_line" in (info / "entry_points.txt").read_text("utf-8")
    assert list(info.rglob("LICENSE"))
