"""Where the demo's invented records lie: inside an installed package, or in the checkout."""

from __future__ import annotations

from pathlib import Path


def demo_folder() -> Path:
    """Return the folder with the demo's ``watershed`` records and ``truth.csv``."""
    package = Path(__file__).parent
    installed = package / "demo_files"
    return installed if installed.is_dir() else package.parent.parent / "demo"
